"""Features read from turned parts: sizes as programmed, paired over an edit, mirrored when the parts are exchanged."""

from __future__ import annotations

import pytest

from tests.geometry.parts import exact, sheet, swept, turning
from verifier.geometry import Feature, FeaturePair, changed_features, features
from verifier.machines import Tool

SHARP = turning(0.0, shape="V", approach_angle=93, edge_length=16)
STEPPED = "G00 X{d}. Z2.\nG01 Z-20. F0.1\nX50. Z-{z}.\nZ-60.\nX64."


def of(body: str, *tools: Tool) -> tuple[Feature, ...]:
    part = swept(body, sheet(*tools))
    return features(part.left, part.stock)


def sizes(found: tuple[Feature, ...]) -> list[tuple[str, str, float]]:
    return sorted((f.kind, f.where, round(f.size, 4)) for f in found)


def test_a_shaft_is_read_as_it_was_programmed() -> None:
    # From diameter 30 to 50 over 30 mm: atan(10 / 30) = 18.4349 degrees.
    assert sizes(of(STEPPED.format(d=30, z=50), SHARP)) == [
        ("diameter", "outside", 30.0),
        ("diameter", "outside", 50.0),
        ("face", "front", -60.0),
        ("taper", "outside", 18.4349),
    ]


def test_the_bars_own_surface_is_no_feature() -> None:
    found = of("G00 X50. Z2.\nG01 Z-20. F0.1\nX64.", SHARP)
    assert sizes(found) == sorted([("face", "front", -20.0), ("diameter", "outside", 50.0)])


def test_nose_and_programmed_radii_are_read() -> None:
    body = "G00 X46. Z2.\nG01 Z-20. F0.1\nG02 X52. Z-23. R3.\nG01 X64."
    radii = [f.size for f in of(body, SHARP) if f.kind == "radius"]
    assert radii == [pytest.approx(3, abs=0.002)]
    # A nose of 0.8 in a fillet programmed with 3 leaves one of 3.8; in a square corner its own.
    assert [f.size for f in of(body, turning()) if f.kind == "radius"] == [pytest.approx(3.8, abs=0.002)]
    square = of("G00 X46. Z2.\nG01 Z-20. F0.1\nX64.", turning())
    assert [f.size for f in square if f.kind == "radius"] == [pytest.approx(0.8, abs=0.002)]


def test_a_groove_is_two_faces_that_look_at_each_other_and_its_bottom() -> None:
    blade = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
    found = of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", blade)
    assert sizes(found) == sorted([("face", "front", -20.0), ("diameter", "outside", 52.0), ("face", "back", -17.0)])


def test_a_bore_looks_inside() -> None:
    drill = Tool(1, **exact(kind="drill", diameter=10, point_angle=118, orientation=7))
    found = of("G00 X0. Z5.\nG01 Z-30. F0.1\nG00 Z5.", drill)
    assert sizes(found) == sorted([("taper", "inside", 59.0), ("diameter", "inside", 10.0)])


def test_a_changed_diameter_is_one_change() -> None:
    old, new = of(STEPPED.format(d=30, z=50), SHARP), of(STEPPED.format(d=32, z=50), SHARP)
    pairs = {
        (p.old.kind, round(p.old.size, 3), round(p.new.size, 3)) for p in changed_features(old, new) if p.old and p.new
    }
    assert pairs == {("diameter", 30.0, 32.0), ("taper", 18.435, 16.699)}


def test_exchanged_parts_give_the_mirrored_pairs() -> None:
    bodies = [STEPPED.format(d=d, z=z) for d, z in ((30, 50), (32, 48), (34, 30), (30, 55))]
    parts = [of(body, SHARP) for body in bodies]
    for old in parts:
        assert changed_features(old, old) == ()
        for new in parts:
            there, back = changed_features(old, new), changed_features(new, old)
            assert set(back) == {FeaturePair(pair.new, pair.old) for pair in there}


def test_a_feature_that_only_one_part_has_is_gone_or_new() -> None:
    blade = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
    plain, grooved = of("G00 X64. Z-20.", blade), of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", blade)
    assert {(p.old, p.new and p.new.kind) for p in changed_features(plain, grooved)} == {
        (None, "face"),
        (None, "diameter"),
    }
    assert all(p.new is None for p in changed_features(grooved, plain))


def test_a_hundred_grooves_are_paired_each_with_its_own() -> None:
    blade = Tool(1, **exact(kind="grooving", blade_width="0.5", nose_radius=0, orientation=3))
    plunge = "G00 X62. Z-{:.1f}\nG01 X{:.2f} F0.1\nG00 X62."
    old = of("\n".join(plunge.format(0.9 * k + 1, 58) for k in range(100)), blade)
    new = of("\n".join(plunge.format(0.9 * k + 1, 58 if k != 40 else 57.9) for k in range(100)), blade)
    (pair,) = changed_features(old, new)
    assert pair.old is not None and pair.new is not None
    assert (round(pair.old.size, 4), round(pair.new.size, 4)) == (58.0, 57.9)
    assert pair.old.z_from == pytest.approx(-37.0)
