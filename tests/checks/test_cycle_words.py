"""Cycles as programs call them against moves written out by hand: bores, allowance signs, remainders, relief, tapers, where the contour stands.

The steps are read in public sources (skeleton of roughing, pattern and grooving cycles; first column without relief; allowance signs; F, S and T of a
contour) or common practice, no source (levels from the moved start, 45 degree retract, single cycles).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.control.running import codes, ends, run, state_of
from verifier.control import Trace

HEAD = "G21 G99 G97 S500 M03 F.2\n"


def told(trace: Trace) -> str:
    """Each move as a setter would write it, X in diameter; rapids r, cuts f, threads t."""
    letters = {"rapid": "r", "feed": "f", "thread": "t"}
    return "  ".join(f"{letters[kind]} {x:g},{z:g}" for kind, x, z in ends(trace)[1:])


def moves(start: str, body: str) -> str:
    trace = run(f"{HEAD}G00 {start}\n{body}\nM30\n")
    assert codes(trace) == []
    return told(trace)


BORE = "N10 G00 X30.\nG01 Z-10.\nN20 X20.\n"


def test_rough_turning_of_a_bore_leaves_its_allowance_toward_the_centre_line() -> None:
    """U below zero for a bore: the boundary is 0.4 smaller in diameter, the tool retracts toward the centre line."""
    assert moves("X20. Z2.", f"G71 U2. R.5\nG71 P10 Q20 U-.4 W.1\n{BORE}") == (
        "r 19.6,2.1  "
        "r 23.6,2.1  f 23.6,-9.9  r 22.6,-9.4  r 22.6,2.1  "
        "r 27.6,2.1  f 27.6,-9.9  r 26.6,-9.4  r 26.6,2.1  "
        "r 29.6,2.1  f 29.6,-9.9  r 28.6,-9.4  r 28.6,2.1  "
        "r 29.6,2.1  f 29.6,-9.9  f 19.6,-9.9  r 20,2"
    )


def test_rough_turning_away_from_the_spindle_takes_w_below_zero() -> None:
    """Cutting toward +Z from behind: the stock lies on the other side of every face, W is below zero."""
    contour = "N10 G00 X20.\nG01 Z-5.\nN20 X30.\n"
    assert moves("X30. Z-32.", f"G71 U3. R1.\nG71 P10 Q20 U.4 W-.1\n{contour}") == (
        "r 30.4,-32.1  "
        "r 24.4,-32.1  f 24.4,-5.1  r 26.4,-6.1  r 26.4,-32.1  "
        "r 20.4,-32.1  f 20.4,-5.1  r 22.4,-6.1  r 22.4,-32.1  "
        "r 20.4,-32.1  f 20.4,-5.1  f 30.4,-5.1  r 30,-32"
    )


def test_rough_facing_takes_its_levels_along_z() -> None:
    contour = "N10 G00 Z-4.\nG01 X30.\nN20 Z2.\n"
    assert moves("X62. Z2.", f"G72 W2. R.5\nG72 P10 Q20 U.4 W.1\n{contour}") == (
        "r 62.4,2.1  "
        "r 62.4,0.1  f 30.4,0.1  r 31.4,0.6  r 62.4,0.6  "
        "r 62.4,-1.9  f 30.4,-1.9  r 31.4,-1.4  r 62.4,-1.4  "
        "r 62.4,-3.9  f 30.4,-3.9  r 31.4,-3.4  r 62.4,-3.4  "
        "r 62.4,-3.9  f 30.4,-3.9  f 30.4,2.1  r 62,2"
    )


def test_rough_facing_of_a_bore_from_its_middle() -> None:
    """Levels along Z, cuts outward from X20: U below zero."""
    contour = "N10 G00 Z-4.\nG01 X30.\nN20 Z2.\n"
    assert moves("X20. Z2.", f"G72 W3. R.5\nG72 P10 Q20 U-.4 W.1\n{contour}") == (
        "r 19.6,2.1  "
        "r 19.6,-0.9  f 29.6,-0.9  r 28.6,-0.4  r 19.6,-0.4  "
        "r 19.6,-3.9  f 29.6,-3.9  r 28.6,-3.4  r 19.6,-3.4  "
        "r 19.6,-3.9  f 29.6,-3.9  f 29.6,2.1  r 20,2"
    )


def test_pattern_repeating_of_a_bore_escapes_toward_the_centre_line() -> None:
    contour = "N10 G00 X30. Z2.\nG01 Z-10.\nN20 X20.\n"
    assert moves("X20. Z5.", f"G73 U-3. W2. R3\nG73 P10 Q20 U-.4 W.1\n{contour}") == (
        "r 13.6,7.1  r 23.6,4.1  f 23.6,-7.9  f 13.6,-7.9  "
        "r 16.6,6.1  r 26.6,3.1  f 26.6,-8.9  f 16.6,-8.9  "
        "r 19.6,5.1  r 29.6,2.1  f 29.6,-9.9  f 19.6,-9.9  r 20,5"
    )


def test_face_pecking_with_steps_remainders_and_relief() -> None:
    """X40 to X34 by steps of 2 (radius), Z2 to Z-4 by pecks of 3 + 0.5 back, relief 0.2 against the step but for the first column."""
    assert moves("X40. Z2.", "G74 R.5\nG74 X34. Z-4. P2000 Q3500 R.2 F.1") == (
        "f 40,-1.5  r 40,-1  f 40,-4  r 40,2  "
        "r 36,2  f 36,-1.5  r 36,-1  f 36,-4  r 36.4,-4  r 36.4,2  "
        "r 34,2  f 34,-1.5  r 34,-1  f 34,-4  r 34.4,-4  r 34.4,2  r 40,2"
    )


def test_chip_breaking_drilling_is_the_face_pecking_cycle_without_x() -> None:
    assert moves("X0 Z2.", "G74 R1.\nG74 Z-9. Q5000 F.1") == "f 0,-3  r 0,-2  f 0,-8  r 0,-7  f 0,-9  r 0,2"


def test_an_inside_groove_pecks_outward() -> None:
    assert moves("X20. Z-10.", "G75 R.5\nG75 X26. Z-12. P2000 Q2000 R.2 F.1") == (
        "f 24,-10  r 23,-10  f 26,-10  r 20,-10  "
        "r 20,-12  f 24,-12  r 23,-12  f 26,-12  r 26,-11.8  r 20,-11.8  r 20,-10"
    )


def test_turning_cycle_in_a_bore_with_a_taper_and_its_repeat_with_x_alone() -> None:
    assert moves("X20. Z2.", "G90 X30. Z-20. R1.\nX31.") == (
        "r 32,2  f 30,-20  f 20,-20  r 20,2  r 33,2  f 31,-20  f 20,-20  r 20,2"
    )


def test_facing_cycle_with_a_taper_and_its_repeat_with_z_alone() -> None:
    assert moves("X60. Z2.", "G94 X20. Z-1. R-3.\nZ-2.") == (
        "r 60,-4  f 20,-1  f 20,2  r 60,2  r 60,-5  f 20,-2  f 20,2  r 60,2"
    )


def test_threading_cycle_in_a_bore_with_a_taper_pulls_out_toward_the_centre_line() -> None:
    """Taper 1 over 32 mm, pull-out one lead of 2 before the end: there the taper still has 2/32 of itself left."""
    assert moves("X20. Z2.", "G92 X30. Z-30. R1. F2.\nX30.4") == (
        "r 32,2  t 30.125,-28  t 26.125,-30  r 20,-30  r 20,2  r 32.4,2  t 30.525,-28  t 26.525,-30  r 20,-30  r 20,2"
    )


AFTER_END = "G71 U2. R.5\nG71 P10 Q20 U-.4 W.1\nG70 P10 Q20\nG00 X19.\nM30\n"


def test_a_contour_behind_the_program_end_is_found_and_the_program_goes_on_behind_the_cycle() -> None:
    trace = run(f"{HEAD}G00 X20. Z2.\n{AFTER_END}{BORE}")
    inline = run(f"{HEAD}G00 X20. Z2.\nG71 U2. R.5\nG71 P10 Q20 U-.4 W.1\n{BORE}G70 P10 Q20\nG00 X19.\nM30\n")
    assert ends(trace) == ends(inline)
    assert codes(trace) == codes(inline) == []


def test_a_repeated_contour_label_is_an_error() -> None:
    """A number that P or Q uses stands once in a program: read in public sources."""
    trace = run(f"{HEAD}G00 X20. Z2.\nG71 U2. R.5\nG71 P10 Q20 U-.4 W.1\n{BORE}G00 X20. Z2.\n{BORE}M30\n")
    assert "contour-label-repeated" in codes(trace)


def test_f_on_the_finishing_block_is_in_force_until_the_contour_has_its_own() -> None:
    """Contour words count from their block on; group 1 is then what it was, F and S the last in force. Common practice, no source."""
    contour = BORE.replace("N20 X20.", "N20 X20. F.05 S900")
    trace = run(f"{HEAD}G00 X20. Z2.\nG01\nG70 P10 Q20 F.1 S700\nX19.\nM30\n{contour}")
    feeds = [(state_of(trace, k).feed, state_of(trace, k).speed) for k in (2, 3, 5)]
    assert feeds == [(Fraction("0.1"), 700), (Fraction("0.05"), 900), (Fraction("0.05"), 900)]
    assert [row.kind.name for row in trace.rows()[4:]] == ["RAPID", "FEED"]


@pytest.mark.parametrize("sign", ["", "-"])
def test_roughing_depth_and_its_levels_are_the_same_outside_and_inside(sign: str) -> None:
    """A bore is the outside seen in the mirror at the start's diameter: X20 + d for X20 - d, allowance with the other sign."""
    outside, inside = ("N10 G00 X{}.\nG01 Z-5.\nX{}. Z-8.\nN20 X20.\n".format(*x) for x in ((10, 14), (30, 26)))
    one = moves("X20. Z2.", f"G71 U1.5 R.5\nG71 P10 Q20 U{sign}.4 W.1\n{outside}")
    other = moves("X20. Z2.", f"G71 U1.5 R.5\nG71 P10 Q20 U{'' if sign else '-'}.4 W.1\n{inside}")
    assert _mirrored(one) == other


def _mirrored(text: str) -> str:
    found = []
    for move in text.split("  "):
        kind, place = move.split(" ")
        x, z = place.split(",")
        found.append(f"{kind} {40 - float(x):g},{z}")
    return "  ".join(found)
