"""Parallelogram and rectangular inserts: their corners by the letters of ISO 1832, areas by elementary geometry."""

from __future__ import annotations

from math import pi, radians, sin, tan

import pytest
import shapely

from tests.geometry.parts import exact, sheet, swept
from verifier.geometry import ToolOutline, tool_outline
from verifier.machines import Tool

ANGLES = {"A": 85, "B": 82, "K": 55, "L": 90}
"""Letter and smaller angle: ISO 1832, as tables of it print them (A, B and K parallelograms, L a rectangle)."""


def insert(shape: str, nose: float, **more: object) -> Tool:
    given = {
        "kind": "turning",
        "shape": shape,
        "edge_length": 16,
        "insert_width": 9.5,
        "approach_angle": 85,
        "orientation": 3,
    }
    return Tool(1, **exact(**(given | {"nose_radius": nose} | more)))


def outline(tool: Tool) -> ToolOutline:
    found = tool_outline(tool)
    assert isinstance(found, ToolOutline)
    return found


@pytest.mark.parametrize("shape", ANGLES)
def test_a_sharp_one_has_the_area_of_its_long_edge_times_its_width(shape: str) -> None:
    edge = shapely.polygons(outline(insert(shape, 0)).edge)
    assert edge.area == pytest.approx(16 * 9.5, rel=1e-9)
    assert edge.is_valid and shapely.equals(edge.convex_hull, edge)


@pytest.mark.parametrize("shape", ANGLES)
def test_its_nose_takes_from_each_corner_what_a_fillet_does(shape: str) -> None:
    # A fillet of radius r in a corner of angle a takes r^2 (cot(a/2) - (pi - a)/2).
    taken = (
        sum(0.8**2 * (1 / tan(a / 2) - (pi - a) / 2) for a in (radians(ANGLES[shape]), radians(180 - ANGLES[shape])))
        * 2
    )
    edge = shapely.polygons(outline(insert(shape, 0.8)).edge)
    assert edge.area == pytest.approx(16 * 9.5 - taken, abs=0.01)


def test_the_long_edge_is_the_main_one_and_stands_at_its_approach_angle() -> None:
    # Sharp, nose toward -R and -Z at 0, 0: the main edge goes up at 180 - 93 degrees from +Z, 16 mm long, the other one 55 degrees below it.
    corners = {(round(z, 6), round(r, 6)) for z, r in outline(insert("K", 0, approach_angle=93)).edge.tolist()}
    main = (round(16 * sin(radians(90 - 87)), 6), round(16 * sin(radians(87)), 6))
    short = 9.5 / sin(radians(55))
    other = (round(short * sin(radians(90 - 32)), 6), round(short * sin(radians(32)), 6))
    assert {(0.0, 0.0), main, other} <= corners


def test_what_the_letters_do_not_give_is_told_with_its_key() -> None:
    tool = insert("K", 0.5, insert_width=9)
    open_ = Tool(
        1,
        **{
            f: getattr(tool, f)
            for f in ("kind", "shape", "edge_length", "nose_radius", "orientation", "approach_angle")
        },
    )
    part = swept("G00 X50. Z2.\nG01 Z-10. F0.2\nX62.", sheet(open_))
    assert not part.certain
    assert ("T1", "insert_width not given: the letters of shape K give only its long edge") in {
        (g.what, g.reason) for g in part.gaps
    }
    assert tool_outline(
        Tool(1, **exact(kind="turning", shape="L", edge_length=16, insert_width=9, nose_radius=0.8, orientation=8))
    ) == ("approach_angle not given")
    assert tool_outline(insert("A", 5)) == "a nose radius of 5 mm does not fit an edge of 16 mm"


def test_it_turns_the_cylinder_and_leaves_its_nose_in_the_corner() -> None:
    part = swept("G00 X50. Z2.\nG01 Z-10. F0.2\nX62.", sheet(insert("A", 0.8, approach_angle=90)))
    left = shapely.box(-100, 0, 0, 30).area - 10 * 5 + 0.8**2 * (1 - pi / 4)
    assert part.certain and part.left.area == pytest.approx(left, abs=1e-3)
