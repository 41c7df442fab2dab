"""Features of two parts put together: one edit, few honest lines; the laws of the comparison."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import exact, sheet, swept
from tests.geometry.test_features import BLADE, SHARP, STEPPED, THREADING, TURNED
from verifier.geometry import (
    Feature,
    FeaturePair,
    TurnedPart,
    features,
    features_of_both,
    paired_features,
    untold,
)
from verifier.machines import Tool

SECOND = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius="0.2", orientation=3))
WHOLE = (
    "G00 X64. Z-{face:.3f}\nG01 X-1. F0.1\nG00 Z2.\nX{d:.3f}\nG01 Z-{one:.3f} F0.1\nX44.\nX50. Z-{two:.3f}\nZ-60.\nX64.\n"
    "T0202\nG00 X64. Z-20.\nG01 X{deep:.3f} F0.1\nG00 X64.\nZ-{at:.3f}\nG01 X{deep:.3f}\nG00 X64."
)
PLAIN = {"face": 0.5, "d": 36, "one": 30, "two": 50, "deep": 32, "at": 21}


def whole(**edit: float) -> TurnedPart:
    return swept(WHOLE.format(**(PLAIN | edit)), sheet(SHARP, SECOND))


def changed_features(old: Sequence[Feature], new: Sequence[Feature]) -> tuple[FeaturePair, ...]:
    return tuple(pair for pair in paired_features(old, new) if pair.differs)


def lines(old: TurnedPart, new: TurnedPart) -> list[tuple[str, str, float | None, float | None]]:
    return sorted(
        (pair.either.kind, name, before, after)
        for pair in changed_features(*features_of_both(old, new))
        for name, before, after in (
            [
                (c.either.name, round(c.old.value, 3) if c.old else None, round(c.new.value, 3) if c.new else None)
                for c in pair.changes()
            ]
            or [("", 0.0 if pair.old else None, 0.0 if pair.new else None)]
        )
    )


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        ({"deep": 31.8}, [("groove", "bottom diameter", 32, 31.8)]),
        ({"at": 21.4}, [("groove", "width", 4, 4.4)]),
        ({"d": 36.2}, [("diameter", "diameter", 36, 36.2)]),
        ({"face": 0.7}, [("face", "Z", -0.5, -0.7)]),
        ({"one": 30.5}, [("shoulder", "Z", -30, -30.5), ("taper", "angle", None, None)]),
        ({"two": 49}, [("taper", "angle", None, None), ("taper", "large end at Z", -50, -49)]),
    ],
)
def test_one_edit_gives_few_lines(edit: dict[str, float], told: list[tuple[object, ...]]) -> None:
    found = lines(whole(), whole(**edit))
    assert [line[:2] for line in found] == [line[:2] for line in told]
    assert all(line[2:] == want[2:] for line, want in zip(found, told, strict=True) if want[2] is not None)


def test_a_groove_that_moves_is_one_line() -> None:
    plunge = "G00 X64. Z-{0:.3f}\nG01 X52. F0.1\nG00 X64."
    old, new = (swept(plunge.format(at), sheet(BLADE)) for at in (20, 21.5))
    assert lines(old, new) == [("groove", "edge", -20, -21.5)]


def test_a_groove_that_only_one_part_has_is_new_or_gone() -> None:
    plain, grooved = (swept(f"G00 X64. Z-20.\n{cut}", sheet(BLADE)) for cut in ("", "G01 X52. F0.1\nG00 X64."))
    assert lines(plain, grooved) == [("groove", "", None, 0.0)]
    assert lines(grooved, plain) == [("groove", "", 0.0, None)]


def test_a_groove_made_much_wider_still_is_one() -> None:
    body = "G00 X64. Z-10.\nG01 X50. F0.1\nZ-{0:.3f}\nX64."
    old, new = (swept(body.format(z), sheet(BLADE)) for z in (55, 65))
    assert lines(old, new) == [("groove", "width", 48, 58)]
    assert "groove" not in {f.kind for f in features(new)}, "alone it is a recess between two shoulders"


def test_a_changed_diameter_is_told_with_the_taper_behind_it() -> None:
    old, new = (swept(STEPPED.format(d=d, z=50), sheet(SHARP)) for d in (30, 32))
    assert lines(old, new) == [("diameter", "diameter", 30, 32), ("taper", "angle", 18.435, 16.699)]


def test_the_thread_is_told_and_not_its_crest() -> None:
    passes = "T0202\nG97 S500 M03\nG00 X44. Z5.\nG00 X{0:.3f}\nG32 Z-{1:.3f} F2.\nG00 X64."
    body = TURNED + passes
    parts = [
        swept(body.format(root, end, major=f"{major:.3f}"), sheet(SHARP, THREADING))
        for major, root, end in ((40, 37.5, 30), (39.8, 37.5, 30), (40, 37.3, 30), (40, 37.5, 28))
    ]
    assert lines(parts[0], parts[1]) == [("thread", "major diameter", 40, 39.8)]
    assert lines(parts[0], parts[2]) == [("thread", "minor diameter", 37.5, 37.3)]
    assert lines(parts[0], parts[3]) == [("thread", "length", 30, 28)]


def test_a_hundred_grooves_are_paired_each_with_its_own() -> None:
    blade = Tool(1, **exact(kind="grooving", blade_width="0.5", nose_radius=0, orientation=3))
    plunge = "G00 X62. Z-{:.1f}\nG01 X{:.2f} F0.1\nG00 X62."
    old, new = (
        swept("\n".join(plunge.format(0.9 * k + 1, 58 if k != odd else 57.9) for k in range(100)), sheet(blade))
        for odd in (-1, 40)
    )
    (pair,) = changed_features(features(old), features(new))
    assert lines(old, new) == [("groove", "bottom diameter", 58, 57.9)]
    assert pair.old is not None and pair.old.z_from == pytest.approx(-37.0)


# -- laws -------------------------------------------------------------------------------------------------------------------

EDITS = st.fixed_dictionaries(
    {},
    optional={
        "face": st.sampled_from([0.4, 0.6, 1.0]),
        "d": st.sampled_from([35.9, 36.5, 40]),
        "one": st.sampled_from([28, 30.1, 33]),
        "two": st.sampled_from([45, 50.2]),
        "deep": st.sampled_from([30, 31.95, 35]),
        "at": st.sampled_from([20.5, 21.3, 22.8]),
    },
)


@settings(max_examples=25)
@given(one=EDITS, other=EDITS)
def test_same_parts_are_the_same_exchanged_parts_mirror_and_nothing_is_silent(
    one: dict[str, float], other: dict[str, float]
) -> None:
    old, new = whole(**one), whole(**other)
    before, after = features_of_both(old, new)
    there, back = changed_features(before, after), changed_features(after, before)
    assert set(back) == {FeaturePair(pair.new, pair.old) for pair in there}
    assert changed_features(before, before) == ()
    assert untold(old, new, there) == ()
    if one == other:
        assert there == ()
    else:
        deep = shapely.buffer(shapely.symmetric_difference(old.left, new.left), -0.001)
        assert there or shapely.is_empty(deep)


@pytest.mark.parametrize("along", [0.3, -1.0, -10.0])
def test_a_shift_of_the_whole_profile_moves_all_features_alike(along: float) -> None:
    """Ten grooves at equal distances: shifted by one of them each still belongs to itself."""
    plunge = "G00 X62. Z{:.3f}\nG01 X{:.2f} F0.1\nG00 X62."
    cut = [(-12 - 5.0 * k, 50 + k % 3) for k in range(10)]
    parts = [swept("\n".join(plunge.format(z + shift, d) for z, d in cut), sheet(BLADE)) for shift in (0.0, along)]
    pairs = paired_features(*(features(part) for part in parts))
    assert len(pairs) == 10
    for pair in pairs:
        assert pair.old is not None and pair.new is not None
        (change,) = pair.changes()
        assert change.old is not None and change.new is not None and change.old.name == "edge"
        assert change.new.value - change.old.value == pytest.approx(along, abs=1e-6)


def test_a_difference_that_no_feature_tells_is_told_as_such() -> None:
    """A curve of the same radius about another centre: no feature's size changes, the profile does."""
    body = "G00 X40. Z2.\nG01 Z-20. F0.1\nG03 X50. Z-30. R{0:.3f}\nG01 Z-60.\nX64."
    old, new = (swept(body.format(r), sheet(SHARP)) for r in (40, 60))
    assert [line[1] for line in lines(old, new)] == ["radius"]
    told = changed_features(features(old), features(new))
    assert untold(old, new, told) == ()
    (strip,) = untold(old, new, ())
    assert (strip.z_from, strip.z_to) == pytest.approx((-30, -20), abs=0.1)
