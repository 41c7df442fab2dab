"""A first submission leads to a comparison with the nearest program: marked as no report that is signed, and nothing can be signed on it."""

from __future__ import annotations

import re

import pytest
from api_site import API, Caller, answer_faults
from page_walk import BASE, SMALLER, decide, newest, released, submit
from service_shop import Site

from verifier import records
from verifier.service.openapi import document

OTHER = BASE.replace("O0042", "O0077").replace("X48.", "X46.").replace("(BUSHING)", "(LONG BUSHING)")
STRANGE = "%\nO0078\nN1 G54\nT0303\nG97 S400 M04\nG00 X20. Z5.\nG74 R1.\nG74 Z-30. Q5000 F0.1\nG00 Z5.\nM30\n%\n"


@pytest.fixture
def first(site: Site) -> records.RevisionFacts:
    """A first submission beside a released program that is like it."""
    released(site)
    submit(site.client("pia"), OTHER, "O77")
    return newest(site, "O77")


def way(text: str) -> str:
    found = re.search(r'href="(/revisions/\d+/compared/\d+)"', text)
    assert found, "the page leads to the comparison"
    return found.group(1)


def test_the_page_of_a_first_submission_leads_to_the_comparison(site: Site, first: records.RevisionFacts) -> None:
    base = newest(site)
    for login in ("pia", "leo", "otto"):
        browser = site.client(login)
        shown = browser.get(f"/revisions/{first.id}").text
        assert re.search(r"8\d % of its blocks are those of O42 revision 1 for L1", shown)
        assert way(shown) == f"/revisions/{first.id}/compared/{base.id}"
        answer = browser.get(way(shown))
        assert answer.status_code == 200
        assert "A comparison for information, not the report that is signed." in answer.text
        assert "X48." in answer.text and "X46." in answer.text and "This is an aid" in answer.text
        assert "A lead must sign" not in answer.text and 'name="pin"' not in answer.text
        assert "Sign the decision" not in answer.text


def test_its_picture_and_blocks_are_those_of_the_comparison(site: Site, first: records.RevisionFacts) -> None:
    leo = site.client("leo")
    page = way(leo.get(f"/revisions/{first.id}").text)
    shown = leo.get(page).text
    assert f'src="{page}/picture.svg"' in shown and f'href="{page}/blocks"' in shown
    picture = leo.get(f"{page}/picture.svg")
    assert picture.mimetype == "image/svg+xml" and "<svg" in picture.text and "cannot be drawn" not in picture.text
    blocks = leo.get(f"{page}/blocks").text
    assert "Compared with O42 revision 1" in blocks and f'href="{page}"' in blocks


def test_nothing_is_written_and_its_digest_signs_nothing(site: Site, first: records.RevisionFacts) -> None:
    leo, size = site.client("leo"), records.checkpoint(site.shop).size
    shown = leo.get(way(leo.get(f"/revisions/{first.id}").text)).text
    digest = re.search(r"Comparison <code>([0-9a-f]{64})</code>", shown)
    assert digest and digest.group(1) != first.report_digest
    answer = decide(leo, first.id, seen=digest.group(1))
    assert answer.status_code == 409 and "is not the present one" in answer.text
    assert records.checkpoint(site.shop).size == size and newest(site, "O77").state == "held"


def test_a_revision_with_a_base_or_without_a_like_program_is_led_nowhere(site: Site) -> None:
    released(site)
    pia = site.client("pia")
    submit(pia, SMALLER)
    submit(pia, STRANGE, "O78")
    for one in (newest(site), newest(site, "O78")):
        assert "of its blocks are those of" not in pia.get(f"/revisions/{one.id}").text
    answer = pia.get(f"/revisions/{newest(site, 'O78').id}/nearest")
    assert answer.status_code == 303
    assert "No other program of the library has as much as 30 %" in pia.get(answer.location).text


def test_a_long_program_is_looked_for_only_when_asked(
    site: Site, first: records.RevisionFacts, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("verifier.service.decide._SOON", 10)
    leo = site.client("leo")
    shown = leo.get(f"/revisions/{first.id}").text
    assert "of its blocks are those of" not in shown and f'href="/revisions/{first.id}/nearest"' in shown
    assert leo.get(f"/revisions/{first.id}/nearest").location.endswith(f"/compared/{newest(site).id}")


@pytest.mark.parametrize("other", [0, 999_999])
def test_a_comparison_with_nothing_is_not_found(site: Site, first: records.RevisionFacts, other: int) -> None:
    for more in ("", "/blocks", "/picture.svg"):
        assert site.client("leo").get(f"/revisions/{first.id}/compared/{other}{more}").status_code == 404


def test_a_program_gets_it_over_the_api(site: Site, first: records.RevisionFacts) -> None:
    leo = Caller(site, "leo", "read")
    path = "/programs/{target}/{program}/revisions/{n}/nearest"
    answer = leo.get(API + "/programs/L1/O77/revisions/1/nearest")
    assert answer.status_code == 200 and answer_faults(answer, "get", path, document()) == []
    found = answer.get_json(force=True)
    assert (found["near"]["program"], found["near"]["n"]) == ("O42", 1)
    assert found["report"]["verdict"] == "changed behaviour" and "X46." in found["text"]["everything"]
    assert found["report"]["digest"] != first.report_digest
    submit(site.client("pia"), STRANGE, "O78")
    none = leo.get(API + "/programs/L1/O78/revisions/1/nearest")
    assert answer_faults(none, "get", path, document()) == []
    assert none.get_json(force=True) == {"near": None, "text": None, "report": None}
