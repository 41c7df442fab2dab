"""Every fault that execution can meet is spoken of by exactly one rule, and no rule waits for a fault that does not exist."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import verifier.control
from verifier.findings import all_rules
from verifier.findings.faults import FaultRule

CONTROL = Path(verifier.control.__file__).parent
MAKERS = {"fault": 0, "CycleFault": 0, "CycleRefused": 0, "CornerRefused": 0, "Fault": 0}
"""Calls that make a fault -> which argument is its code."""


def codes_made() -> Iterator[tuple[str, str]]:
    """Every code written in a call that makes a fault, with where it stands."""
    for path in sorted(CONTROL.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name not in MAKERS or not node.args:
                continue
            code = node.args[MAKERS[name]]
            where = f"{path.name}:{node.lineno}"
            if isinstance(code, ast.Constant) and isinstance(code.value, str):
                yield code.value, where
            elif not isinstance(code, ast.Attribute | ast.Name):
                raise AssertionError(f"{where}: the code of a fault is computed, so it cannot be looked for")


MADE = dict(codes_made())
CLAIMED = Counter(code for rule in all_rules() if isinstance(rule, FaultRule) for code in rule.codes)


def test_the_source_was_read() -> None:
    assert {"unknown-code", "contour-label-missing", "lead-not-positive", "cycle-amount-missing"} <= MADE.keys()


@pytest.mark.parametrize("code", sorted(code for code in MADE if code))
def test_a_fault_code_is_claimed_by_exactly_one_rule(code: str) -> None:
    assert CLAIMED[code] == 1, f"{code} ({MADE[code]}) is claimed by {CLAIMED[code]} rules"


def test_no_rule_claims_a_code_that_nothing_makes() -> None:
    assert sorted(CLAIMED.keys() - MADE.keys()) == []
