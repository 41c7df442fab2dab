"""Every problem that reading can name is spoken of by exactly one rule; what refuses a file is no finding."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import verifier.source
import verifier.syntax
from verifier.findings import all_rules

FOLDERS = tuple(Path(str(module.__file__)).parent for module in (verifier.source, verifier.syntax))
REFUSING = ("refusal.py", "readable.py")
"""Their problems refuse the file: nothing is stored, and there is nothing to judge."""
MAKERS = ("Problem", "Told", "_problem")


def codes_made() -> Iterator[tuple[str, str]]:
    """Every code written in a call that makes a problem, with where it stands."""
    for path in (path for folder in FOLDERS for path in sorted(folder.rglob("*.py")) if path.name not in REFUSING):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MAKERS and node.args:
                code = node.args[0]
                if isinstance(code, ast.Constant) and isinstance(code.value, str):
                    yield code.value, f"{path.name}:{node.lineno}"


MADE = dict(codes_made())
CLAIMED = Counter(code for rule in all_rules() for code in getattr(rule, "problem_codes", ()))


def test_the_source_was_read() -> None:
    assert {"two-points", "byte-order-mark", "text-after-end", "mixed-line-ends", "look-alike-character"} <= MADE.keys()


@pytest.mark.parametrize("code", sorted(MADE))
def test_a_problem_code_is_claimed_by_exactly_one_rule(code: str) -> None:
    assert CLAIMED[code] == 1, f"{code} ({MADE[code]}) is claimed by {CLAIMED[code]} rules"


def test_no_rule_claims_a_code_that_nothing_makes() -> None:
    assert sorted(CLAIMED.keys() - MADE.keys()) == []
