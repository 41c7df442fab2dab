"""What stands beside the tool at work, held against the turret turned in space, point by point."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import cos, hypot, pi, sin
from typing import Any

import numpy as np
import pytest
import shapely

from tests.geometry.parts import HEAD, exact, sheet, swept, traced, turning
from verifier.geometry import (
    BORE_LEFT_SIDEWAYS,
    CHANGE_NEAR,
    NEIGHBOUR_MET,
    RAPID_INTO_MATERIAL,
    SWING_MET,
    TurnedPart,
    sweep,
    tool_outline,
)
from verifier.geometry.turret import TurretRoom
from verifier.machines import KeepOut, Setup, Stock, Tool, Turret, content_digest, generic_lathe

JAWS = KeepOut("jaws", Fraction(-100), Fraction(-60), Fraction(0), Fraction(240), "jaws")
HOLDER = (
    (Fraction(0), Fraction(6)),
    (Fraction(0), Fraction(26)),
    (Fraction(60), Fraction(26)),
    (Fraction(60), Fraction(6)),
)


def placed(tool: Tool, axis: float = 200, face: float = 0, **more: Any) -> Tool:
    return replace(tool, **exact(from_turret_axis=axis, from_turret_face=face, **more))


def drill(station: int, axis: float = 165, face: float = 50) -> Tool:
    given = exact(kind="drill", diameter=20, point_angle=118, orientation=7, flute_length=face - 5)
    return placed(Tool(station, **given), axis, face)


def on_turret(*tools: Tool, stations: int = 12, zones: tuple[KeepOut, ...] = (JAWS,), **ring: Any) -> Setup:
    setup = replace(sheet(*tools, zones=zones), turret=Turret(stations, **exact(**ring)))
    return replace(setup, digest=content_digest(setup))


def room(setup: Setup) -> TurretRoom:
    return TurretRoom(setup, {n: tool_outline(tool) for n, tool in setup.tools.items()})


def in_space(tool: Tool, turns: np.ndarray[Any, Any], axis: float, face: float) -> np.ndarray[Any, Any]:
    """Points all over a tool (holder as wide as it is, a drill round), turned about the turret's axis: their Z and distance from the centre line."""
    outline = tool_outline(tool)
    assert not isinstance(outline, str) and tool.from_turret_axis is not None and tool.from_turret_face is not None
    rng = np.random.default_rng(7)
    found = []
    for shape in (outline.edge, *outline.bodies):
        z0, r0, z1, r1 = shapely.polygons(shape).bounds
        cloud = rng.uniform((z0, r0), (z1, r1), (3000, 2))
        inside = shapely.contains_xy(shapely.polygons(shape), cloud)
        points = np.concatenate((cloud[inside], shape))
        if tool.kind == "drill":
            around = rng.uniform(0, 2 * pi, len(points))
            down, y = points[:, 1] * np.cos(around), points[:, 1] * np.sin(around)
        else:
            down, y = points[:, 1], rng.choice([-0.5, 0.5], len(points)) * float(tool.holder_width or 0)
        rho = float(tool.from_turret_axis) - down
        for turn in turns:
            # The station at work points from the turret's axis at (axis, 0) to the centre line at (0, 0).
            x = axis - rho * cos(turn) + y * sin(turn)
            across = rho * sin(turn) + y * cos(turn)
            z = face - float(tool.from_turret_face) + points[:, 0]
            found.append(np.stack((z, np.hypot(x, across)), 1))
    return np.concatenate(found)


@pytest.mark.parametrize("other", [drill(2), placed(turning(station=11), holder=HOLDER, holder_width=25)])
def test_a_neighbour_stands_where_turning_the_turret_in_space_puts_it(other: Tool) -> None:
    setup = on_turret(placed(turning(), 200, 30), other)
    way = np.array([[2.0, 60.0], [-20.0, 10.0]])
    ((name, passed),) = room(setup).beside(1, way)
    turn = 2 * pi * (other.station - 1) / 12
    stops = [way[0] + t * (way[1] - way[0]) for t in np.linspace(0, 1, 60)]
    points = np.concatenate([in_space(other, np.array([turn]), r + 200, z + 30) for z, r in stops])
    assert name == f"T{other.station}"
    assert float(shapely.distance(shapely.points(points), passed).max()) < 0.01
    # And it is no larger than it must be.
    assert passed.bounds == pytest.approx((*points.min(axis=0), *points.max(axis=0)), abs=0.3)


@pytest.mark.parametrize("other", [drill(7), placed(turning(station=4), holder=HOLDER, holder_width=25)])
def test_what_swings_at_an_index_is_what_turning_once_round_sweeps(other: Tool) -> None:
    setup = on_turret(placed(turning(), 200, 30), other)
    ring = dict(room(setup).swing(1, np.array([20.0, 40.0])))[f"T{other.station}"]
    points = in_space(other, np.linspace(0, 2 * pi, 181), 240.0, 50.0)
    assert float(shapely.distance(shapely.points(points), ring).max()) < 1e-6
    assert ring.bounds[1] == pytest.approx(points[:, 1].min(), abs=0.3)
    assert ring.bounds[0] == pytest.approx(points[:, 0].min(), abs=1e-6)


def met(part: TurnedPart, kind: str) -> list[tuple[int, str]]:
    return [(one.move, one.what) for one in part.contacts if one.kind == kind]


def test_a_longer_drill_beside_the_tool_at_work_meets_the_jaws() -> None:
    # Its tip stands 50 in front of the turret's face, the tool at work none: at Z-10.5 the tip is 0.5 mm past the jaws' face.
    setup = on_turret(placed(turning()), drill(2))
    assert met(swept("G00 X62. Z2.\nX50.\nG01 Z-9. F0.2\nX62.", setup), NEIGHBOUR_MET) == []
    part = swept("G00 X62. Z2.\nX50.\nG01 Z-14. F0.2", setup)
    assert met(part, NEIGHBOUR_MET) == [(2, "T2 and jaws")]
    contact = next(one for one in part.contacts if one.kind == NEIGHBOUR_MET)
    assert contact.where is not None and contact.where.z_from == pytest.approx(-64, abs=1e-6)
    middle = (225**2 + 165**2 - 2 * 225 * 165 * cos(pi / 6)) ** 0.5  # the law of cosines
    point = 4 * 10 / (10 / np.tan(np.radians(59)))  # how wide the point is where it passes the jaws' face
    assert contact.where.r_from == pytest.approx(middle - point, abs=0.01)
    assert not part.certain


def test_a_neighbour_is_looked_at_even_where_the_tool_at_work_is_far_from_all() -> None:
    # The tool at work passes 112 mm outside the bar. The drill ten degrees on has its axis 165 sin 10 = 28.7 mm from the centre line then.
    setup = on_turret(placed(turning(), 20), drill(2), stations=36, zones=())
    part = swept("G00 Z-30.", setup, HEAD + "G00 X284. Z60.\n")
    assert met(part, NEIGHBOUR_MET) == [(1, "T2 and the piece")]
    setup = on_turret(placed(turning(), 20), drill(2), stations=12, zones=())
    assert met(swept("G00 Z-30.", setup, HEAD + "G00 X284. Z60.\n"), NEIGHBOUR_MET) == []


NEXT = "T0707\nG00 X0. Z5.\nG01 Z-10. F0.1\nG00 Z5.\n"


def test_the_ring_of_an_index_is_looked_at_where_the_turret_stands_then() -> None:
    setup = on_turret(placed(turning()), drill(7, face=150))
    part = swept(f"G00 X80. Z20.\n{NEXT}", setup)
    assert met(part, SWING_MET) == [(1, "T7 and jaws")]
    assert met(swept(f"G00 X200. Z200.\n{NEXT}", setup), SWING_MET) == []
    wide = on_turret(placed(turning()), zones=(JAWS,), swing_radius=190, swing_length=100)
    assert met(swept("G00 X80. Z20.\nT0707\nG00 X82.", wide), SWING_MET) == [
        (1, "the ring that all tools sweep and jaws")
    ]


def test_a_change_behind_the_last_move_counts_too_and_is_not_taken_over_by_a_program_without_it() -> None:
    setup = on_turret(placed(turning()), drill(7, face=150))
    with_change, without = (traced(f"G00 X80. Z20.\n{more}", setup) for more in ("T0707\n", ""))
    one = sweep(with_change, generic_lathe(), setup)
    assert one is not None and met(one.part, SWING_MET) == [(1, "T7 and jaws")]
    for trace, expected in ((without, []), (with_change, [(1, "T7 and jaws")])):
        again = sweep(trace, generic_lathe(), setup, (one,))
        assert again is not None and met(again.part, SWING_MET) == expected


def test_a_tool_change_knows_how_far_the_edge_stands_from_the_piece() -> None:
    # The nose (0.8) stands with its programmed point 3 mm in front of the face and 4 below the bar's radius: its edge is 3 mm away.
    part = swept("G00 X52. Z3.\nT0202\nG00 X54.", sheet(turning()))
    (near,) = (one for one in part.contacts if one.kind == CHANGE_NEAR)
    assert (near.move, near.what) == (1, "") and near.amount == pytest.approx(3, abs=1e-6)
    assert part.certain is False or all(one.kind == CHANGE_NEAR for one in part.contacts)
    # Beside the corner of the bar: the circle of the nose about (2.8, 33.8) from the corner at (0, 30).
    part = swept("G00 X66. Z2.\nT0202\nG00 X67.", sheet(turning()))
    (near,) = (one for one in part.contacts if one.kind == CHANGE_NEAR)
    assert near.amount == pytest.approx(hypot(2.8, 3.8) - 0.8, abs=1e-3)


def test_what_the_sheet_does_not_say_of_the_turret_is_told() -> None:
    def reasons(part: TurnedPart) -> set[str]:
        return {f"{gap.what}: {gap.reason}" for gap in part.gaps}

    cut = "G00 X50. Z2.\nG01 Z-5. F0.2\nG00 X80.\nT0707\nX82."
    without = reasons(swept(cut, sheet(turning())))
    assert (
        "neighbouring stations, the swing of an index: the setup sheet has no turret: neighbours not checked" in without
    )
    told = reasons(swept(cut, on_turret(turning(), drill(7))))
    assert "T1: from_turret_axis and from_turret_face not given: its neighbours and its index are not checked" in told
    assert "T1: from_turret_axis or from_turret_face not given: not checked as a neighbour" in told
    assert "T7: its holder is not given: as a neighbour only its edge is looked at" in told
    away = reasons(swept("G00 X50. Z2.\nG28 U0. W0.\nT0707\nG00 X82. Z5.", on_turret(placed(turning()), drill(7))))
    assert any("a place that only the machine knows" in said for said in away if said.startswith("neighbouring"))


BAR = {"kind": "boring", "shape": "C", "edge_length": 6, "approach_angle": 95, "nose_radius": 0.4, "orientation": 2}
BORED = "G00 X40. Z2.\nG01 Z-20. F0.1\n"


def test_a_tool_for_bores_that_goes_outward_at_a_rapid_leaves_its_bore_sideways() -> None:
    tube = Stock("tube", Fraction(60), Fraction(30), Fraction(100), Fraction(0))
    setup = sheet(Tool(1, **exact(**BAR)), stock=tube)
    out = swept(BORED + "G00 X44.\nZ5.", setup)
    first = out.contacts[0]
    assert (first.kind, first.move) == (BORE_LEFT_SIDEWAYS, 2) and not out.certain
    assert first.where is not None and first.where.r_to == pytest.approx(22, abs=1e-6)
    assert swept(BORED + "G00 X38. Z-19.\nZ5.", setup).contacts == ()
    # In front of the piece, and for a tool that works outside, the same move is no such thing.
    assert swept("G00 X40. Z2.\nX44.\nZ5.", setup).contacts == ()
    outside = swept("G00 X62. Z2.\nX50.\nG01 Z-10. F0.2\nG00 X44.", sheet(turning()))
    assert [one.kind for one in outside.contacts] in ([], [RAPID_INTO_MATERIAL])
    hole = swept("G00 X0. Z2.\nG01 Z-30. F0.1\nG00 X30.", sheet(drill(1)))
    assert [one.kind for one in hole.contacts] == [BORE_LEFT_SIDEWAYS]
