"""Accepted hazards in a report: one line of count in words, whole in every other form, and nothing else of the report changes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.findings.test_standing import BASE
from tests.report import contract
from tests.report.test_sarif import valid
from verifier.findings import Finding, Status
from verifier.report import Acceptance, ChangeReport, examine, review, to_html, to_json, to_text

LONGER = (Path(__file__).parents[2] / "fixtures/pairs/feed-mode-exchanged-at-the-head/old.nc").read_text("ascii")
EDIT = BASE.replace("X40. F0.1", "X38. F0.3")
"""An edit in N2, far from the hazard that N1 has no speed clamp."""
WHY = "bar of 20 mm at most, held in a collet"


def accepted_in(report: ChangeReport) -> list[Acceptance]:
    """An acceptance of every hazard that may be accepted."""
    keys = dict.fromkeys(row.key for row in report.standing if row.key is not None)
    return [Acceptance(n, key, "Ina Field", "2026-03-01T07:15:00Z", WHY) for n, key in enumerate(keys, 1)]


def both(old: str, new: str) -> tuple[ChangeReport, ChangeReport]:
    """The report without acceptances, and with all that a lead could have given on the base."""
    given = accepted_in(review(old.encode(), old.encode()))
    return review(old.encode(), new.encode()), review(old.encode(), new.encode(), accepted=given)


def folded(report: ChangeReport) -> list[Finding]:
    return [finding for finding, _ in report.accepted]


def test_the_text_counts_them_in_one_line_and_shows_each_when_asked() -> None:
    plain, with_them = both(BASE, EDIT)
    clamp = next(f for f in plain.findings if f.rule == "speed-clamp-missing")
    assert clamp in folded(with_them) and clamp.title in to_text(plain)
    text = to_text(with_them)
    count = len(folded(with_them))
    assert clamp.title not in text
    assert text.count("accepted earlier") == 1
    assert re.search(rf"^{count} standing hazards? accepted earlier \(shown with --all\)$", text, re.M)
    whole = re.sub(r"\s+", " ", to_text(with_them, everything=True))
    assert clamp.title in whole and f"by Ina Field, 2026-03-01 07:15 UTC: {WHY}" in whole


def test_the_page_has_one_line_and_a_closing_section_that_holds_them_whole() -> None:
    _, report = both(BASE, EDIT)
    page = to_html(report)
    head, _, closing = page.partition('id="accepted"')
    clamp = next(f for f in folded(report) if f.rule == "speed-clamp-missing")
    assert "standing hazard" in head and '<a href="#accepted">' in head and clamp.title not in head
    assert clamp.title in closing and WHY in closing and "Ina Field" in closing
    assert 'id="accepted"' not in to_html(both(BASE, EDIT)[0])


def test_the_json_has_each_of_them_whole_with_who_when_and_why() -> None:
    _, report = both(BASE, EDIT)
    body = json.loads(json.dumps(to_json(report)))
    contract.COMPARED(body, "report")
    rows = [row for row in body["standing"] if row["accepted"]]
    assert len(rows) == len(folded(report)) > 0
    for row in rows:
        assert body["findings"][row["finding"]]["status"] == "still there" and row["words"] and row["told"] == ""
        assert row["accepted"]["by"] == "Ina Field" and row["accepted"]["reason"] == WHY


def test_the_log_for_other_tools_says_that_they_are_accepted_and_why() -> None:
    """SARIF 2.1.0, 3.27.23 and 3.35 (from memory): kind, status, justification."""
    _, report = both(BASE, EDIT)
    results = [one for one in valid(report)["results"] if "suppressions" in one]
    assert len(results) == len(folded(report))
    for one in results:
        assert one["baselineState"] == "unchanged"
        (by,) = one["suppressions"]
        assert (by["kind"], by["status"]) == ("external", "accepted") and by["justification"].endswith(WHY)


def test_an_acceptance_changes_nothing_but_how_a_hazard_is_told_and_the_digest() -> None:
    plain, with_them = both(BASE, EDIT)
    assert plain.digest != with_them.digest
    bodies = [{k: v for k, v in to_json(one).items() if k not in ("standing", "digest")} for one in (plain, with_them)]
    assert bodies[0] == bodies[1]
    assert plain.sign_off.required and plain.verdict == "changed behaviour"


def test_the_digest_is_another_one_for_another_acceptance() -> None:
    (one, *_) = accepted_in(review(BASE.encode(), BASE.encode()))
    words = [one, Acceptance(9, one.key, one.by, one.at, one.reason), Acceptance(1, one.key, one.by, one.at, "other")]
    digests = {review(BASE.encode(), EDIT.encode(), accepted=[each]).digest for each in words}
    assert len(digests) == 3
    strange = Acceptance(4, "0" * 64, one.by, one.at, one.reason)
    assert review(BASE.encode(), EDIT.encode(), accepted=[strange]).digest == both(BASE, EDIT)[0].digest


def test_a_new_hazard_is_never_folded_even_under_the_key_of_one_that_stands() -> None:
    """What a lead accepted on the program that has the hazard does not hide it where an edit brings it."""
    without = BASE.replace("G96 S180 M03", "G50 S2000\nG96 S180 M03")
    given = accepted_in(review(BASE.encode(), BASE.encode()))
    report = review(without.encode(), BASE.encode(), accepted=given)
    assert all(f.status is Status.STANDING for f in folded(report))
    assert "speed-clamp-removed" in report.sign_off.reasons
    assert not any("clamp" in f.rule for f in folded(report))


@pytest.mark.parametrize(("base", "every"), [(BASE, 1), (LONGER, 3)])
def test_no_edit_of_any_word_lets_a_hazard_at_that_line_be_folded(base: str, every: int) -> None:
    """The last number of a line, one line after the other: what is folded neither stands nor shows at the edited line."""
    given = accepted_in(review(base.encode(), base.encode()))
    lines, seen = base.splitlines(), 0
    for number, line in list(enumerate(lines, 1))[1::every]:
        *_, found = (None, *re.finditer(r"([FXZSMT])(-?[0-9]+\.?[0-9]*)", line))
        if found is None:
            continue
        changed = line[: found.start()] + found[1] + ("7" if found[1] in "SMT" else "7.77") + line[found.end() :]
        edited = "\n".join((*lines[: number - 1], changed, *lines[number:]))
        for finding in folded(review(base.encode(), edited.encode(), accepted=given)):
            seen += 1
            assert number not in {p.line for p in (*finding.causes, *finding.effects)}, (changed, finding.title)
    assert given and seen >= 10


def test_where_the_verdict_is_undetermined_everything_is_told() -> None:
    old, new = (BASE.replace("N2 ", f"G00 X[#{k}]\nN2 ") for k in (500, 501))
    given = accepted_in(review(old.encode(), old.encode()))
    report = review(old.encode(), new.encode(), accepted=given)
    assert report.verdict == "undetermined"
    assert given and folded(report) == [] and all(row.told for row in report.standing)


def test_a_report_on_one_program_has_nothing_that_stood_before() -> None:
    assert examine(BASE.encode()).standing == () and "accepted earlier" not in to_text(examine(BASE.encode()))
