"""The sweep that works in slabs, boxes and batches gives what a plain one gives, move by move, on random programs."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.parts import exact, sheet, turning
from tests.geometry.slow_sweep import slow_sweep
from verifier.control import execute
from verifier.geometry import RAPID_INTO_MATERIAL, ToolOutline, section, sweep, tool_outline
from verifier.geometry.depth import greatest_depth, greatest_depths
from verifier.geometry.section import Box
from verifier.geometry.sweep import path_points, swept_legs, swept_path
from verifier.geometry.taken import measures
from verifier.machines import Setup, Tool, generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

ROUND = Tool(2, **exact(kind="turning", shape="R", edge_length=6, nose_radius=3, orientation=8))
BLADE = Tool(3, **exact(kind="grooving", blade_width=3, nose_radius="0.2", orientation=3, side_clearance=2))
SHEET = sheet(turning(), ROUND, BLADE)
HEAD = "O1\nG21 G40 G99 G97 S500 M03\n"

# Nothing is cut free: what lets a piece go has tests of its own.
diameters = st.integers(20, 70).map(float) | st.integers(200, 620).map(lambda v: v / 10)
lengths = st.integers(-96, 4).map(float) | st.integers(-960, 40).map(lambda v: v / 10)


@st.composite
def blocks(draw: st.DrawFn) -> str:
    """Some moves of each tool: rapids, feeds along one axis or aslant, and arcs around what they start at."""
    lines = []
    for tool in draw(st.lists(st.sampled_from((1, 2, 3)), min_size=1, max_size=4)):
        lines += [f"T0{tool}0{tool}", "G00 X80. Z10."]
        for _ in range(draw(st.integers(2, 10))):
            lines.append(draw(st.sampled_from((_line, _line, _along, _arc, _pecks)))(draw))
    return "\n".join(lines)


def _line(draw: st.DrawFn) -> str:
    code = draw(st.sampled_from(("G00", "G01")))
    return f"{code} X{draw(diameters):.3f} Z{draw(lengths):.3f}" + (" F0.2" if code == "G01" else "")


def _along(draw: st.DrawFn) -> str:
    word = f"X{draw(diameters):.3f}" if draw(st.booleans()) else f"Z{draw(lengths):.3f}"
    return f"G01 {word} F0.2"


def _pecks(draw: st.DrawFn) -> str:
    """Cuts that go on along one line, back a little between them, by a rapid or at a feed, or not at all."""
    word, place = draw(st.sampled_from((("X", diameters), ("Z", lengths))))
    at, lines = draw(place), []
    for _ in range(draw(st.integers(2, 5))):
        back = draw(st.sampled_from(("", "G00", "G01")))
        at -= draw(st.integers(1, 40)) / 10
        lines.append(f"G01 {word}{at:.3f} F0.1")
        if back:
            lines.append(f"{back} {word}{at + draw(st.integers(1, 30)) / 10:.3f}")
    return "\n".join(lines)


def _arc(draw: st.DrawFn) -> str:
    """A quarter or less of a circle, by increments, so that it goes from wherever the tool is."""
    code, radius = draw(st.sampled_from(("G02", "G03"))), draw(st.integers(5, 90)) / 10
    angle = draw(st.sampled_from((0.3, 0.8, math.pi / 2)))
    away = radius * math.sin(angle), radius * (1 - math.cos(angle))
    return f"{code} U{2 * away[1]:.3f} W{-away[0]:.3f} R{radius:.3f} F0.1"


SLIVER = 1e-3
"""Area in mm2 of a sliver half a millimetre long and as thick as is not counted."""


def _compare(body: str, setup: Setup = SHEET) -> None:
    program = parse(read_source(f"{HEAD}{body}\nM30\n".encode(), "part.nc"))
    machine = generic_lathe()
    trace = execute(program, machine, setup=setup)
    fast, slow = sweep(trace, machine, setup), slow_sweep(trace, machine, setup)
    assert fast is not None
    part = fast.part
    assert shapely.symmetric_difference(part.left, slow.left).area < 1e-7
    # What is taken twice by a rounding of floats is no cut.
    sure = {k for k, (area, _, _) in slow.taken.items() if area > 1e-6}
    assert sure <= set(np.flatnonzero(part.area > 0).tolist())
    assert all(part.area[k] < 2e-6 for k in np.flatnonzero(part.area > 0).tolist() if k not in sure)
    for k in sure:
        area, volume, across = slow.taken[k]
        assert part.area[k] == pytest.approx(area, abs=1e-7)
        assert part.volume[k] == pytest.approx(volume, abs=1e-5)
        if area > 1e-3:
            assert part.across[k] == pytest.approx(across, abs=1e-6)
    met = {found.move: found.where.area for found in part.contacts if found.kind == RAPID_INTO_MATERIAL and found.where}
    assert set(met) == set(slow.met), body
    # A sliver thinner than what counts as met goes with the piece that it hangs on, and rounding may leave it apart on one side.
    near = {k: pytest.approx(area, rel=1e-6, abs=SLIVER) for k, area in slow.met.items()}
    assert not [(k, met[k], area) for k, area in near.items() if met[k] != area], body


@given(body=blocks())
@settings(max_examples=60, deadline=None)
def test_as_the_plain_way(body: str) -> None:
    _compare(body)


@given(body=blocks())
@settings(max_examples=25, deadline=None)
def test_as_the_plain_way_in_many_narrow_slabs(body: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(section, "_MOST_POINTS", 12)
        _compare(body)


def test_pecks_through_nothing_but_material_need_no_overlay(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Box] = []
    cut = section.Section.cut

    def counted(self: section.Section, tool: shapely.Geometry, box: Box) -> section.Geometries | None:
        asked.append(box)
        return cut(self, tool, box)

    monkeypatch.setattr(section.Section, "cut", counted)
    pecks = "\n".join(f"G01 X{diameter}. F0.1\nG00 X{diameter + 1}." for diameter in range(58, 30, -2))
    _compare(f"T0303\nG00 X62. Z-20.\n{pecks}\nG00 X80.")
    assert len(asked) == 1
    asked.clear()
    # Beside a groove that is there already there is not only material.
    _compare(f"T0303\nG00 X62. Z-22.\nG01 X30. F0.1\nG00 X62.\nZ-20.\n{pecks}\nG00 X80.")
    assert len(asked) == 15


def test_a_cut_that_goes_on_into_an_earlier_row_of_pecks() -> None:
    pecks = "\n".join(f"G01 X{diameter}. F0.1\nG00 X{diameter + 1}." for diameter in (50, 40, 30, 20))
    away = "G28 U0. W0.\nG00 X62. Z-60."  # over a place that only the machine knows: no move leads out of the hollow
    _compare(f"T0202\nG00 X62. Z-20.\nG01 X58. F0.1\n{pecks}\n{away}\nG01 X36. F0.1\nZ-50.\nZ-10.\nG00 X80.")


corners = st.tuples(st.integers(-200, 200), st.integers(-200, 200)).map(lambda p: (p[0] / 20, p[1] / 20))
hulls = st.lists(corners, min_size=3, max_size=12).map(lambda points: shapely.convex_hull(shapely.multipoints(points)))
edges = hulls.filter(lambda hull: hull.geom_type == "Polygon")
ways = st.tuples(corners, corners)


@given(edge=edges, legs=st.lists(ways | corners.map(lambda p: (p, p)), min_size=1, max_size=6))
@settings(max_examples=80, deadline=None)
def test_what_a_polygon_passes_over_is_the_hull_of_both_ends(
    edge: shapely.Geometry, legs: list[tuple[tuple[float, float], tuple[float, float]]]
) -> None:
    ring = _ring(edge)
    starts, ends = (np.array([leg[k] for leg in legs]) for k in (0, 1))
    for start, end, passed in zip(starts, ends, swept_legs(ring, starts, ends), strict=True):
        hull = shapely.convex_hull(shapely.multipoints(np.concatenate((ring + start, ring + end))))
        assert passed.is_valid or passed.area < 1e-9
        assert shapely.symmetric_difference(passed, hull).area < 1e-9


def test_an_edge_along_the_way_leaves_no_corner_on_a_straight_line() -> None:
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    for end in ((5.0, 0.0), (-5.0, 0.0), (0.0, 5.0), (0.0, -5.0)):
        passed = swept_legs(square, np.zeros((1, 2)), np.array([end]))[0]
        assert shapely.get_num_coordinates(passed) == 5 and passed.area == 6


def _ring(edge: shapely.Geometry) -> np.ndarray:
    return np.asarray(shapely.get_coordinates(shapely.orient_polygons(edge))[:-1])


def _legs_united(ring: np.ndarray, way: np.ndarray) -> shapely.Geometry:
    hulls = [
        shapely.convex_hull(shapely.multipoints(np.concatenate((ring + a, ring + b))))
        for a, b in itertools.pairwise(way)
    ]
    return shapely.union_all(hulls)


@given(edge=edges, way=st.lists(corners, min_size=3, max_size=9))
@settings(max_examples=150, deadline=None)
def test_any_way_passes_over_what_its_legs_pass_over(edge: shapely.Geometry, way: list[tuple[float, float]]) -> None:
    """Ways that cross themselves, turn back and leave holes among them."""
    points = np.array(way)
    passed = swept_path(_ring(edge), points)
    assert shapely.symmetric_difference(passed, _legs_united(_ring(edge), points)).area < 1e-9


@given(
    tool=st.sampled_from((turning(), ROUND, BLADE)),
    radius=st.floats(-3.5, 1.2).map(lambda power: 10**power),
    first=st.floats(0, 6.3) | st.sampled_from((0.0, math.pi / 2, math.pi)),
    turn=st.sampled_from((0.3, 0.8, math.pi / 2, math.pi, 1.5 * math.pi, 2 * math.pi)),
    clockwise=st.booleans(),
)
@settings(max_examples=100, deadline=None)
def test_an_arc_passes_over_what_its_chords_pass_over(
    tool: Tool, radius: float, first: float, turn: float, clockwise: bool
) -> None:
    """Tighter than the nose and wider, up to the full circle, which leaves a hole."""
    outline = tool_outline(tool)
    assert isinstance(outline, ToolOutline)
    centre, last = np.array((12.3, -4.5)), first - turn if clockwise else first + turn
    start, end = (centre + radius * np.array((math.cos(a), math.sin(a))) for a in (first, last))
    points = path_points(start, start if turn > 6 else end, centre, clockwise_in_zr=clockwise)
    passed = swept_path(outline.edge, points)
    assert shapely.symmetric_difference(passed, _legs_united(outline.edge, points)).area < 1e-9


@given(shapes=st.lists(edges, min_size=1, max_size=8), way=st.lists(corners, min_size=8, max_size=8))
@settings(max_examples=60, deadline=None)
def test_many_moves_measured_at_once_are_each_measured_alone(
    shapes: list[shapely.Geometry], way: list[tuple[float, float]]
) -> None:
    """Bit for bit: the rounding of one move does not reach into the next, whatever it took off."""
    move = np.arange(len(shapes)) // 2
    along = np.array(way[: int(move[-1]) + 1])
    parts = np.array(shapes, object)
    together = greatest_depths(parts, move, along)
    whole = measures(parts, move, along)
    for k in range(len(along)):
        own = parts[move == k]
        assert together[k] == greatest_depth(own, (float(along[k, 0]), float(along[k, 1])))
        assert whole[k] == pytest.approx(measures(own, np.zeros(len(own), np.int64), along[k : k + 1])[0], rel=1e-12)
        assert whole[k, 0] == pytest.approx(sum(part.area for part in own), rel=1e-12)


@pytest.mark.parametrize("again", ["G01 X40. Z0.", "G01 X40.", "G01 Z0."])
def test_a_feed_that_goes_nowhere_clears_nothing_for_the_rapid_behind_it(again: str) -> None:
    body = f"T0101\nG00 X70. Z5.\nG00 X40. Z0.\n{again} F0.2\nG00 Z-20.\n"
    program = parse(read_source(f"{HEAD}{body}\nM30\n".encode(), "part.nc"))
    machine = generic_lathe()
    found = sweep(execute(program, machine, setup=SHEET), machine, SHEET)
    assert found is not None
    last = max(one.move for one in found.part.contacts if one.kind == RAPID_INTO_MATERIAL)
    assert last == len(found.trace.moves) - 1
