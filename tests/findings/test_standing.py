"""What an acceptance of a standing hazard is bound to: the words, what the machine does there, and everything the hazard says."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.findings.changes import compared, program
from verifier.compare import compare, side
from verifier.findings import Finding, Policy, Status, default_policy, judge
from verifier.findings.examples import lathe, sheet
from verifier.findings.registry import program_rules
from verifier.findings.standing import AMOUNT, AROUND, EDITED, NOT_CHECKED, NOT_SETTLED
from verifier.machines import FrozenMap, Machine, Setup, Tool

BASE = """O1000 (SPACER)
N1 G00 G21 G40 G54 G97 G99
T0101
G96 S180 M03
G00 X62. Z2. M08
G01 X50. F0.2
Z-30.
X62.
G00 X100. Z50. M09
M05
N2 G00 G40 G54 G97 G99
T0202
G97 S900 M03
G00 X62. Z2. M08
G01 X40. F0.1
Z-10.
X62.
G00 X100. Z50. M09
M05
M30
"""
"""N1 turns under constant surface speed without a clamp; N2 has a fixed speed."""
CLAMP = "speed-clamp-missing"


def standing(
    old: str, new: str, rule: str = CLAMP, machine: Machine | None = None, setup: Setup | None = None
) -> list[Finding]:
    found = judge(compared(old, new, machine, setup), default_policy()).findings
    return [f for f in found if f.rule == rule and f.status is Status.STANDING]


def key(
    old: str, new: str | None = None, rule: str = CLAMP, machine: Machine | None = None, setup: Setup | None = None
) -> str:
    """The key of the one hazard of a rule that stands."""
    (found,) = standing(old, old if new is None else new, rule, machine, setup)
    assert found.stand is not None
    return found.stand.key


def told(old: str, new: str, rule: str = CLAMP, **more: object) -> str:
    (found,) = standing(old, new, rule, **more)
    assert found.stand is not None
    return found.stand.told


def renumbered(text: str) -> str:
    """Every block with a number of its own, in tens from 1000 on; those that had one get another."""
    lines = text.splitlines()
    return "\n".join(
        line if line.startswith("O") else f"N{1000 + 10 * k} {re.sub('^N[0-9]+ ', '', line)}"
        for k, line in enumerate(lines)
    )


KEEPS = {
    "a note in front": BASE.replace("N1 ", "(FACE FIRST)\nN1 "),
    "a block in front": BASE.replace("N1 ", "G99\nN1 "),
    "a note on the very block": BASE.replace("G96 S180 M03", "G96 S180 M03 (ROUGH)"),
    "blank lines and small letters": BASE.replace("\n", "\n\n").replace("G96 S180", "g96s180"),
    "another spelling": BASE.replace("G01 X50.", "G1 X50.000"),
    "every block renumbered": renumbered(BASE),
    "the other sequence cuts deeper": BASE.replace("X40. F0.1", "X38. F0.2"),
}
ENDS = {
    "another speed": BASE.replace("S180", "S200"),
    "another sense": BASE.replace("S180 M03", "S180 M04"),
    "a cut to a smaller diameter": BASE.replace("X50. F0.2", "X5. F0.2"),
    "another feed at the cuts": BASE.replace("X50. F0.2", "X50. F0.3"),
    "a cut more": BASE.replace("Z-30.", "Z-30.\nX55."),
    "another tool before it": BASE.replace("T0101", "T0303"),
    "another work offset before it": BASE.replace("N1 G00 G21 G40 G54", "N1 G00 G21 G40 G55"),
    "inches": BASE.replace("G21", "G20"),
}


@pytest.mark.parametrize("name", KEEPS)
def test_what_stands_in_front_and_how_it_is_numbered_or_spelled_is_no_matter(name: str) -> None:
    assert key(BASE) and key(KEEPS[name]) == key(BASE) == key(BASE, KEEPS[name])
    assert told(BASE, KEEPS[name]) == ""


@pytest.mark.parametrize("name", ENDS)
def test_an_edit_of_its_words_or_of_what_is_in_force_there_makes_another_hazard_of_it(name: str) -> None:
    """Told in full in the report on the edit, and in every later one: the acceptance is over for good."""
    assert key(ENDS[name]) != key(BASE)
    assert [f.stand.told for f in standing(BASE, ENDS[name]) if f.stand] in ([], [EDITED], [AMOUNT])
    assert key(ENDS[name]) and told(ENDS[name], ENDS[name]) == ""


def test_a_cut_taken_out_touches_the_hazard_that_rested_on_it() -> None:
    with_more = ENDS["a cut more"]
    assert told(with_more, BASE) == EDITED


def test_another_machine_or_setup_sheet_ends_it() -> None:
    machine = lathe()
    slower = replace(
        machine, spindle=replace(machine.spindle, max_rpm=machine.spindle.max_rpm and machine.spindle.max_rpm // 2)
    )
    other = replace(lathe(choices={"rapid-path": "each-axis"}))
    keys = [key(BASE, machine=one) for one in (machine, slower, other)]
    keys += [key(BASE, machine=machine, setup=one) for one in (sheet(Tool(1, "turning")), sheet(Tool(1, "drill")))]
    assert all(keys) and len({*keys}) == len(keys)


def test_where_the_sides_have_other_machines_nothing_that_stands_is_folded() -> None:
    sides = [side(program(BASE), lathe(choices={"rapid-path": value})) for value in ("straight", "each-axis")]
    found = [f for f in judge(compare(*sides), default_policy()).findings if f.status is Status.STANDING]
    assert found and {f.stand.told for f in found if f.stand} == {AROUND}


def test_another_weight_or_another_revision_of_the_rule_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    comparison = compared(BASE, BASE)

    def found(policy: Policy | None = None) -> str:
        (one,) = [f for f in judge(comparison, policy or default_policy()).findings if f.rule == CLAMP]
        return one.stand.key if one.stand else ""

    lighter = replace(default_policy(), weights=FrozenMap({CLAMP: "major"}))
    before = found()
    assert found(lighter) != before
    (rule,) = [type(one) for one in program_rules() if one.id == CLAMP]
    monkeypatch.setattr(rule, "revision", rule.revision + 1)
    assert found() not in (before, "")


def test_two_that_cannot_be_told_apart_are_told_when_their_number_changes() -> None:
    """The same block twice: which of the two was accepted nobody can say any more."""
    part = "M01\nG28 U0. W0.\nT0505\nG97 S900 M03\nG00 X50. Z2.\nG01 X10\nX52. F0.1\n"
    one = BASE.replace("M05\nM30\n", f"M05\n{part}M05\nM30\n")
    two = BASE.replace("M05\nM30\n", f"M05\n{part}{part}M05\nM30\n")
    rule = "number-without-point"
    (alone,) = standing(one, one, rule)
    (beside,) = standing(one, two, rule)
    later = standing(two, two, rule)
    keys = [f.stand.key for f in (alone, beside, *later) if f.stand]
    assert len(later) == 2 and all(keys) and keys[0] not in keys[1:] and keys[2] != keys[3]


@pytest.mark.parametrize(
    ("rule", "text", "why"),
    [
        ("unknown-code", BASE.replace("X50. F0.2", "X50. F0.2\nM51"), NOT_SETTLED),
        ("arc-not-possible", BASE.replace("Z-30.", "G02 X60. Z-31. R0.1\nG01 Z-30."), NOT_SETTLED),
        ("number-without-point", BASE.replace("X50. F0.2", "X50 F0.2 Q3."), NOT_CHECKED),
    ],
)
def test_what_was_not_understood_or_not_checked_cannot_be_accepted(rule: str, text: str, why: str) -> None:
    for found in standing(text, text, rule):
        assert found.stand is not None and (found.stand.key, found.stand.told) == ("", why), found.title
    assert standing(text, text, rule)


def test_only_a_hazard_that_stood_before_has_anything_to_be_accepted() -> None:
    without = BASE.replace("G96 S180", "G97 S180")
    for old, new in ((without, BASE), (BASE, without)):
        found = judge(compared(old, new), default_policy()).findings
        assert all((f.stand is not None) == (f.status is Status.STANDING) for f in found)
    assert not standing(without, BASE)


def test_the_words_are_those_of_the_blocks_that_it_points_at() -> None:
    (found,) = standing(BASE, BASE)
    assert found.stand is not None and found.stand.words[0] == "G96 S180 M03"
