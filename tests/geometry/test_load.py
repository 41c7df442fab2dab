"""The load of cuts: laws over generated passes, which moves finish, how edges stand, what is not known; against shapely and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import exact, sheet, traced, turning
from tests.work import calls
from verifier.control import Trace
from verifier.geometry import Load, TurnedPart, cutting_load, times, turned_part
from verifier.geometry.depth import greatest_depth
from verifier.geometry.engagement import edge_angles, edge_in_cut, tool_edges
from verifier.geometry.kienzle import cutting_force
from verifier.machines import Material, Setup, Stock, Tool, generic_lathe

STEEL = Material("42CrMo4", Fraction(2500), Fraction("0.26"))
TUBE = Stock("tube", Fraction(60), Fraction(20), Fraction(100), Fraction(0))
BORING = Tool(1, **exact(kind="boring", shape="C", edge_length=6, approach_angle=95, nose_radius="0.4", orientation=2))
DRILL = Tool(1, **exact(kind="drill", diameter=10, point_angle=118, orientation=7, flute_length=40))
BLADE = Tool(1, **exact(kind="grooving", blade_width=3, nose_radius=0, orientation=3, blade_depth=20))


def worked(body: str, setup: Setup | None = None, head: str | None = None) -> tuple[Trace, TurnedPart, Load]:
    """A program of T1 on a bar of 60 in 42CrMo4, its part and its load."""
    steel = setup if setup is not None else replace(sheet(turning()), material=STEEL)
    trace = traced(body, steel, head) if head else traced(body, steel)
    part = turned_part(trace, generic_lathe(), steel)
    assert part is not None
    return trace, part, cutting_load(trace, generic_lathe(), steel, part)


def steel(*tools: Tool, stock: Stock | None = None) -> Setup:
    return replace(sheet(*tools, stock=stock), material=STEEL)


def finishing(trace: Trace, load: Load) -> list[int]:
    """The lines of the body (from 1) whose moves leave finished surface."""
    return sorted({int(trace.moves.block[k]) - 3 for k in np.flatnonzero(load.finishes).tolist()})


# -- laws ---------------------------------------------------------------------------------------------------------------

amount = st.integers(2, 40).map(lambda k: Fraction(k, 10))
feeds = st.integers(5, 50).map(lambda k: Fraction(k, 100))


@given(depth=amount, feed=feeds, rpm=st.integers(100, 3000), outside=st.booleans())
@settings(max_examples=40, deadline=None)
def test_swept_volume_by_time_is_the_removal_rate(depth: Fraction, feed: Fraction, rpm: int, outside: bool) -> None:
    """Q = v ap f on a straight pass, outside or in a bore, with a real nose; power is force times speed there."""
    tool = turning() if outside else BORING
    setup = steel(tool, stock=None if outside else TUBE)
    x = 60 - 2 * depth if outside else 20 + 2 * depth
    trace, part, load = worked(
        f"G00 X{float(x):.3f} Z2.\nG01 Z-30. F{float(feed):.2f}\nX{64 if outside else 18}.", setup,
        f"O1000 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S{rpm} M03\n",
    )  # fmt: skip
    k = int(np.flatnonzero(part.area > 0)[0])
    minutes = times(trace, generic_lathe()).moves[k] / 60 * 30 / 32  # the pass begins 2 mm before the face
    rate = load.cutting_speed[k, 0] * load.depth[k] * load.feed[k, 0]
    # The corner that the nose leaves at the end, and the first half millimetre, are all that is not the straight pass.
    assert part.volume[k] / 1000 / minutes == pytest.approx(rate, rel=0.02)
    assert load.depth[k] == pytest.approx(float(depth), rel=1e-6)
    assert load.power[k] == pytest.approx(load.force[k] * load.cutting_speed[k] / 60_000, rel=1e-12)
    assert load.torque[k] * 2 * math.pi * rpm / 60_000 == pytest.approx(load.power[k], rel=1e-9)


@given(width=st.floats(0.01, 20), thickness=st.floats(0.01, 1.0), factor=st.floats(0.1, 10))
def test_force_goes_with_the_width(width: float, thickness: float, factor: float) -> None:
    one, more = (cutting_force(STEEL, np.array([w]), np.array([thickness]))[0] for w in (width, width * factor))
    assert more == pytest.approx(one * factor, rel=1e-9)


@given(first=feeds, second=feeds)
@settings(max_examples=20, deadline=None)
def test_more_feed_takes_more_force_but_less_than_as_much_more(first: Fraction, second: Fraction) -> None:
    low, high = sorted((first, second))
    forces = [worked(f"G00 X54. Z2.\nG01 Z-20. F{float(f):.2f}\nX64.")[2].force.max() for f in (low, high)]
    assert forces[0] <= forces[1] <= forces[0] * float(high / low) * (1 + 1e-12)


# -- depth of cut ---------------------------------------------------------------------------------------------------------

polygon = st.lists(
    st.tuples(st.integers(0, 400).map(lambda v: v / 20), st.integers(0, 100).map(lambda v: v / 20)),
    min_size=3,
    max_size=8,
).map(lambda points: shapely.convex_hull(shapely.multipoints(points)))


@given(shapes=st.lists(polygon, min_size=1, max_size=3), angle=st.integers(0, 359))
@settings(max_examples=60, deadline=None)
def test_greatest_depth_against_slices(shapes: list[shapely.Geometry], angle: int) -> None:
    """Windows of half a millimetre over the union, cut out by shapely at many places."""
    whole = shapely.union_all(shapes)
    if whole.area < 0.1 or whole.geom_type not in ("Polygon", "MultiPolygon"):
        return
    way = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    turned = shapely.affinity.rotate(whole, -angle, origin=(0, 0))
    low, _, high, _ = turned.bounds
    window = min(0.5, high - low)
    areas = [
        shapely.intersection(turned, shapely.box(at, -99, at + window, 99)).area / window
        for at in np.linspace(low, high - window, 60)
    ]
    found = greatest_depth(np.array([whole], object), way)
    assert found >= max(areas) - 1e-6
    assert found <= max(areas) * 1.35 + 1e-6  # sixty places need not hold the very best one


def test_the_last_wedge_at_a_shoulder_is_no_depth_of_cut() -> None:
    """0.1 mm left on a shoulder touch 1.1 mm of an edge at 95 degrees, for a tenth of a millimetre of the way."""
    _, part, load = worked("G00 X50. Z2.\nG01 Z-20. F0.3\nX64.\nG00 Z2.\nX49.5\nG01 Z-20.1 F0.1\nX64.")
    last = int(np.flatnonzero(part.area > 0)[-2])
    assert part.across[last] > 1.2
    assert 0.25 < load.depth[last] < 0.5


def test_a_ramp_is_as_deep_as_its_end() -> None:
    _, _, load = worked("G00 X60. Z0.\nG01 X50. Z-50. F0.2\nX64.")
    assert load.depth.max() == pytest.approx(5 * math.cos(math.atan(0.1)), rel=0.02)


# -- edges ------------------------------------------------------------------------------------------------------------------


def degrees_of(tool: Tool, z: float, r: float) -> tuple[float, float]:
    edges = tool_edges(tool)
    assert edges is not None
    length = math.hypot(z, r)
    ahead, flattest = edge_angles(edges, np.array([[z / length, r / length]]))
    return math.degrees(ahead[0]), math.degrees(flattest[0])


@pytest.mark.parametrize("orientation", [3, 2])
def test_an_80_degree_insert_at_95_stands_alike_to_a_turning_and_a_facing_feed(orientation: int) -> None:
    """ISO 5608 style L: 95 degrees to both, 5 degrees behind the nose; pulled along its edge it drags at 5 degrees."""
    out = 1 if orientation == 3 else -1
    assert degrees_of(turning(orientation=orientation), -1, 0) == pytest.approx((95, 5))
    assert degrees_of(turning(orientation=orientation), 0, -out) == pytest.approx((95, 5))
    assert degrees_of(turning(orientation=orientation), 0, out) == pytest.approx((5, 5))


def test_a_plunge_along_the_middle_leaves_no_surface() -> None:
    ahead, flattest = degrees_of(turning(), -1, -1)
    assert ahead == pytest.approx(140) and math.isnan(flattest)


@given(depth=st.floats(0.001, 8), nose=st.floats(0.05, 3), angle=st.floats(10, 170))
def test_the_edge_in_the_cut_against_its_outline(depth: float, nose: float, angle: float) -> None:
    """Length of nose circle and tangent edge below a depth, measured by shapely on the outline itself."""
    kappa = math.radians(angle)
    arc = np.linspace(0, kappa, 3000)
    points = np.stack((nose * np.sin(arc), nose * (1 - np.cos(arc))), 1)
    end = points[-1] + 2000 * np.array([math.cos(kappa), math.sin(kappa)])
    line = shapely.LineString([*points.tolist(), end.tolist()])
    length = shapely.intersection(line, shapely.box(-9999, -1, 9999, depth)).length
    found = edge_in_cut(np.array([depth]), np.array([nose]), np.array([kappa]))[0]
    assert found == pytest.approx(length, rel=1e-3)


def test_a_drill_cuts_with_two_edges() -> None:
    """Handbook: each edge takes half the feed, h = f/2 sin(sigma/2), and the power is kc times the removal rate pi D^2/4 f n."""
    _, part, load = worked("G00 X0. Z2.\nG01 Z-30. F0.2\nG00 Z2.", steel(DRILL))
    k = int(np.flatnonzero(part.area > 0)[0])
    h = 0.1 * math.sin(math.radians(59))
    assert load.thickness[k, 1] == pytest.approx(h)
    rate = math.pi * 100 / 4 * 0.2 * 500
    # Its point makes the middle of the swarf a little nearer to the centre than that of a plain cylinder.
    assert load.power[k, 1] == pytest.approx(2500 * h**-0.26 * rate / 60e6, rel=0.05)


def test_a_blade_takes_its_width() -> None:
    _, _, load = worked("G00 X62. Z-20.\nG01 X40. F0.1\nG00 X62.", steel(BLADE))
    k = int(np.flatnonzero(load.cuts)[0])
    assert load.depth[k] == pytest.approx(3) and load.thickness[k, 0] == pytest.approx(0.1)
    assert load.cutting_speed[k, 0] == pytest.approx(2 * math.pi * 30 * 500 / 1000)  # never beyond the stock
    assert load.cutting_speed[k, 1] == pytest.approx(2 * math.pi * 20 * 500 / 1000)


# -- the surface that is left -------------------------------------------------------------------------------------------------

ROUGH_AND_FINISH = """G00 X52. Z2.
G01 Z-29.9 F0.3
X64.
G00 Z2.
X50.
G01 Z-30. F0.1
X64."""


def test_only_the_finishing_moves_leave_the_surface() -> None:
    trace, _, load = worked(ROUGH_AND_FINISH)
    assert finishing(trace, load) == [6, 7]
    turned = np.flatnonzero(load.finishes)[0]
    assert load.surface.radius[turned] == pytest.approx(25) and math.isnan(load.surface.face[turned])
    assert load.surface.face[np.flatnonzero(load.finishes)[1]] == pytest.approx(-30)
    assert load.roughness[turned] == pytest.approx(1000 * (0.8 - math.sqrt(0.64 - 0.0025)))
    assert load.simple_roughness[turned] == pytest.approx(1.5625)
    assert np.isnan(load.roughness[~load.finishes]).all()


def test_a_spring_pass_leaves_the_surface_and_takes_nothing() -> None:
    trace, part, load = worked(ROUGH_AND_FINISH + "\nG00 Z2.\nX50.\nG01 Z-30. F0.05\nX64.")
    assert finishing(trace, load) == [10, 11]
    assert part.area[np.flatnonzero(load.finishes)].max() == pytest.approx(0, abs=1e-3)
    assert load.roughness[load.finishes][0] < 0.5


def test_a_groove_beside_it_does_not_take_a_surface_from_its_pass() -> None:
    both = "O1 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\n"
    body = ROUGH_AND_FINISH + "\nG00 X80. Z20.\nT0202\nG00 X66. Z-15.\nG01 X45. F0.1\nG00 X66."
    trace, _, load = worked(body, steel(turning(), replace(BLADE, station=2)), both)
    assert finishing(trace, load) == [6, 7]


def test_a_bore_and_an_arc() -> None:
    trace, _, load = worked(
        "G00 X30. Z2.\nG01 Z-10. F0.1\nG02 X26. Z-12. R2.\nG01 Z-30.\nX18.", steel(BORING, stock=TUBE)
    )
    assert finishing(trace, load) == [2, 3, 4, 5]
    arc = np.flatnonzero(load.finishes)[1]
    assert load.roughness[arc] == pytest.approx(1000 * (0.4 - math.sqrt(0.16 - 0.0025)))
    assert math.isnan(load.surface.radius[arc]) and math.isnan(load.surface.face[arc])


def test_a_feed_beyond_the_circle_is_told_by_the_edge_behind_it() -> None:
    """0.3 with a nose of 0.8 and 5 degrees behind it: 2 r sin 5 is 0.139, and the straight edge takes the crests lower."""
    _, _, load = worked("G00 X50. Z2.\nG01 Z-30. F0.3\nX64.")
    assert load.roughness[load.finishes][0] < load.simple_roughness[load.finishes][0] == pytest.approx(14.0625)


# -- what is not known --------------------------------------------------------------------------------------------------------

PASS = "G00 X50. Z2.\nG01 Z-30. F0.3\nX64."


def told(load: Load) -> list[str]:
    return [f"{gap.what}: {gap.reason}" for gap in load.gaps]


def test_without_a_material_there_is_a_section_and_no_force() -> None:
    _, _, load = worked(PASS, sheet(turning()))
    assert load.depth.max() == pytest.approx(5) and load.section.max() == pytest.approx(1.5)
    assert np.isnan(load.power[load.cuts]).all() and (load.power[~load.cuts] == 0).all()
    assert told(load) == ["force and power: the setup sheet names no material"]


def test_a_tool_that_the_sheet_does_not_know_has_no_load_that_is_known() -> None:
    _, _, load = worked(PASS, steel(turning(station=2)))
    assert not load.cuts.any() and np.isnan(load.power[1:3]).all()


def test_without_a_speed_there_is_a_force_and_no_power() -> None:
    _, _, load = worked(PASS, head="O1000 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nM03\n")
    assert (load.force[load.cuts] > 0).all() and np.isnan(load.power[load.cuts]).all()
    assert "speed at the cut: no spindle speed is established" in told(load)


def test_without_a_feed_there_is_a_depth_only() -> None:
    _, _, load = worked(PASS.replace(" F0.3", ""))
    assert load.depth.max() == pytest.approx(5) and np.isnan(load.force[load.cuts]).all()
    assert "feed at the cut: it is not known" in told(load)


def test_a_feed_per_minute_is_one_per_revolution_at_that_speed() -> None:
    per_minute, per_turn = worked("G98\n" + PASS.replace("F0.3", "F150."))[2], worked("G99\n" + PASS)[2]
    assert per_minute.power == pytest.approx(per_turn.power, rel=1e-9)


def test_what_follows_an_unswept_cut_says_so() -> None:
    _, _, load = worked(PASS + "\nT0202\nG00 X66. Z-15.\nG01 X45. F0.1\nG00 X66.", steel(turning()))
    assert any("could not be swept" in line for line in told(load))


# -- cost -----------------------------------------------------------------------------------------------------------------


def test_the_work_grows_no_faster_than_the_moves() -> None:
    """Calls of Python functions for four times as many passes: the columns are worked out together, not move by move."""
    counts = []
    for count in (100, 400):
        body = "G00 X62. Z2.\n" + "".join(
            f"G00 X{60 - k * 0.05:.2f}\nG01 Z-{10 + k % 7}. F0.2\nX64.\nG00 Z2.\n" for k in range(count)
        )
        setup = steel(turning())
        trace = traced(body, setup)
        part = turned_part(trace, generic_lathe(), setup)
        assert part is not None
        counts.append(
            calls(lambda trace=trace, setup=setup, part=part: cutting_load(trace, generic_lathe(), setup, part))
        )
    assert counts[1] < 1.5 * counts[0]
