"""The names by which new critical findings are ticked: all of them, each its own, the same for a stored report."""

from __future__ import annotations

import json
from pathlib import Path

from verifier.report import review, to_be_seen, to_json

PARTS = Path(__file__).parents[2] / "fixtures" / "shop" / "programs" / "drive-shaft"
BASE, LOST = (PARTS / "base.nc").read_bytes(), (PARTS / "decimal-point-lost.nc").read_bytes()


def finding(**changes: object) -> dict[str, object]:
    made = {"rule": "r", "weight": "critical", "status": "new", "title": "t", "causes": [{"line": 3}]}
    return {**made, **changes}


def test_only_new_and_changed_critical_findings_are_asked_for() -> None:
    asked = to_be_seen({"findings": [finding(), finding(status="change")]})
    assert [one.rule for one in asked] == ["r", "r"] and asked[0].name != asked[1].name
    for other in ({"weight": "major"}, {"status": "still there"}, {"status": "gone"}):
        assert to_be_seen({"findings": [finding(**other)]}) == ()
    assert to_be_seen({"findings": []}) == to_be_seen({}) == ()


def test_two_findings_never_share_a_name() -> None:
    asked = to_be_seen({"findings": [finding(), finding(), finding(title="u"), finding()]})
    names = [one.name for one in asked]
    assert len(set(names)) == 4 and names[1] == names[0] + "-2" and names[3] == names[0] + "-3"


def test_a_name_follows_from_the_whole_finding() -> None:
    name = to_be_seen({"findings": [finding()]})[0].name
    for other in ({"title": "u"}, {"causes": [{"line": 4}]}, {"rule": "s"}, {"before": "1"}, {"causes": []}):
        assert to_be_seen({"findings": [finding(**other)]})[0].name != name


def test_a_stored_report_gives_the_names_of_the_one_just_computed() -> None:
    report = to_json(review(BASE, LOST))
    stored = json.loads(json.dumps(report, ensure_ascii=False, sort_keys=True))
    assert to_be_seen(stored) == to_be_seen(report) != ()
    assert to_be_seen(to_json(review(BASE, BASE))) == ()
