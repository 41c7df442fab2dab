"""A hazard is the same hazard however its words are spelled."""

from __future__ import annotations

import pytest

from tests.findings.changes import compared
from verifier.findings import Rule, Status, all_rules, default_policy, judge
from verifier.findings.rule import ProgramRule

RULES = [rule for rule in all_rules() if isinstance(rule, ProgramRule)]


def statuses(old: str, new: str, rule: Rule) -> set[Status]:
    machine = next((e.machine for e in rule.examples if e.machine is not None), None)
    setup = next((e.setup for e in rule.examples if e.setup is not None), None)
    found = judge(compared(old, new, machine, setup), default_policy(), change=[]).findings
    return {f.status for f in found}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_lower_case_leaves_every_hazard_standing(rule: Rule) -> None:
    for example in rule.examples:
        if "(" not in example.new and ";" not in example.new:
            assert statuses(example.new, example.new.lower(), rule) <= {Status.STANDING}, example.title
