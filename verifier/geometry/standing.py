"""How a tool stands where it meets something: its outline in the half plane, for who draws it."""

from __future__ import annotations

import numpy as np
import shapely

from verifier.control import Trace
from verifier.geometry.part import AT_CHANGES, NEIGHBOUR_MET, SWING_MET, Contact
from verifier.geometry.place import Places
from verifier.geometry.tool_outline import Points, ToolOutline, tool_outline
from verifier.geometry.turret import TurretRoom
from verifier.machines import Machine, Setup

_STOPS = 9
_LEAST = 0.01
"""A box without an extent is taken to be so thick, in mm, for finding out where on its way the tool is in it."""


def tool_at(contact: Contact, trace: Trace, machine: Machine, setup: Setup) -> shapely.Geometry | None:
    """The outline of what meets something, (Z, R) in mm, where on its way it is deepest in it; None where that is not known.

    Of a neighbour and of an index it is what stands in the next stations, of a tool change the tool at the place where it is changed.
    """
    if contact.where is None:
        return None
    row = contact.move - 1 if contact.kind in AT_CHANGES else contact.move
    places = Places(trace, machine, setup)
    start, end = places.start[row], places.end[row]
    outlines = {station: tool_outline(tool) for station, tool in setup.tools.items()}
    station = trace.states[int(trace.moves.state[row])].tool
    if not isinstance(station, int):
        return None
    stops = [end] if contact.kind in AT_CHANGES else [start + (end - start) * t for t in np.linspace(1, 0, _STOPS)]
    outline = outlines.get(station)
    if contact.kind in (NEIGHBOUR_MET, SWING_MET):
        room, name = TurretRoom(setup, outlines), contact.what.split(" and ")[0]
        rings = [
            room.swing(station, at) if contact.kind == SWING_MET else room.beside(station, at[None]) for at in stops
        ]
        standing = [shape for found in rings for who, shape in found if who == name]
    elif isinstance(outline, ToolOutline):
        standing = [_standing(outline, at) for at in stops]
    else:
        return None
    where = contact.where
    box = shapely.buffer(shapely.box(where.z_from, where.r_from, where.z_to, where.r_to), _LEAST)
    return max(standing, key=lambda shape: float(shapely.area(shapely.intersection(shape, box))), default=None)


def _standing(outline: ToolOutline, at: Points) -> shapely.Geometry:
    return shapely.union_all(
        [shapely.make_valid(shapely.polygons(shape + at)) for shape in (outline.edge, *outline.bodies)]
    )
