"""Features read from turned parts: sizes as programmed, one feature for one thing of the drawing."""

from __future__ import annotations

import pytest

from tests.geometry.parts import exact, sheet, swept, turning
from verifier.geometry import Feature, features
from verifier.machines import Tool

SHARP = turning(0.0, shape="V", approach_angle=93, edge_length=16)
STEPPED = "G00 X{d}. Z2.\nG01 Z-20. F0.1\nX50. Z-{z}.\nZ-60.\nX64."
BLADE = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
DRILL = Tool(1, **exact(kind="drill", diameter=10, point_angle=118, orientation=7))
FACE_BLADE = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3, plunges="Z"))


def of(body: str, *tools: Tool, head: str | None = None) -> tuple[Feature, ...]:
    return features(swept(body, sheet(*tools)) if head is None else swept(body, sheet(*tools), head))


def told(found: tuple[Feature, ...]) -> list[tuple[str, str, dict[str, float]]]:
    return sorted(((f.kind, f.where, {size.name: round(size.value, 4) for size in f.sizes}) for f in found), key=str)


def only(found: tuple[Feature, ...], kind: str) -> dict[str, float]:
    (one,) = (f for f in found if f.kind == kind)
    return {size.name: size.value for size in one.sizes}


def test_a_shaft_is_read_as_it_was_programmed() -> None:
    # From diameter 30 to 50 over 30 mm: atan(10 / 30) = 18.4349 degrees.
    assert told(of(STEPPED.format(d=30, z=50), SHARP)) == [
        ("diameter", "outside", {"diameter": 30.0}),
        ("diameter", "outside", {"diameter": 50.0}),
        ("shoulder", "front", {"Z": -60.0}),
        ("taper", "outside", {"angle": 18.4349, "small end at Z": -20.0, "large end at Z": -50.0}),
    ]


def test_the_bars_own_surface_is_no_feature() -> None:
    found = of("G00 X50. Z2.\nG01 Z-20. F0.1\nX64.", SHARP)
    assert told(found) == [
        ("diameter", "outside", {"diameter": 50.0}),
        ("shoulder", "front", {"Z": -20.0}),
    ]


def test_an_end_face_is_a_face_and_a_step_a_shoulder() -> None:
    found = of("G00 X64. Z-1.\nG01 X-1. F0.1\nG00 Z2.\nX50.\nG01 Z-20.\nX64.", SHARP)
    assert [(f.kind, f.sizes[0].value) for f in found if f.where == "front"] == [("shoulder", -20.0), ("face", -1.0)]


def test_nose_and_programmed_radii_are_read() -> None:
    body = "G00 X46. Z2.\nG01 Z-20. F0.1\nG02 X52. Z-23. R3.\nG01 X64."
    assert only(of(body, SHARP), "radius")["radius"] == pytest.approx(3, abs=0.002)
    # A nose of 0.8 in a fillet programmed with 3 leaves one of 3.8; in a square corner its own.
    assert only(of(body, turning()), "radius")["radius"] == pytest.approx(3.8, abs=0.002)
    square = of("G00 X46. Z2.\nG01 Z-20. F0.1\nX64.", turning())
    assert only(square, "radius")["radius"] == pytest.approx(0.8, abs=0.002)


def test_a_chamfer_stands_between_a_face_and_a_cylinder() -> None:
    found = of("G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z2.\nX42.\nG01 X50. Z-2.\nZ-30.\nX64.", SHARP)
    assert only(found, "chamfer") == pytest.approx({"width": 2, "angle": 45})
    steep = of("G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z0.\nX46.\nG01 X50. Z-3.4641\nZ-30.\nX64.", SHARP)
    assert only(steep, "chamfer") == pytest.approx({"width": 3.4641, "angle": 30}, abs=1e-3)


# -- grooves ----------------------------------------------------------------------------------------------------------------


def test_a_groove_is_one_feature() -> None:
    found = of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", BLADE)
    assert told(found) == [("groove", "outside", {"bottom diameter": 52.0, "width": 3.0, "edge": -20.0})]


def test_a_groove_of_0_156_in_with_a_blade_of_0_100_in_is_a_travel_of_0_056_in() -> None:
    """Common practice, no source: the way along Z is the width less the blade's."""
    head = "O1000 (PART)\nN1 G00 G20 G40 G54 G97 G99\nT0101\nG97 S500 M03\n"
    blade = Tool(1, **exact(kind="grooving", blade_width="2.54", nose_radius="0.2032", orientation=3))
    # Set at its left corner: from Z-1.0 in to Z-0.944 in.
    found = of("G00 X2.5 Z-1.0\nG01 X2.0 F0.004\nG00 X2.5\nZ-.944\nG01 X2.0\nZ-1.0\nG00 X2.5", blade, head=head)
    sizes = only(found, "groove")
    assert sizes["width"] / 25.4 == pytest.approx(0.156, abs=1e-6)
    assert sizes["bottom diameter"] / 25.4 == pytest.approx(2.0, abs=1e-6)
    assert sizes["edge"] / 25.4 == pytest.approx(-1.0, abs=1e-6)
    assert sizes["corner radius"] / 25.4 == pytest.approx(0.008, abs=1e-4)


def test_a_groove_in_a_bore_and_grooves_in_faces() -> None:
    bore = "G00 X0. Z5.\nG01 Z-60. F0.1\nG00 Z5."
    drill = Tool(1, **exact(kind="drill", diameter=30, point_angle=118, orientation=7))
    inner = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=2))
    plunge = "\nT0202\nG00 X28. Z5.\nZ-20.\nG01 X36. F0.1\nG00 X28.\nZ5."
    found = of(bore + plunge, drill, inner)
    assert only(found, "groove") == pytest.approx({"bottom diameter": 36, "width": 3, "edge": -20})
    face = of("G00 X40. Z5.\nG01 Z-4. F0.1\nG00 Z5.", FACE_BLADE)
    (groove,) = (f for f in face if f.kind == "groove")
    assert groove.where == "front"
    # Set at its lower corner: the blade stands from diameter 40 to 46.
    assert only(face, "groove") == pytest.approx({"bottom": -4, "width": 3, "inner diameter": 40})


def test_the_walls_and_corners_of_a_groove() -> None:
    """A groove with walls that open at 15 degrees: tan(15) = 0.267949, so 5 mm deep they run 1.3397 mm."""
    body = "G00 X64. Z-20.\nG01 X50. F0.1\nG00 X64.\nZ-21.33975\nX60.\nG01 X50. Z-20.\nG00 X64.\nZ-18.66025\nX60.\nG01 X50. Z-20."
    sizes = only(of(body, BLADE), "groove")
    assert sizes["width"] == pytest.approx(3, abs=1e-4)
    assert sizes["wall angle toward the spindle"] == pytest.approx(15, abs=0.002)
    assert sizes["wall angle away from the spindle"] == pytest.approx(15, abs=0.002)
    rounded = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0.4, orientation=3))
    assert only(of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", rounded), "groove")["corner radius"] == pytest.approx(
        0.4, abs=1e-3
    )


def test_a_round_and_a_pointed_groove() -> None:
    full = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=1.5, orientation=3))
    sizes = only(of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", full), "groove")
    assert sizes == pytest.approx({"bottom diameter": 52, "width": 3, "edge": -20, "corner radius": 1.5}, abs=0.002)
    point = Tool(1, **exact(kind="turning", shape="V", edge_length=16, nose_radius=0, orientation=8))
    # A 35 degree point 4 mm deep: 2 * 4 * tan(17.5) = 2.5224 mm wide at the mouth.
    sharp = only(of("G00 X64. Z-20.\nG01 X52. F0.1\nG00 X64.", point), "groove")
    assert sharp["width at the mouth"] == pytest.approx(2.5224, abs=1e-3)
    assert sharp["wall angle toward the spindle"] == pytest.approx(17.5, abs=1e-3)


def test_a_relief_at_a_shoulder_leaves_the_shoulder_a_feature_of_its_own() -> None:
    body = "G00 X50. Z2.\nG01 Z-20. F0.1\nX64."
    relief = "\nT0202\nG00 X64. Z-20.\nX52.\nG01 X46. F0.1\nG00 X64."
    blade = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
    assert told(of(body + relief, SHARP, blade)) == [
        ("diameter", "outside", {"diameter": 50.0}),
        ("groove", "outside", {"bottom diameter": 46.0, "width": 3.0, "edge": -20.0}),
        ("shoulder", "front", {"Z": -20.0}),
    ]


def test_a_wide_recess_is_shoulders_and_a_diameter() -> None:
    body = "G00 X64. Z-10.\nG01 X50. F0.1\nZ-80.\nX64."
    neutral = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
    assert {f.kind for f in of(body, neutral)} == {"diameter", "shoulder"}


def test_one_diameter_on_both_sides_of_a_groove_is_one_feature() -> None:
    blade = Tool(2, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3))
    found = of("G00 X50. Z2.\nG01 Z-60. F0.1\nX64.\nT0202\nG00 X64. Z-20.\nG01 X46. F0.1\nG00 X64.", SHARP, blade)
    (shaft,) = (f for f in found if f.kind == "diameter")
    assert (shaft.z_from, shaft.z_to) == pytest.approx((-60, 0))


# -- holes ------------------------------------------------------------------------------------------------------------------


def test_a_drilled_hole_has_a_depth_and_a_point() -> None:
    """A 118 degree point of 10 mm is 5 / tan(59) = 3.0043 mm long (CHECKS: 0.30043 D)."""
    found = of("G00 X0. Z5.\nG01 Z-30. F0.1\nG00 Z5.", DRILL)
    (hole,) = (f for f in found if f.kind == "hole")
    sizes = {size.name: size.value for size in hole.sizes}
    assert sizes == pytest.approx({"diameter": 10, "full depth": -30 + 0.30043 * 10, "point angle": 118}, abs=1e-3)


def test_a_spot_has_a_mouth_and_a_point() -> None:
    spot = Tool(1, **exact(kind="drill", diameter=10, point_angle=90, orientation=7))
    found = of("G00 X0. Z5.\nG01 Z-3. F0.1\nG00 Z5.", spot)
    assert told(found) == [("spot hole", "inside", {"mouth diameter": 6.0, "tip": -3.0, "point angle": 90.0})]


# -- threads ----------------------------------------------------------------------------------------------------------------

THREADING = Tool(2, **exact(kind="threading", profile_angle=60, nose_radius="0.1", orientation=8))
TURNED = "G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z2.\nX{major}\nG01 Z-40.\nX64.\n"


@pytest.mark.parametrize(
    ("major", "minor", "pitch", "inside_minor"),
    # CHECKS 4.4, ISO 68-1: M20x2.5 has d3 = 16.933, M10x1.5 d3 = 8.160 (17/24 H).
    [(20.0, 16.933, 2.5, 17.294), (10.0, 8.160, 1.5, 8.376)],
)
def test_the_sizes_of_standard_threads(major: float, minor: float, pitch: float, inside_minor: float) -> None:
    passes = "T0202\nG97 S500 M03\nG00 X{0} Z5.\n" + "".join(
        f"G00 X{depth}\nG32 Z-30. F{pitch}\nG00 X64.\nZ5.\n" for depth in (major - 1, minor + 0.1, minor)
    )
    found = of(TURNED.format(major=major) + passes.format(major + 4), SHARP, THREADING)
    sizes = only(found, "thread")
    assert sizes == pytest.approx(
        {"major diameter": major, "minor diameter": minor, "lead": pitch, "length": 30, "end": -30}, abs=1e-3
    )
    # d3 = d - 1.226869 P: the same from the formula of the standard.
    assert sizes["minor diameter"] == pytest.approx(sizes["major diameter"] - 1.226869 * pitch, abs=1e-3)
    assert sizes["minor diameter"] < inside_minor
    assert not [f for f in found if f.kind == "diameter" and f.where == "outside"], "the crest is the thread's own"


def test_a_taper_thread_tells_its_angle() -> None:
    """1 in 16 on the diameter is 1.7899 degrees to the axis (ISO 7-1, from memory)."""
    passes = "T0202\nG97 S500 M03\nG00 X36. Z0.\nG32 X37.875 Z-30. F2.\nG00 X64."
    cone = "G00 X64. Z0.\nG01 X-1. F0.1\nG00 Z0.\nX40.\nG01 X42.5 Z-40.\nX64.\n"
    sizes = only(of(cone + passes, SHARP, THREADING), "thread")
    assert sizes["taper angle"] == pytest.approx(1.7899, abs=1e-3)
    assert sizes["major diameter"] - sizes["minor diameter"] == pytest.approx(4, abs=1e-3)


def test_two_starts() -> None:
    passes = "T0202\nG97 S500 M03\n" + "".join(
        f"G00 X{x} Z5.\nG32 Z-30. F4. Q{q}\nG00 X64.\n" for x in (38, 37) for q in (0, 180000)
    )
    sizes = only(of(TURNED.format(major="40.") + passes, SHARP, THREADING), "thread")
    assert (sizes["starts"], sizes["lead"]) == (2, 4)
