"""Drawing limits that are fits, held against ISO 286-1: by the package pressfit (a table of its own, MIT) and by the standard's table itself.

Source of the rows: ISO 286-1 table of standard tolerance grades, as reproduced in public copies that agree; micrometres by size step.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pressfit
import pytest

from tests.geometry.parts import sheet
from verifier.findings import Weight, default_policy, general_tolerance, judge_size
from verifier.machines import Limit

STEPS = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
GRADES = {
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
}
MICRON = Fraction(1, 1000)


@pytest.mark.parametrize("grade", sorted(GRADES))
def test_two_sources_of_the_standard_agree(grade: int) -> None:
    assert tuple(pressfit.it_value(size, grade) for size in STEPS) == GRADES[grade]


@pytest.mark.parametrize("size", STEPS)
@pytest.mark.parametrize("spec", ["H7/g6", "H7/p6", "H9/d9"])
def test_a_size_within_its_fit_is_minor_and_a_micron_beyond_is_not(size: int, spec: str) -> None:
    """A hole and a shaft of every step: from the middle to each limit, and a thousandth of a millimetre past it."""
    found = pressfit.fit(f"{size} {spec}")
    for upper, lower in ((found.hole_es_um, found.hole_ei_um), (found.shaft_es_um, found.shaft_ei_um)):
        nominal = Fraction(size)
        limit = Limit("X", nominal, upper * MICRON, lower * MICRON)
        setup = replace(sheet(), limits=(limit,))
        middle = nominal + Fraction(upper + lower, 2) * MICRON
        for end, past in ((nominal + upper * MICRON, MICRON), (nominal + lower * MICRON, -MICRON)):
            inside = judge_size("X", middle, end, setup, default_policy(), "mm")
            beyond = judge_size("X", middle, end + past, setup, default_policy(), "mm")
            assert (inside.weight, inside.verdict) == (Weight.MINOR, "within it")
            assert (beyond.weight, beyond.verdict) == (Weight.MAJOR, "outside it")
            assert inside.limit == beyond.limit and inside.limit.startswith("drawing limit")


def test_a_fit_is_far_tighter_than_the_general_class() -> None:
    """Why a change within the class is major as long as the drawing's own limit is not given: 26 H7 is +21 / 0, class m allows 200 each way."""
    for size in STEPS:
        allowed = general_tolerance(Fraction(size), "m")
        assert allowed is not None
        assert 2 * allowed / MICRON > 3 * pressfit.it_value(size, 7)


def test_the_judgement_names_the_class_where_the_sheet_has_no_limit() -> None:
    """ISO 2768-1 table 1, class m: over 6 to 30 mm +-0.2."""
    judged = judge_size("X", Fraction(24), Fraction("24.2"), None, default_policy(), "mm")
    assert (judged.weight, judged.limit) == (Weight.MAJOR, "ISO 2768-1 class m allows ±0.2 mm")
    assert judged.verdict == "within it, but the drawing limit is not given"
    assert judge_size("X", Fraction(24), Fraction("24.21"), None, default_policy(), "mm").verdict == "beyond it"
    assert judge_size("X", Fraction(24), Fraction("24.01"), None, default_policy(), "mm").weight is Weight.MINOR


def test_limits_of_widths_and_radii_do_not_hold_for_places() -> None:
    """A groove 4 wide and a shoulder at Z-4 are two sizes of a drawing."""
    width = Limit("L", Fraction(4), Fraction("0.1"), Fraction(0), "groove")
    setup = replace(sheet(), limits=(width,))
    of_width = judge_size("L", Fraction(4), Fraction("4.05"), setup, default_policy(), "mm")
    assert of_width.limit == "drawing limit 4 mm +0.1 mm / 0 mm (groove)" and of_width.weight is Weight.MINOR
    assert judge_size("Z", Fraction(-4), Fraction("-4.05"), setup, default_policy(), "mm").limit.startswith(
        "ISO 2768-1"
    )
