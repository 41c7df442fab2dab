"""A slice of the edit bench: every kind of hazardous edit that the programs have a place for is told rightly, and no harmless rewrite is told.

The whole bench is a command of its own: see `bench.py`.
"""

from __future__ import annotations

import pytest

from tests.edits.accepted import ACCEPTED
from tests.edits.bench import Case, hazards, judge, judge_rewrite, rewrites
from tests.edits.hazards import KINDS
from tests.edits.jobs import GENERATED
from tests.edits.programs import own, real
from tests.edits.rewrites import REWRITES
from tests.edits.rewrites_forms import FORMS

SOME = dict(list(real().items())[::6])
OWN = hazards(own(), 7, 160)
REAL = hazards(SOME, 7, 70)
SAME = rewrites(own(), 7, 70, each=2)
REAL_SAME = rewrites(SOME, 7, 40, each=0)


FINE = ("hit", "no effect", "open")


def name(case: Case) -> str:
    return f"{case.kind}-{case.program}".replace(" ", "_")


def test_every_kind_says_which_findings_tell_it() -> None:
    assert set(ACCEPTED) == set(KINDS)
    assert len(KINDS) >= 40 and len(REWRITES | FORMS | GENERATED) >= 15


def test_our_programs_have_places_for_every_kind() -> None:
    """So that a kind is tried wherever the bench runs: with real programs beside the checkout, and without."""
    assert {case.kind for case in OWN} == set(KINDS)
    assert {case.kind for case in SAME} >= set(FORMS) | set(GENERATED)


@pytest.mark.parametrize("case", OWN, ids=name)
def test_a_hazardous_edit_of_our_programs_is_told_by_the_right_rule(case: Case) -> None:
    answer = judge(case)
    assert answer.result in FINE, (answer.verdict, answer.told)


@pytest.mark.skipif(not REAL, reason="no folder with real programs beside the checkout")
def test_hazardous_edits_of_real_programs_are_told_by_the_right_rule() -> None:
    wrong = [(a.case.kind, a.case.program, a.result, a.told) for a in map(judge, REAL) if a.result not in FINE]
    assert not wrong


@pytest.mark.parametrize("case", SAME, ids=name)
def test_a_harmless_rewrite_of_our_programs_is_the_same_and_nothing_is_told(case: Case) -> None:
    answer = judge_rewrite(case)
    assert (answer.verdict, answer.told) == ("same behaviour", ())


@pytest.mark.skipif(not REAL_SAME, reason="no folder with real programs beside the checkout")
def test_harmless_rewrites_of_real_programs_are_the_same() -> None:
    wrong = [(a.case.kind, a.case.program, a.told) for a in map(judge_rewrite, REAL_SAME) if a.result != "same"]
    assert not wrong
