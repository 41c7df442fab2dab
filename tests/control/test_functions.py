"""Functions of the macro language: exact where the value is rational, else true to far more places than a control has."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.control import functions as f

FEW = settings(max_examples=150, deadline=None)
TINY = Fraction(1, 10**37)
ANGLES = st.fractions(-1000, 1000, max_denominator=10**6)
UNIT = st.fractions(-1, 1, max_denominator=10**6)
POSITIVE = st.fractions(Fraction(1, 10**6), 10**6, max_denominator=10**6)


@pytest.mark.parametrize(
    ("degrees", "sine"),
    [(0, "0"), (30, "1/2"), (90, "1"), (150, "1/2"), (180, "0"), (210, "-1/2"), (270, "-1"), (330, "-1/2"), (-30, "-1/2"), (750, "1/2")],
)  # fmt: skip
def test_sines_that_are_rational_are_exact(degrees: int, sine: str) -> None:
    assert f.sine(Fraction(degrees)) == Fraction(sine)
    assert f.cosine(Fraction(90 - degrees)) == Fraction(sine)


def test_other_values_that_are_rational_are_exact() -> None:
    assert [f.tangent(Fraction(d)) for d in (0, 45, 135, 225, -45)] == [0, 1, -1, 1, -1]
    assert [f.arc_sine(Fraction(v)) for v in ("1/2", "-1/2", "1", "-1", "0")] == [30, -30, 90, -90, 0]
    assert [f.arc_cosine(Fraction(v)) for v in ("1/2", "-1/2", "1", "-1", "0")] == [60, 120, 0, 180, 90]
    assert [f.square_root(Fraction(v)) for v in ("9/4", "0", "1024")] == [Fraction(3, 2), 0, 32]
    assert f.power(Fraction(2, 3), Fraction(-3)) == Fraction(27, 8)
    assert (f.exponential(Fraction(0)), f.logarithm(Fraction(1))) == (1, 0)


@given(ANGLES)
@FEW
def test_angles_agree_with_the_standard_library_and_with_themselves(degrees: Fraction) -> None:
    sine, cosine = f.sine(degrees), f.cosine(degrees)
    assert math.isclose(float(sine), math.sin(math.radians(float(degrees))), abs_tol=1e-12)
    assert math.isclose(float(cosine), math.cos(math.radians(float(degrees))), abs_tol=1e-12)
    assert abs(sine * sine + cosine * cosine - 1) < TINY
    if cosine:
        assert abs(f.tangent(degrees) - sine / cosine) < TINY * (1 + 1 / abs(cosine) ** 2)


@given(UNIT)
@FEW
def test_arcus_functions_undo_the_others(value: Fraction) -> None:
    assert abs(f.sine(f.arc_sine(value)) - value) < TINY
    assert abs(f.cosine(f.arc_cosine(value)) - value) < TINY
    assert math.isclose(float(f.arc_sine(value)), math.degrees(math.asin(float(value))), abs_tol=1e-9)


@given(ANGLES, ANGLES)
@FEW
def test_the_arcus_of_two_values_is_the_angle_of_a_point(up: Fraction, along: Fraction) -> None:
    if up or along:
        wanted = math.degrees(math.atan2(float(up), float(along)))
        assert math.isclose(float(f.arc_tangent_of_two(up, along)), wanted, abs_tol=1e-9)


@given(POSITIVE)
@FEW
def test_roots_powers_and_logarithms_undo_one_another(value: Fraction) -> None:
    assert abs(f.square_root(value) ** 2 - value) < TINY * (1 + value)
    assert abs(f.exponential(f.logarithm(value)) - value) < TINY * (1 + value)
    assert abs(f.power(value, Fraction(1, 2)) - f.square_root(value)) < TINY * (1 + value)


@given(st.integers(0, 10**9))
@FEW
def test_digits_in_four_bits_each_go_forth_and_back(number: int) -> None:
    assert f.from_digits(f.to_digits(Fraction(number))) == number


@given(st.fractions(-1000, 1000, max_denominator=1000))
@FEW
def test_whole_numbers_near_a_value(value: Fraction) -> None:
    assert f.toward_zero(value) == math.trunc(value)
    assert abs(f.away_from_zero(value)) == math.ceil(abs(value))
    assert abs(f.nearest(value) - value) <= Fraction(1, 2)
    assert f.nearest(-value) == -f.nearest(value)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: f.square_root(Fraction(-1)), lambda: f.logarithm(Fraction(0)), lambda: f.logarithm(Fraction(-2)),
        lambda: f.arc_sine(Fraction(11, 10)), lambda: f.arc_cosine(Fraction(-11, 10)), lambda: f.tangent(Fraction(90)),
        lambda: f.tangent(Fraction(-90)), lambda: f.arc_tangent_of_two(Fraction(0), Fraction(0)), lambda: f.exponential(Fraction(1000)),
        lambda: f.power(Fraction(0), Fraction(-1)), lambda: f.power(Fraction(-2), Fraction(1, 2)), lambda: f.power(Fraction(0), -Fraction(1, 2)),
        lambda: f.kept(Fraction(10**48)), lambda: f.from_digits(Fraction(0x1A)), lambda: f.to_digits(Fraction(1, 2)),
        lambda: f.to_digits(Fraction(-1)), lambda: f.power(Fraction(10), Fraction(10**6)),
    ],
)  # fmt: skip
def test_what_has_no_value_is_refused_with_a_reason(impossible: object) -> None:
    with pytest.raises(f.Impossible) as told:
        impossible()  # type: ignore[operator]
    assert str(told.value)


def test_a_value_divided_again_and_again_stays_small() -> None:
    value = Fraction(1)
    for _ in range(2000):
        value = f.kept(value / 3 + Fraction(1, 7))
    assert value.denominator.bit_length() < 1300
    assert abs(value - Fraction(3, 14)) < TINY
