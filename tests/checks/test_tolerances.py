"""General tolerances against the published table.

Source: ISO 2768-1:1989 table 1, linear dimensions, as reproduced in public copies that agree. Two copies that do not were found and are wrong: one
gives class c over 3 to 6 mm as 0.2 (0.3 is right), one gives class v as 0.5 from 0.5 mm on (there is no v value below 3 mm).
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.findings.tolerances import (
    CLASSES,
    UPPER_ENDS,
    angle_tolerance,
    general_tolerance,
    radius_tolerance,
)

# One line per step of the standard: a size inside it, its upper end, then f, m, c, v in mm ("-": the standard gives none).
PUBLISHED = """
1.5   3     0.05  0.1  0.2  -
5     6     0.05  0.1  0.3  0.5
12    30    0.1   0.2  0.5  1
75    120   0.15  0.3  0.8  1.5
250   400   0.2   0.5  1.2  2.5
700   1000  0.3   0.8  2    4
1500  2000  0.5   1.2  3    6
3000  4000  -     2    4    8
"""

ROWS = [line.split() for line in PUBLISHED.strip().splitlines()]
CELLS = [(row[at], cls, row[2 + n]) for row in ROWS for at in (0, 1) for n, cls in enumerate(("f", "m", "c", "v"))]


@pytest.mark.parametrize(("size", "cls", "value"), CELLS)
def test_every_cell_of_the_table_inside_its_step_and_on_its_upper_end(size: str, cls: str, value: str) -> None:
    assert general_tolerance(Fraction(size), cls) == (None if value == "-" else Fraction(value))


def test_a_size_on_a_boundary_belongs_to_the_lower_step() -> None:
    assert general_tolerance(Fraction(30), "m") == Fraction("0.2")
    assert general_tolerance(Fraction("30.0001"), "m") == Fraction("0.3")


def test_the_two_known_misprints_are_not_repeated() -> None:
    assert general_tolerance(Fraction(4), "c") == Fraction("0.3")
    assert general_tolerance(Fraction(2), "v") is None


def test_outside_the_table_there_is_no_value() -> None:
    for cls in CLASSES:
        assert general_tolerance(Fraction("0.49"), cls) is None
        assert general_tolerance(Fraction("4000.01"), cls) is None
        assert general_tolerance(Fraction(0), cls) is None
    assert general_tolerance(Fraction(1, 2), "m") == Fraction("0.1")


def test_another_class_is_an_error_of_the_caller() -> None:
    with pytest.raises(KeyError):
        general_tolerance(Fraction(10), "H")


sizes = st.fractions(min_value=Fraction(1, 2), max_value=4000)


@given(one=sizes, other=sizes, cls=st.sampled_from(CLASSES))
def test_a_greater_size_never_has_the_smaller_tolerance(one: Fraction, other: Fraction, cls: str) -> None:
    small, great = (general_tolerance(size, cls) for size in sorted((one, other)))
    assert small is None or great is None or small <= great


@given(size=sizes)
def test_a_coarser_class_never_has_the_smaller_tolerance(size: Fraction) -> None:
    values = [v for v in (general_tolerance(size, cls) for cls in ("f", "m", "c", "v")) if v is not None]
    assert values == sorted(values) and len(values) >= 2


def test_steps_rise() -> None:
    assert list(UPPER_ENDS) == sorted(set(UPPER_ENDS))


@pytest.mark.parametrize(
    ("size", "cls", "deviation"),
    [
        # ISO 2768-1, external radii and chamfer heights: 0.5 to 3, over 3 to 6, over 6; a size on an end belongs to the lower step.
        ("0.5", "m", "0.2"), ("3", "f", "0.2"), ("3.1", "m", "0.5"), ("6", "m", "0.5"), ("6.1", "f", "1"),
        ("3", "c", "0.4"), ("6", "v", "1"), ("10", "c", "2"), ("0.4", "m", None),
    ],
)  # fmt: skip
def test_radii_and_chamfers_have_a_table_of_their_own(size: str, cls: str, deviation: str | None) -> None:
    assert radius_tolerance(Fraction(size), cls) == (None if deviation is None else Fraction(deviation))


@pytest.mark.parametrize(
    ("leg", "cls", "minutes"),
    [
        # ISO 2768-1, angles by the shorter leg, from memory of the standard's table 3 as handbooks print it.
        (10, "m", 60), (11, "m", 30), (50, "f", 30), (120, "m", 20), (400, "m", 10), (401, "f", 5),
        (10, "c", 90), (50, "c", 60), (10, "v", 180), (500, "v", 20),
    ],
)  # fmt: skip
def test_angles_go_by_their_shorter_leg(leg: int, cls: str, minutes: int) -> None:
    assert angle_tolerance(Fraction(leg), cls) * 60 == minutes
