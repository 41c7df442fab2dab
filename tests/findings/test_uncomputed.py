"""Cycles that cannot be executed are told by their words, and no edit of a cycle hides another one of it."""

from __future__ import annotations

from itertools import combinations

import pytest

from tests.findings.changes import compared, findings
from verifier.findings import default_policy, judge
from verifier.findings.examples import turning

ROUGH = "G71 U2. R0.5\nG71 P100 Q110 U0.5 W0.1 F0.2\nN100 G00 X40.\nG01 Z-20.\nX50. Z-25.\nN110 X62.\nG70 P100 Q110"
DRILL = "G97 S800\nG00 X0 Z3.\nG83 Z-20. Q-3000 F0.1\nG80\nG00 X62."
NOT_COMPUTED = "; what the control makes of it could not be computed "


def titles(old: str, new: str) -> list[tuple[str, str]]:
    return [(f.rule, f.title) for f in findings(old, new)]


@pytest.mark.parametrize(
    ("broken", "old", "new", "words"),
    [
        (("N110 X62.", "X62."), "U0.5", "U0.8", "U from 0.5 to 0.8"),
        (("N110 X62.", "X62."), "U2. ", "U3. ", "U from 2. to 3."),
        (("N110 X62.", "X62."), " W0.1", "", "W0.1 gone"),
        (("N110 X62.", "X62."), "U0.5", "U0.5 R0.1", "R0.1 added"),
        (("U2. R0.5", "U-2. R0.5"), "W0.1", "W0.25", "W from 0.1 to 0.25"),
        (("U2. R0.5", "U-2. R0.5"), "U-2. ", "U-3. ", "U from -2. to -3."),
        (("W0.1", "W0..1"), "U0.5", "U0.8", "U from 0.5 to 0.8"),
        (("W0.1", "W#500"), "U0.5", "U0.8", "U from 0.5 to 0.8"),
    ],
)
def test_an_amount_of_a_cycle_that_cannot_be_executed_is_told_as_it_is_written(
    broken: tuple[str, str], old: str, new: str, words: str
) -> None:
    base = turning(ROUGH.replace(*broken))
    ((rule, title),) = titles(base, base.replace(old, new))
    assert rule == "cycle-amount-changed"
    assert title.startswith(f"Cycle amount changed in N1: G71 {words}{NOT_COMPUTED}(")


def test_each_word_of_a_drilling_cycle_is_told_so_too() -> None:
    base = turning(DRILL)
    for old, new in (("Q-3000", "Q-5000"), ("Z-20.", "Z-25.")):
        ((rule, title),) = titles(base, base.replace(old, new))
        assert rule == "cycle-amount-changed" and title.startswith(
            f"Cycle amount changed in N1: G83 {old[0]} from {old[1:]} to {new[1:]}{NOT_COMPUTED}"
        )


NOW, BEFORE = (
    "; what the control makes of it now cannot be computed (",
    "; what the control made of it before could not be computed (",
)


@pytest.mark.parametrize(
    ("old", "new", "rule", "words"),
    [
        ("U2. R0.5", "U0 R0.5", "cycle-amount-changed", "Cycle amount changed in N1: G71 U from 2. to 0"),
        ("U2. R0.5", "U-2. R0.5", "sign-lost", "Minus sign gained: U2. is now U-2."),
        ("P100 Q110 U", "P100 Q111 U", "cycle-amount-changed", "Cycle amount changed in N1: G71 Q from 110 to 111"),
        ("P100 Q110 U", "P101 Q110 U", "cycle-amount-changed", "Cycle amount changed in N1: G71 P from 100 to 101"),
        ("G70 P100 Q110", "G70 P100 Q111", "cycle-amount-changed", "Cycle amount changed in N1: G70 Q from 110 to 111"),
    ],
)
def test_a_word_that_makes_a_cycle_impossible_is_one_story(old: str, new: str, rule: str, words: str) -> None:
    """The cuts that nothing stands against, and the contour's blocks that run as they are written, are told with the word, both ways round."""
    base = turning(ROUGH)
    changed = base.replace(old, new, 1)
    ((told, title),) = titles(base, changed)
    assert told == rule and title.startswith(words + NOW)
    ((told, title),) = titles(changed, base)
    assert told == rule and BEFORE in title


def test_the_contour_of_a_cycle_that_is_impossible_now_is_run_as_written_and_said_so() -> None:
    base = turning(ROUGH)
    ((_, title),) = titles(base, base.replace("P100 Q110 U", "P100 Q111 U"))
    assert title.endswith("; here its contour is run as written: 4 moves")
    ((_, title),) = titles(base, base.replace("G70 P100 Q110", "G70 P100 Q111"))
    assert "as written" not in title  # the moves that are gone are those of the finish


def test_a_lead_that_leaves_no_room_for_its_thread_is_told_by_the_word() -> None:
    """The pull-out, a lead long, would begin before the thread does: nobody knows here what the control does then."""
    thread = "G97 S800\nG00 X22. Z4.\nG76 P011060 Q50 R0.02\nG76 X18.16 Z-20. P920 Q300 F1.5\nG00 X62."
    base = turning(thread)
    ((rule, title),) = titles(base, base.replace("F1.5", "F34."))
    assert rule == "cycle-amount-changed" and title.startswith(
        f"Cycle amount changed in N1: G76 F from 1.5 to 34.{NOW}"
    )


def test_cuts_of_cycles_that_cannot_be_computed_for_another_edit_say_so() -> None:
    base = turning(ROUGH)
    for old, new, words in (
        (base, base.replace("N110 X62.", "N111 X62."), "; their cycle cannot be computed now"),
        (base.replace("N110 X62.", "N111 X62."), base, "; their cycle could not be computed before"),
    ):
        (title,) = [title for rule, title in titles(old, new) if rule.startswith("moves-")]
        assert title.endswith(words)


ONE_BY_ONE = (("U2. ", "U1.5 "), ("U0.5", "U0.8"), ("X40.", "X41."), ("Z-25.", "Z-24."))


@pytest.mark.parametrize(
    "broken", [("", ""), ("N110 X62.", "X62."), ("U2. R0.5", "U-2. R0.5")], ids=["whole", "label", "depth"]
)
@pytest.mark.parametrize(
    "pair", list(combinations(ONE_BY_ONE, 2)), ids=lambda pair: f"{pair[0][1]}+{pair[1][1]}".replace(" ", "")
)
def test_no_edit_of_a_cycle_hides_another(
    broken: tuple[str, str], pair: tuple[tuple[str, str], tuple[str, str]]
) -> None:
    """Its first line, its second one and each block of its contour: an edit of any of them is behind what the cycle does otherwise."""
    old = turning(ROUGH.replace(*broken) if broken[0] else ROUGH)
    new = old
    for before, after in pair:
        new = new.replace(before.replace("U2.", "U-2.") if broken[0].startswith("U2") else before, after, 1)
    judgement = judge(compared(old, new), default_policy(), program=[])
    assert not judgement.harmless
    lines = {k + 1 for k, (one, other) in enumerate(zip(old.split("\n"), new.split("\n"), strict=True)) if one != other}
    assert len(lines) == 2
    assert lines <= {place.line for f in judgement.findings for place in f.causes}
