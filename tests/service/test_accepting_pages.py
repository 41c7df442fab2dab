"""A standing hazard accepted by the pages: by a lead, once, on the report that was looked at; then it is one line until it is withdrawn."""

from __future__ import annotations

import re

import pytest
from page_walk import act, decide, newest, submit
from service_shop import Site
from standing_walk import EDITED, FURTHER, RULE, TWO, WHY, accept, key_of, waiting

from verifier import records

FORM = "Accept it as it stands"
COUNT = re.compile(r"[0-9]+ standing hazards? accepted earlier")


def sent(site: Site, text: str) -> str:
    """The page of a revision that is submitted now."""
    assert submit(site.client("pia"), text).status_code == 303
    return str(site.client("leo").get(f"/revisions/{newest(site).id}").text)


def test_a_lead_accepts_it_and_the_next_report_counts_it_in_one_line(site: Site) -> None:
    found = waiting(site)
    leo = site.client("leo")
    assert FORM in leo.get(f"/revisions/{found.id}").text
    assert FORM not in site.client("pia").get(f"/revisions/{found.id}").text, "a programmer accepts nothing"
    before = records.reports(site.shop, found.id)
    assert accept(leo, found, key_of(site, found)).status_code == 303
    page = leo.get(f"/revisions/{found.id}").text
    assert "The next report counts it in one line" in page and not COUNT.search(page)
    assert records.reports(site.shop, found.id) == before, "the report that was looked at stays as it is"
    page = sent(site, FURTHER)
    assert COUNT.search(page) and WHY in page and f"/programs/L1/{found.program}" in page
    report = records.reports(site.shop, newest(site).id)[0]
    assert report.accepted == (1,)


def test_as_soon_as_its_words_are_others_it_is_told_in_full(site: Site) -> None:
    found = waiting(site)
    accept(site.client("leo"), found, key_of(site, found))
    for other in (FURTHER.replace("S180", "S190"), FURTHER.replace("G01 X50. F0.2", "G01 X50. F0.3")):
        page = sent(site, other)
        assert not COUNT.search(page) and RULE in page


def test_withdrawn_it_is_told_in_full_and_reports_that_rest_on_it_are_out_of_date(site: Site) -> None:
    found, leo = waiting(site), site.client("leo")
    accept(leo, found, key_of(site, found))
    sent(site, FURTHER)
    late = newest(site)
    program = f"/programs/L1/{found.program}"
    assert WHY in leo.get(program).text and "Withdraw acceptance 1" in leo.get(program).text
    assert "Withdraw acceptance 1" not in site.client("pia").get(program).text
    assert act(site.client("pia"), f"{program}/acceptances/1/withdraw").status_code == 403
    assert act(leo, f"{program}/acceptances/1/withdraw", pin="000000").status_code == 403
    assert act(leo, f"{program}/acceptances/2/withdraw").status_code == 404
    assert act(leo, f"{program}/acceptances/1/withdraw", reason=" ").status_code == 422
    assert act(leo, f"{program}/acceptances/1/withdraw", reason="longer bar now").status_code == 303
    assert "longer bar now" in leo.get(program).text
    assert act(leo, f"{program}/acceptances/1/withdraw").status_code == 409
    if late.state == "held":
        assert "accepted hazards" in leo.get(f"/revisions/{late.id}").text, "it says what put it out of date"
        assert decide(leo, late.id).status_code == 409
        assert act(leo, f"/revisions/{late.id}/check-again").status_code == 303
        assert not COUNT.search(leo.get(f"/revisions/{late.id}").text)
        assert decide(leo, late.id).status_code == 303
    assert records.verify_ledger(site.shop.folder).ok


@pytest.mark.parametrize(
    ("what", "status"),
    [
        ({"pin": "000000"}, 403),
        ({"reason": " "}, 422),
        ({"seen": "0" * 64}, 409),
        ({"hazard": "0" * 64}, 404),
        ({"hazard": ""}, 404),
    ],
)
def test_a_refusal_says_why_and_keeps_what_was_typed(what: dict[str, str], status: int, site: Site) -> None:
    found = waiting(site)
    answer = accept(site.client("leo"), found, key_of(site, found), **what)
    assert answer.status_code == status and 'role="alert"' in answer.text
    if "reason" not in what and "hazard" not in what:
        assert f'value="{WHY}"' in answer.text
    assert records.acceptances(site.shop, found.program, "L1") == ()


def test_nobody_else_accepts_and_nothing_is_accepted_twice(site: Site) -> None:
    found = waiting(site)
    key = key_of(site, found)
    for login in ("pia", "otto", "ada"):
        assert accept(site.client(login), found, key).status_code == 403
    assert accept(site.client("leo"), found, key).status_code == 303
    assert accept(site.client("leo"), found, key).status_code == 409
    assert [one.by for one in records.acceptances(site.shop, found.program, "L1")] == [
        records.find_person(site.shop, "leo").full_name
    ]


def test_a_hazard_of_the_edit_itself_cannot_be_accepted(site: Site) -> None:
    """A new one, and one in the sequence that the edit is in: the page offers no form, and the act is refused."""
    waiting(site)
    page = sent(site, TWO.replace("S180", "S175"))
    part = page.split("Hazards that stood before", 1)[-1].split("</ul>", 1)[0]
    assert RULE in part and "Not to be accepted here: an edit of this revision touches it" in part and FORM not in part
    assert EDITED not in page
