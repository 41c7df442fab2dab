"""The turned part against closed forms, and against a union of hulls made without the engine's own sweep."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import agree, exact, sheet, swept, traced, turning
from tests.work import calls
from verifier.geometry import (
    BLADE_SIDEWAYS,
    BODY_INTO_MATERIAL,
    CUT_FREE,
    DRILL_PAST_FLUTE,
    INTO_KEEP_OUT,
    LOOSE_PIECE_MET,
    RAPID_INTO_MATERIAL,
    Swept,
    ToolOutline,
    stock_section,
    sweep,
    tool_outline,
    turned_part,
)
from verifier.machines import KeepOut, Stock, Tool, generic_lathe

EXACT = 0.001
"""mm: what a finished profile may be off."""

BLADE = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius="0.2", orientation=3, blade_depth=20))
DRILL = Tool(1, **exact(kind="drill", diameter=10, point_angle=118, orientation=7, flute_length=40))
BORING = Tool(1, **exact(kind="boring", shape="C", edge_length=6, approach_angle=95, nose_radius="0.4", orientation=2))
TUBE = Stock("tube", Fraction(60), Fraction(20), Fraction(100), Fraction(0))


def radius_at(part: shapely.Geometry, z: float, *, outside: bool = True) -> float:
    """The outer (or inner) radius of a half section at a place along Z."""
    _, low, _, high = shapely.bounds(part.intersection(shapely.LineString([(z, 0), (z, 200)]))).tolist()
    return high if outside else low


# -- closed forms -------------------------------------------------------------------------------------------------------


def test_a_turned_cylinder_leaves_its_diameter_and_the_nose_its_fillet() -> None:
    part = swept("G00 X40. Z2.\nG01 Z-50. F0.2\nX64.\nG00 Z2.", sheet(turning()))
    assert radius_at(part.left, -20) == pytest.approx(20, abs=1e-9)
    # A nose of radius r in a square shoulder leaves r^2 (1 - pi/4) of the corner; the shoulder itself stands at the programmed Z.
    fillet = 0.8**2 * (1 - math.pi / 4)
    assert part.left.area == pytest.approx(100 * 30 - 50 * 10 + fillet, abs=1e-3)
    assert shapely.box(-50, 20.8, 0, 31).intersection(part.left).area == pytest.approx(0, abs=1e-9)
    assert not part.contacts and part.certain


def test_volumes_are_those_of_pappus() -> None:
    part = swept("G00 X40. Z2.\nG01 Z-50. F0.2\nX64.", sheet(turning(0.0, orientation=3, shape="S", approach_angle=90)))
    assert part.volume.sum() == pytest.approx(math.pi * (30**2 - 20**2) * 50, rel=1e-9)
    assert part.across[part.area > 0][0] == pytest.approx(10)  # depth of cut of the one pass


@pytest.mark.parametrize("angle", [5, 10, 15, 20, 30, 45, 60, 75])
def test_a_taper_without_compensation_is_off_as_the_nose_makes_it(angle: int) -> None:
    """Normal error of a nose radius r at a surface of angle A to the Z axis: r (sin A + cos A - 1) (worked out from the geometry of the nose)."""
    nose, length = 0.8, 10.0
    rise = length * math.tan(math.radians(angle))
    x0, x1 = 30.0, 30.0 + 2 * rise
    bar = Stock("bar", Fraction(200), None, Fraction(100), Fraction(0))
    # 35 degree insert, so that a taper of 75 degrees is within its approach angle and its back stays clear.
    tool = turning(nose, shape="V", approach_angle=93, edge_length=16)
    body = f"G00 X{x0 - 2 * rise * 0.2:.3f} Z2.\nG01 Z2. F0.1\nX{x0:.3f} Z0.\nX{x1:.3f} Z-{length:.3f}"
    part = swept(body, sheet(tool, stock=bar))
    middle_z, middle_r = -length / 2, round(x0, 3) / 2 + (round(x1, 3) - round(x0, 3)) / 4
    direction = np.array([-math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    normal = np.array([direction[1], -direction[0]])
    normal = normal if normal[1] > 0 else -normal
    line = shapely.LineString(
        [np.array([middle_z, middle_r]) - 3 * normal, np.array([middle_z, middle_r]) + 3 * normal]
    )
    inside = line.intersection(part.left)
    surface = max(float(np.dot(np.array(p) - [middle_z, middle_r], normal)) for p in shapely.get_coordinates(inside))
    a = math.radians(angle)
    assert surface == pytest.approx(nose * (math.sin(a) + math.cos(a) - 1), abs=EXACT)


def test_an_arc_is_turned_within_a_thousandth() -> None:
    """A convex radius Rp on the part needs a path of Rp + r of the nose centre; the tip is that path moved by r."""
    nose, on_part = 0.8, 10.0
    path = on_part + nose
    # Nose centre path about (Z-10, X0 radius 20): from the front face to the cylinder of radius 30.
    body = (
        f"G00 X{2 * (20 - nose):.4f} Z2.\nG01 Z{on_part - 10:.4f} F0.1\n"
        f"G03 X{2 * (20 + path - nose):.4f} Z{-10 - nose:.4f} R{path:.4f}\nG01 Z-30."
    )
    bar = Stock("bar", Fraction(70), None, Fraction(60), Fraction(2))
    part = swept(body, sheet(turning(nose), stock=bar))
    for degrees in range(2, 89, 4):
        a = math.radians(degrees)
        ray = shapely.LineString([(-10, 20), (-10 + 14 * math.sin(a), 20 + 14 * math.cos(a))])
        surface = shapely.get_coordinates(ray.intersection(part.left))
        assert np.hypot(*(surface - [-10, 20]).T).max() == pytest.approx(on_part, abs=EXACT)


def test_a_groove_has_the_corners_of_its_blade() -> None:
    part = swept("G00 X64. Z-20.\nG01 X52. F0.1\nG04 U0.5\nG00 X64.\nZ-19.\nG01 X52.\nG00 X64.", sheet(BLADE))
    corners = 2 * 0.2**2 * (1 - math.pi / 4)
    assert part.area.sum() == pytest.approx(4 * 4 - corners, abs=EXACT)
    assert radius_at(part.left, -18.5) == pytest.approx(26, abs=1e-9)
    assert part.left.intersection(shapely.box(-20, 26.3, -16, 31)).area == pytest.approx(0, abs=1e-9)
    assert not part.contacts


def test_a_drilled_hole_ends_in_its_point() -> None:
    part = swept("G00 X0. Z5.\nG01 Z-23.004 F0.1\nG00 Z5.", sheet(DRILL))
    point = 5 / math.tan(math.radians(59))  # 0.30043 D for 118 degrees
    assert point == pytest.approx(3.0043, abs=1e-4)
    volume = math.pi * 25 * (23.004 - point) + math.pi * 25 * point / 3
    assert part.volume.sum() == pytest.approx(volume, rel=1e-6)
    assert radius_at(part.left, -10, outside=False) == pytest.approx(5, abs=1e-9)


def test_a_bore_is_turned_from_the_inside() -> None:
    part = swept("G00 X24. Z2.\nG01 Z-30. F0.1\nX19.\nG00 Z2.", sheet(BORING, stock=TUBE))
    assert radius_at(part.left, -10, outside=False) == pytest.approx(12, abs=1e-9)
    assert part.volume.sum() == pytest.approx(math.pi * (144 - 100) * 30, rel=2e-3)
    assert not part.contacts


def test_an_undercut_keeps_material_above_it() -> None:
    """A round insert moved sideways under a collar: what hangs over it stays, which a table of radii along Z could not hold."""
    tool = Tool(1, **exact(kind="turning", shape="R", edge_length=4, nose_radius=2, orientation=9))
    # X means the centre of the nose: down clear of the front face, then along Z into the face at a radius of 15.
    part = swept("G00 X30. Z6.\nG01 Z-6. F0.1", sheet(tool))
    assert radius_at(part.left, -4) == pytest.approx(30)
    assert part.left.intersection(shapely.LineString([(-4, 13.01), (-4, 16.99)])).length == pytest.approx(0, abs=1e-9)
    assert part.area.sum() == pytest.approx(6 * 4 + math.pi * 4 / 2, abs=EXACT * math.pi * 2)


# -- order, and what must not be met --------------------------------------------------------------------------------------

CLEAR = "G00 X50. Z2.\nG01 Z-30. F0.2\nX62.\n"


def kinds(body: str, *tools: Tool, **more: object) -> list[str]:
    return [contact.kind for contact in swept(body, sheet(*tools, **more)).contacts]  # type: ignore[arg-type]


def test_a_rapid_meets_what_is_left_at_that_moment() -> None:
    over = "G00 X64. Z2.\nX50.\nZ-29.\nX64.\n"
    assert kinds(over, turning()) == [RAPID_INTO_MATERIAL, RAPID_INTO_MATERIAL]
    assert kinds(CLEAR + over, turning()) == []
    assert kinds(over + "Z2.\n" + CLEAR, turning()) == [RAPID_INTO_MATERIAL, RAPID_INTO_MATERIAL]


def test_a_rapid_into_material_says_where_and_how_deep() -> None:
    part = swept("G00 X64. Z-10.\nX59.\nX64.", sheet(turning()))
    first = part.contacts[0]
    assert first.where is not None and first.kind == RAPID_INTO_MATERIAL
    assert (first.where.r_from, first.where.r_to) == (pytest.approx(29.5), pytest.approx(30))
    # 0.5 above its tip a nose of 0.8 reaches as far as its circle does there.
    reach = -10 + 0.8 - math.sqrt(0.8**2 - 0.3**2)
    assert first.where.z_from == pytest.approx(reach, abs=EXACT) and first.amount == pytest.approx(0.5)


def test_sliding_along_a_cut_face_is_no_contact() -> None:
    body = "G00 X50. Z2.\nG01 Z-30. F0.2\nG00 Z2.\nG01 X58. Z-20. F0.2\nG00 X50. Z2."
    assert kinds(body, turning()) == []


ZONE = (KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(120)),)


def test_a_keep_out_is_met_at_a_rapid_and_at_a_feed() -> None:
    near = "G00 X130. Z2.\nG00 Z-59.\n{}\nG00 X130."
    assert kinds(near.format("G01 X70. F0.2"), turning(), zones=ZONE) == []
    assert kinds("G00 X130. Z-61.\nG01 X110. F0.2\nX130.", turning(), zones=ZONE) == [INTO_KEEP_OUT] * 2
    assert kinds("G00 X130. Z-61.\nX110.\nX130.", turning(), zones=ZONE) == [INTO_KEEP_OUT] * 2


def test_a_keep_out_may_be_a_true_outline() -> None:
    centre = ((Fraction(0), Fraction(0)), (Fraction(40), Fraction(20)), (Fraction(0), Fraction(20)))
    zone = KeepOut("tailstock", Fraction(0), Fraction(20), Fraction(0), Fraction(40), "tailstock", centre)
    beside = "G00 X{} Z5.\nG00 X90."
    assert kinds(beside.format("16."), turning(0.0), zones=(zone,)) == [INTO_KEEP_OUT]
    assert kinds("G00 X90. Z1.\nX30.\nX90.", turning(0.0, shape="V", approach_angle=90), zones=(zone,)) == []


def test_a_holder_meets_material_that_its_edge_misses() -> None:
    holder = tuple((Fraction(x), Fraction(z)) for x, z in ((8, 2), (30, 2), (30, -20), (8, -20)))
    deep = "G00 X30. Z2.\nG01 Z-15. F0.2\nX64."
    assert kinds(deep, turning()) == []
    assert set(kinds(deep, turning(holder=holder))) == {BODY_INTO_MATERIAL}
    assert kinds("G00 X50. Z2.\nG01 Z-15. F0.2\nX64.", turning(holder=holder)) == []


@pytest.mark.parametrize(("thick", "axis", "met"), [(16, 9, False), (18, 10, False), (20, 11, True)])
def test_a_bar_reaches_across_the_centre_line(thick: int, axis: int, met: bool) -> None:
    """In a bore of radius 10 with its edge at 9, a bar's far side lies at 9 - axis - thick / 2: it must be less than 10 beyond the middle."""
    bar = replace(BORING, **exact(shank_diameter=thick, shank_axis=axis, reach=60))
    found = swept("G00 X18. Z5.\nG01 Z-40. F0.1\nG00 Z5.", sheet(bar, stock=TUBE)).contacts
    assert {contact.kind for contact in found} == ({BODY_INTO_MATERIAL} if met else set())
    assert all(contact.amount == pytest.approx(thick / 2 + axis - 9 - 10) for contact in found)


def test_a_blade_is_moved_sideways_no_deeper_than_it_may() -> None:
    blade = Tool(1, **exact(kind="grooving", blade_width=3, orientation=3, blade_depth=20, side_clearance="0.5"))
    groove = "G00 X64. Z-20.\nG01 X56. F0.1\n{}\nG00 X64."
    assert kinds(groove.format("Z-17."), blade) == [BLADE_SIDEWAYS]
    assert kinds("G00 X64. Z-20.\nG01 X59.2 F0.1\nZ-17.\nG00 X64.", blade) == []
    lacking = swept(groove.format("Z-17."), sheet(BLADE))
    assert any("side_clearance is not given" in gap.reason for gap in lacking.gaps)


def test_the_wall_that_a_blade_stands_at_is_not_what_it_takes_off_sideways() -> None:
    """A groove widened layer by layer: the blade begins each layer flush with the wall, which is higher than the layer is deep."""
    blade = Tool(1, **exact(kind="grooving", blade_width=3, orientation=3, blade_depth=20, side_clearance="1.5"))
    layers = "\n".join(f"G00 X62. Z-20.\nG01 X{60 - 2 * k}. F0.1\nZ-30." for k in range(1, 6))
    part = swept(f"G00 X64. Z-20.\nG01 X40. F0.1\nG00 X62.\n{layers}\nG00 X64.", sheet(blade))
    assert [c.kind for c in part.contacts] == []
    assert part.across[part.area > 0].tolist() == pytest.approx([3, 1, 1, 1, 1, 1], abs=1e-9)
    deep = "G00 X64. Z-20.\nG01 X56.8 F0.1\nZ-30.\nG00 X64."
    assert [c.kind for c in swept(deep, sheet(blade)).contacts] == [BLADE_SIDEWAYS]


def test_a_drill_past_its_flute_is_told_with_its_amount() -> None:
    part = swept("G00 X0. Z5.\nG01 Z-38. F0.1\nZ-43.5\nG00 Z5.", sheet(DRILL))
    assert [(c.kind, round(c.amount, 6)) for c in part.contacts if c.kind == DRILL_PAST_FLUTE] == [
        (DRILL_PAST_FLUTE, 3.5)
    ]


# -- what is not known ---------------------------------------------------------------------------------------------------


def test_without_a_stock_there_is_no_part() -> None:
    setup = sheet(turning())
    trace = traced(CLEAR, setup)
    assert turned_part(trace, generic_lathe(), None) is None


@pytest.mark.parametrize(
    ("tool", "reason"),
    [
        (Tool(1, "turning"), "shape and edge_length and nose_radius and orientation not given"),
        (replace(turning(), approach_angle=None), "approach_angle not given"),
        (Tool(1, "other"), "the outline of a tool of kind other is not known"),
        (Tool(1, "grooving"), "blade_width or orientation not given"),
        (Tool(1, "drill"), "diameter or point_angle not given"),
        (turning(7.0), "a nose radius of 7 mm does not fit an edge of 12 mm"),
    ],
)
def test_a_tool_without_an_outline_is_told_and_leaves_the_part_uncertain(tool: Tool, reason: str) -> None:
    part = swept(CLEAR, sheet(tool))
    assert not part.certain and part.left.area == pytest.approx(3000)
    assert {(gap.what, gap.reason) for gap in part.gaps if gap.cuts} == {("T1", reason)}


def test_a_tool_that_the_sheet_does_not_have_is_told() -> None:
    part = swept(CLEAR, sheet(turning(station=2)))
    assert not part.certain and part.gaps[-1].reason == "it is not in the setup sheet"


def test_after_a_cut_that_was_not_swept_material_is_not_said_to_be_met() -> None:
    head = "O1000 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0202\nG97 S500 M03\n"
    body = "G00 X50. Z2.\nG01 Z-30. F0.2\nX62.\nG00 X90. Z50.\nT0101\nG00 X64. Z-20.\nX51.\nX64."
    part = swept(body, sheet(turning()), head)
    assert not part.certain and part.contacts == ()
    assert any(gap.what == RAPID_INTO_MATERIAL and "could not be swept" in gap.reason for gap in part.gaps)


def test_a_cut_at_an_unknown_place_is_told() -> None:
    part = swept("G28 U0. W0.\nG01 U-10. W-20. F0.2", sheet(turning()))
    assert [gap.what for gap in part.gaps if gap.cuts] == ["cuts"] and not part.certain


@pytest.mark.parametrize(
    ("tool", "body", "reason"),
    [
        (turning(), "M05\nG00 X50. Z2.\nG01 Z-30. F0.2", "the spindle is stopped: what the tool takes off is no turned shape"),
        (DRILL, "G00 X20. Z5.\nG01 Z-30. F0.1", "a drill beside the centre line makes no turned shape"),
        (turning(), "G00 X-20. Z2.\nG01 Z-30. F0.1", "a cut on the far side of the centre line is not computed"),
        (
            Tool(1, **exact(kind="threading", profile_angle=60, nose_radius="0.1", orientation=8)),
            "G00 X58. Z2.\nG01 Z-30. F0.1",
            "a feed of a threading tool into material is not swept",
        ),
    ],
)  # fmt: skip
def test_what_is_not_turned_is_told(tool: Tool, body: str, reason: str) -> None:
    part = swept(body, sheet(tool))
    assert not part.certain and part.left.area == pytest.approx(3000)
    assert [gap.reason for gap in part.gaps if gap.cuts] == [reason]


THREADER = Tool(1, **exact(kind="threading", profile_angle=60, nose_radius="0.1", orientation=8))


def test_thread_passes_leave_their_crest_and_their_groove_is_clear() -> None:
    body = "G00 X62. Z4.\nX57.\nG32 Z-30. F2.\nG00 X62."
    part = swept(body, sheet(THREADER))
    assert part.certain and part.left.area == pytest.approx(3000)
    (one,) = part.threads
    assert (one.lead, one.start, one.end, one.inside) == (2, (4.0, 28.5), (-30.0, 28.5), False)
    assert swept(body + "\nZ-40.\nX57.", sheet(THREADER)).contacts[0].kind == RAPID_INTO_MATERIAL


# -- against a second sweep -----------------------------------------------------------------------------------------------

outlines = st.sampled_from([turning(), turning(0.4, 4), turning(1.2, shape="T", approach_angle=91), BLADE, BORING])
points = st.tuples(st.integers(0, 70), st.integers(-1100, 100))


@settings(max_examples=40, deadline=None)
@given(tool=outlines, path=st.lists(points, min_size=2, max_size=12))
def test_any_path_takes_what_hulls_of_the_outline_take(tool: Tool, path: list[tuple[int, int]]) -> None:
    start, *ways = [(x, z / 10) for x, z in path]
    setup = sheet(tool)
    body = f"G00 X{start[0]:.3f} Z{start[1]:.3f}\n" + "\n".join(f"G01 X{x:.3f} Z{z:.3f} F0.2" for x, z in ways)
    part = swept(body, setup)
    outline = tool_outline(tool)
    assert isinstance(outline, ToolOutline) and setup.stock is not None
    left, here = stock_section(setup.stock), start
    for end in ways:
        ends = np.concatenate([outline.edge + np.array([z, x / 2]) for x, z in (here, end)])
        left, here = left.difference(shapely.MultiPoint(ends).convex_hull), end
    assert part.left.symmetric_difference(left).area == pytest.approx(0, abs=1e-6)
    assert part.area.sum() == pytest.approx(3000 - left.area, abs=1e-6)


BEGIN = "G00 X64. Z2.\n"
WORDS = st.sampled_from(
    ["G00 X{:.1f}", "G01 X{:.1f} F0.2", "G00 Z-{:.1f}", "G01 Z-{:.1f} F0.2", "T0101", "G00 X64. Z2."]
)
LINES = st.lists(st.builds(str.format, WORDS, st.integers(200, 640).map(lambda n: n / 10)), min_size=20, max_size=60)


@settings(max_examples=25, deadline=None)
@given(lines=LINES, at=st.integers(0, 59), other=st.builds(str.format, WORDS, st.integers(20, 64)))
def test_going_on_where_another_program_parts_gives_the_same_part(lines: list[str], at: int, other: str) -> None:
    """Every column, contact and gap is that of a sweep from the beginning."""
    setup = sheet(turning(), zones=ZONE)
    edited = [*lines[:at], other, *lines[at:]]
    base = sweep(traced(BEGIN + "\n".join(lines), setup), generic_lathe(), setup)
    trace = traced(BEGIN + "\n".join(edited), setup)
    assert base is not None
    on, alone = sweep(trace, generic_lathe(), setup, [base]), sweep(trace, generic_lathe(), setup)
    assert on is not None and alone is not None
    agree(on.part, alone.part)


def test_a_program_with_the_same_beginning_is_swept_from_where_it_parts() -> None:
    setup = sheet(turning())
    cuts = [f"G00 X{58 - k / 10:.1f} Z2.\nG01 Z-30. F0.2\nX62." for k in range(60)]
    base = sweep(traced("\n".join(cuts), setup), generic_lathe(), setup)
    assert base is not None
    last = traced("\n".join([*cuts[:-1], cuts[-1].replace("Z-30.", "Z-31.")]), setup)

    def work(*like: Swept) -> int:
        return calls(lambda: sweep(last, generic_lathe(), setup, like))

    assert work(base) < work() / 4


PARTING = Tool(1, **exact(kind="parting", blade_width=3, nose_radius=0, orientation=3, blade_depth=40))
OFF = "G00 X64. Z-50.\nG01 X-0.2 F0.05\nG00 X64.\n"


def test_a_piece_is_cut_free_only_when_it_is_through() -> None:
    part = swept(OFF, sheet(PARTING))
    (free,) = part.contacts
    assert free.kind == CUT_FREE and free.amount == pytest.approx(47)
    assert part.left.area == pytest.approx(3000 - 3 * 30)  # what fell is still part of what was made
    assert kinds(OFF.replace("X-0.2", "X0.2"), PARTING) == []


def test_a_tube_is_through_at_its_bore() -> None:
    assert kinds(OFF.replace("X-0.2", "X19.8"), PARTING, stock=TUBE) == [CUT_FREE]
    assert kinds(OFF.replace("X-0.2", "X20.2"), PARTING, stock=TUBE) == []


def test_what_goes_where_the_loose_piece_was_is_told() -> None:
    assert kinds(OFF + "Z-20.\nG01 X58. F0.1\nG00 X64.", PARTING) == [CUT_FREE, LOOSE_PIECE_MET]
    assert kinds(OFF + "Z-60.\nG01 X50. F0.1\nG00 X64.", PARTING) == [CUT_FREE]
