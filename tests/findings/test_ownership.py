"""Every effect of a change is told by exactly one finding, whatever was edited."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings

from tests.findings.changes import PARTS, compared, edits, part
from verifier.findings import default_policy, judge, rule
from verifier.findings.claims import CLAIMS
from verifier.findings.registry import change_rules

SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@SLOW
@given(edits())
def test_every_effect_is_covered_by_exactly_one_finding_and_no_rule_breaks(edit: tuple[str, str, str]) -> None:
    name, old, new = edit
    _, machine, setup = part(name)
    comparison = compared(old, new, machine, setup)
    findings = judge(comparison, default_policy(), program=[]).findings
    assert [f.title for f in findings if f.rule == "rule-failed"] == []
    covered = Counter(k for f in findings for k in f.covers)
    assert covered == Counter(range(len(comparison.effects))), [
        (comparison.effects[k].field, covered[k]) for k in range(len(comparison.effects)) if covered[k] != 1
    ]
    assert all(f.title for f in findings)


@SLOW
@given(edits())
def test_findings_name_the_edits_behind_all_they_cover(edit: tuple[str, str, str]) -> None:
    name, old, new = edit
    _, machine, setup = part(name)
    comparison = compared(old, new, machine, setup)
    for found in judge(comparison, default_policy(), program=[]).findings:
        behind = {cause for k in found.covers for cause in comparison.effects[k].causes if cause >= 0}
        assert behind <= set(found.edits), found.title


@SLOW
@given(edits())
def test_exchanging_the_programs_gives_the_mirror_of_each_rule(edit: tuple[str, str, str]) -> None:
    name, old, new = edit
    _, machine, setup = part(name)
    mirror = {r.id: r.mirror for r in change_rules()}
    forth = judge(compared(old, new, machine, setup), default_policy(), program=[]).findings
    back = judge(compared(new, old, machine, setup), default_policy(), program=[]).findings
    assert {mirror[f.rule] for f in forth} == {f.rule for f in back}, (
        [f.title for f in forth],
        [f.title for f in back],
    )


@pytest.mark.parametrize("name", sorted(PARTS))
def test_nothing_is_said_of_a_program_compared_with_itself(name: str) -> None:
    text, machine, setup = part(name)
    assert judge(compared(text, text, machine, setup), default_policy(), program=[]).findings == ()


def test_every_claim_is_of_a_rule_that_exists() -> None:
    assert [claim.rule for claim in CLAIMS if claim.rule and rule(claim.rule) is None] == []


def test_every_mirror_is_a_rule_that_names_it_back() -> None:
    for found in change_rules():
        other = rule(found.mirror)
        assert other is not None and getattr(other, "mirror", None) == found.id, found.id
