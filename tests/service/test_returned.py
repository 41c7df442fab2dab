"""The page of a read-back that differs while another revision waits: who changed what, conflicts first, and what cannot be told."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from page_walk import BASE, act, newest, released, submit
from service_shop import Site

from verifier import records
from verifier.records import RevisionFacts

OFFICE = BASE.replace("F0.25", "F0.3").replace("S160", "S170")
CONTROL = BASE.replace("F0.25", "F0.2").replace("Z-31.", "Z-30.5")


def sent(site: Site, revision: RevisionFacts, content: bytes) -> int:
    answer = site.client("otto").post(
        "/at/L1/O42/readback", {"revision": revision.id, "sent": (BytesIO(content), "sent.nc")}
    )
    assert answer.status_code == 303, answer.text
    return records.readbacks_at(site.shop, "O42", "L1")[-1].id


@pytest.fixture
def both(site: Site) -> tuple[RevisionFacts, int]:
    """A waiting revision of the office, and the number of a read-back that differs from the release."""
    first = released(site)
    submit(site.client("pia"), OFFICE)
    return newest(site), sent(site, first, CONTROL.encode())


def who(text: str) -> str:
    """The page from who changed what to what was sent."""
    assert 'id="who"' in text
    return re.sub(r"\s+", " ", text.split('id="who"')[1].split("What the control sent")[0])


def test_the_page_of_a_readback_tells_who_changed_what_with_what_both_changed_first(
    site: Site, both: tuple[RevisionFacts, int]
) -> None:
    _, back = both
    for login in ("leo", "pia", "otto"):
        told = who(site.client(login).get(f"/readbacks/{back}").text)
        assert "A release of revision 2 takes away 2 places as changed at the machine." in told
        heads = re.findall(r"<h3>(.*?)</h3>", told)
        assert heads == [
            "Both changed it, each otherwise: one of the two is lost (1)",
            "Changed at the machine and not in the edit: a release of the edit takes it away (1)",
            "Changed in the edit alone (1)",
            heads[3],
            "What was compared",
        ]
        assert heads[3].startswith("Not checked (")
        for words in ("F0.25", "F0.3", "F0.2<", "Z-30.5", "S170"):
            assert words in told
        assert "for information" in told and "This is an aid" in site.client(login).get(f"/readbacks/{back}").text


def test_the_waiting_revision_warns_and_leads_there(site: Site, both: tuple[RevisionFacts, int]) -> None:
    waits, back = both
    shown = site.client("leo").get(f"/revisions/{waits.id}").text
    assert "L1 sent back something else than revision 1" in shown and "(1 difference)" in shown
    (way,) = re.findall(r'href="(/readbacks/[^"#]*)#who"', shown)
    assert way == f"/readbacks/{back}?beside={waits.id}"
    assert "each otherwise" in site.client("leo").get(way).text
    at = site.client("otto").get("/at/L1/O42").text
    assert "Revision 2 of O42 waits in the office" in at and f'href="/readbacks/{back}#who"' in at
    assert "sent back something else" not in site.client("leo").get(f"/revisions/{waits.id - 1}").text


def test_once_the_release_came_back_or_nothing_waits_nothing_is_told(
    site: Site, both: tuple[RevisionFacts, int]
) -> None:
    waits, back = both
    equal = sent(site, records.find_revision(site.shop, "O42", "L1", 1), BASE.encode())
    leo = site.client("leo")
    assert 'id="who"' not in leo.get(f"/readbacks/{equal}").text
    assert "sent back something else" not in leo.get(f"/revisions/{waits.id}").text
    assert 'id="who"' in leo.get(f"/readbacks/{back}").text, "an earlier read-back is still told"
    assert act(site.client("pia"), f"/revisions/{waits.id}/withdraw").status_code == 303
    assert 'id="who"' not in leo.get(f"/readbacks/{back}").text
    assert "does not wait beside this read-back" in leo.get(f"/readbacks/{back}?beside={waits.id}").text


def test_what_came_back_and_is_no_program_is_said_so(site: Site, both: tuple[RevisionFacts, int]) -> None:
    first = records.find_revision(site.shop, "O42", "L1", 1)
    for junk in (b"\x7fELF" + bytes(60), b"%\n%\n", BASE.encode("utf-16")):
        answer = site.client("leo").get(f"/readbacks/{sent(site, first, junk)}")
        assert answer.status_code == 200
        assert "What came back is no program: who changed what cannot be told." in who(answer.text)


def test_what_is_a_program_without_any_block_of_the_release_is_told(
    site: Site, both: tuple[RevisionFacts, int]
) -> None:
    first = records.find_revision(site.shop, "O42", "L1", 1)
    told = who(site.client("leo").get(f"/readbacks/{sent(site, first, b'this is a note')}").text)
    assert "A release of revision 2 takes away" in told or "cannot be told" in told


@pytest.mark.parametrize("beside", ["x", "-1", "0", "999999", "1 OR 1=1", "9" * 40])
def test_an_address_that_names_no_waiting_revision_is_answered_with_the_page(
    site: Site, both: tuple[RevisionFacts, int], beside: str
) -> None:
    answer = site.client("leo").get(f"/readbacks/{both[1]}?beside={beside}")
    assert answer.status_code == 200 and "does not wait beside this read-back" in answer.text


def test_a_long_comparison_is_made_only_when_it_is_asked_for(
    site: Site, both: tuple[RevisionFacts, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    waits, back = both
    monkeypatch.setattr("verifier.service.readbacks._AT_ONCE", 10)
    told = who(site.client("leo").get(f"/readbacks/{back}").text)
    assert "takes away" not in told and f"/readbacks/{back}?beside={waits.id}#who" in told
    assert "takes away" in who(site.client("leo").get(f"/readbacks/{back}?beside={waits.id}").text)


def test_a_setup_sheet_that_no_longer_fits_is_told_and_the_readback_is_still_shown(
    site: Site, both: tuple[RevisionFacts, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    from verifier.source import MachineError

    def unfit(*_: object) -> None:
        raise MachineError(["stock.length: longer than the travel"])

    monkeypatch.setattr("verifier.desk.desk.Desk.who_changed_what", unfit)
    answer = site.client("leo").get(f"/readbacks/{both[1]}")
    assert answer.status_code == 200 and "Who changed what cannot be told" in answer.text
    assert "longer than the travel" in answer.text and "What the control sent" in answer.text
