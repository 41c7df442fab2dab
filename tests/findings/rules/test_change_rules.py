"""Changes that several rules could speak of: who does, what is said, and how heavy it is."""

from __future__ import annotations

import pytest

from tests.findings.changes import findings, part, told
from verifier.findings.examples import turning

CUT = "G01 X58. F0.2\nZ-30.\nX62."
ROUGH = """G00 X62.5 Z2.
G71 U2. R0.5
G71 P10 Q20 U0.4 W0.1 F0.3
N10 G00 X30.
G01 Z-20. F0.15
N15 X50.
Z-40.
N20 X62.
G70 P10 Q20
G00 X100."""
INCH = """O1000 (SPACER)
N1 G00 G20 G40 G54 G97 G99
T0101
G50 S2000
G96 S600 M03
G00 X2.6 Z.1 M08
"""
NEXT = "G00 X100. Z50.\nM01\nN{n} T0{n}0{n}\nG97 S800 M03\nG00 X62. Z-{n}0.\nG01 X5{n}. F0.1\nX62."
A, B, C = (NEXT.format(n=n) for n in (2, 3, 4))


def rules(old: str, new: str) -> list[tuple[str, str]]:
    return [(f.rule, str(f.weight)) for f in findings(old, new)]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (CUT, CUT.replace("Z-30.", "Z30."), [("sign-lost", "critical")]),
        (CUT, CUT.replace("Z-30.", "Z-30"), [("decimal-point-lost", "critical")]),
        (CUT, CUT.replace("F0.2", "F.02"), [("decimal-point-lost", "major")]),
        (CUT, CUT.replace("Z-30.", "W-30."), [("increment-word-exchanged", "critical")]),
        (CUT, CUT.replace("Z-30.", "/Z-30."), [("skip-changed", "major")]),
        (CUT, CUT.replace("Z-30.", "Z-10.\nG04 U1.\nZ-30."), [("dwell-changed", "major")]),
        (CUT, CUT.replace("Z-30.", "Z-10.\nM00\nZ-30."), [("stop-added", "major")]),
        (CUT, CUT.replace("Z-30.", "Z-10.\nZ-30. F0.1"), [("feed-changed", "major")]),
        (CUT, "G99 " + CUT.replace("G01", "G1"), []),
        (ROUGH, ROUGH.replace("Z-20.", "Z-21."), [("position-changed", "major")]),
        (ROUGH, ROUGH.replace("U0.4", "U-0.4"), [("sign-lost", "critical")]),
        (ROUGH, ROUGH.replace("G71 U2. ", "G71 U2 "), [("decimal-point-lost", "critical")]),
        (ROUGH, ROUGH.replace("G71 U2. ", "G71 U1.5 "), [("cycle-amount-changed", "major")]),
        (ROUGH, ROUGH.replace("U0.4 W0.1 F0.3", "U0.4 W0.1 F0.35"), [("feed-changed", "minor")]),
        (ROUGH, ROUGH.replace("N15 ", ""), []),
        (f"{CUT}\n{A}\n{B}\n{C}", f"{CUT}\n{B}\n{A}\n{C}", [("order-changed", "major")]),
        (f"{CUT}\n{A}\n{B}\n{C}", f"{CUT}\n{A}\n{C}", [("sequence-removed", "major")]),
        (f"{CUT}\n{A}\n{C}", f"{CUT}\n{A}\n{B}\n{C}", [("sequence-added", "major")]),
        (f"{CUT}\n{A}", f"{CUT}\n{A}".replace("T0202", "T0505"), [("tool-changed", "critical")]),
        (f"{CUT}\n{A}", f"{CUT}\n{A}".replace("T0202", "T0212"), [("tool-offset-changed", "critical")]),
    ],
)  # fmt: skip
def test_one_edit_is_told_by_one_rule(old: str, new: str, expected: list[tuple[str, str]]) -> None:
    assert rules(turning(old), turning(new)) == expected


def test_a_call_of_a_program_that_is_not_there_says_so() -> None:
    (found,) = told(turning(CUT), turning("M98 P1234\n" + CUT), "call-changed")
    assert found.title.startswith("Subprogram call added: M98 P1234; not found: P1234")


def test_a_speed_mode_takes_its_speeds_and_its_clamp_along() -> None:
    old = turning(CUT)
    assert rules(old, old.replace("G96 S180", "G97 S900")) == [("speed-mode-changed", "critical")]


def test_a_stopped_spindle_takes_mode_speed_and_clamp_along() -> None:
    old = turning(CUT)
    found = findings(old, old.replace("M03", "M05"))
    assert [f.rule for f in found] == ["spindle-state-changed"]
    assert found[0].title.startswith("The spindle is stopped during")


def test_a_speed_held_by_the_clamp_before_and_after_is_minor_and_says_so() -> None:
    old = turning("G01 X20. F0.2\nX20. Z-10.", head=turning("").split("G00 X100.")[0].replace("X62.", "X22."))
    found = told(old, old.replace("S180", "S400"), "speed-changed")
    assert [str(f.weight) for f in found] == ["minor"]
    assert "the clamp of 2000 rev/min holds the spindle before and after" in found[0].title


def test_a_raised_speed_without_a_clamp_says_where_it_can_go() -> None:
    old = turning(CUT).replace("G50 S2000\n", "")
    (found,) = told(old, old.replace("S180", "S200"), "speed-changed")
    assert "no speed clamp holds it below" in found.title


def test_feed_mode_growth_is_computed_from_the_spindle_speed() -> None:
    old = turning("G97 S1000\nG01 X58. F0.2")
    (slower,) = told(old, old.replace("G01", "G98 G01"), "feed-mode-changed")
    assert "1/1000 of the speed" in slower.title and slower.weight == "major"
    (faster,) = told(old.replace("G01", "G98 G01"), old, "feed-mode-changed")
    assert "1000 times" in faster.title and faster.weight == "critical"


def test_units_in_inch_are_shown_in_inch() -> None:
    old = turning("G01 X2. F.008\nZ-1.\nX2.6", head=INCH)
    (size,) = told(old, old.replace("X2. ", "X1.98 "), "position-changed")
    assert size.title.startswith("X changed from 2 in to 1.98 in (0.02 in smaller)")
    (feed,) = told(old, old.replace("F.008", "F.016"), "feed-changed")
    assert feed.title == "Feed changed from 0.008 in/rev to 0.016 in/rev (doubled)"


def test_an_approach_without_stock_is_held_against_the_cut_that_follows() -> None:
    old = turning("G01 Z-30. F0.2\nX62.")
    (near,) = told(old, old.replace("X62. Z2.", "X62. Z0.5"), "approach-clearance-changed")
    assert near.weight == "major" and "from the end of the cut that follows" in near.title
    (far,) = told(old, old.replace("X62. Z2.", "X62. Z4."), "approach-clearance-changed")
    assert far.weight == "minor"


def test_an_approach_with_stock_is_held_against_the_stock() -> None:
    text, machine, setup = part("clamp-stud")
    (near,) = told(text, text.replace("G0 X2.6 Z.1", "G0 X2.56 Z.1"), "approach-clearance-changed", machine, setup)
    assert near.weight == "major" and "0.036 in from the stock, 0.054 in before" in near.title
    (far,) = told(text, text.replace("G0 X2.6 Z.1", "G0 X2.8 Z.1"), "approach-clearance-changed", machine, setup)
    assert far.weight == "minor"


@pytest.mark.parametrize(
    ("after", "weight", "words"),
    [
        ("26.015", "minor", "within the drawing limit 26 mm +0.021 mm / 0 mm"),
        ("26.06", "major", "outside the drawing limit 26 mm +0.021 mm / 0 mm"),
        ("26.9", "major", "outside the drawing limit"),
    ],
)
def test_a_size_with_a_drawing_limit_is_judged_by_it(after: str, weight: str, words: str) -> None:
    text, machine, setup = part("flanged-sleeve")
    (found,) = told(text, text.replace("X26.01 ", f"X{after} "), "position-changed", machine, setup)
    assert found.weight == weight and words in found.title


@pytest.mark.parametrize(
    ("after", "weight", "words"),
    [
        ("57.98", "minor", "small part"),
        ("57.9", "major", "not given"),
        ("57.6", "major", "beyond the general tolerance ±0.3 mm"),
    ],
)
def test_a_size_without_a_limit_is_judged_by_the_general_tolerance(after: str, weight: str, words: str) -> None:
    # ISO 2768-1 class m, over 30 to 120 mm: ±0.3 mm.
    (found,) = told(turning(CUT), turning(CUT.replace("X58.", f"X{after}")), "position-changed")
    assert found.weight == weight and words in found.title


def test_a_roughed_contour_point_is_told_at_the_size_that_its_block_names() -> None:
    old = turning(ROUGH)
    (found,) = told(old, old.replace("N15 X50.", "N15 X49.6"), "position-changed")
    assert found.title.startswith("X changed from 50 mm to 49.6 mm")


def test_labels_that_enclose_other_blocks_are_told_where_they_stand() -> None:
    old = turning(ROUGH)
    (found,) = told(old, old.replace("N15 X50.\nZ-40.\nN20 X62.", "X50.\nN20 Z-40.\nX62."), "contour-label-moved")
    assert "follows lines 10 to 13" in found.title


def test_a_note_that_names_tool_or_chuck_is_major_and_prose_is_silent() -> None:
    old = turning("(SOFT JAWS 38 OUT)\n(REV 2)\n" + CUT)
    (jaws,) = told(old, old.replace("38", "42"), "setup-note-changed")
    (revision,) = told(old, old.replace("REV 2", "REV 3"), "setup-note-changed")
    assert (jaws.weight, revision.weight) == ("major", "minor")
    assert told(old, old.replace("REV", "ISSUE"), "setup-note-changed") == []


def test_a_unit_word_that_scales_nothing_is_minor() -> None:
    old = turning(CUT)
    (found,) = told(old, old.replace("G21 ", ""), "units-changed")
    assert found.weight == "minor" and "G21 removed" in found.title


def test_a_spindle_that_turns_at_a_stop_is_critical() -> None:
    tail = "G00 X100. Z50.\nM09\nM05\nM01\nM30\n"
    old = turning(CUT, tail=tail)
    (found,) = told(old, old.replace("M05\nM01", "M01\nM05"), "spindle-state-changed")
    assert found.weight == "critical" and "turns forward during the optional stop (M01)" in found.title
