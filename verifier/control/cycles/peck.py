"""Pecking cycles: grooves along X (G75), face grooves and chip-breaking holes along Z (G74).

Each column is pecked to the bottom by feed: `peck` deeper, rapid back by `retract`, feed again; the last peck is what
remains. At the bottom of every column but the first the tool is relieved against the step; then rapid out, step over,
and at the end back to the start. That the first column has no relief, that the other returns are rapid and where it
ends: read in public sources for the groove; the rest is common practice, no source.
"""

from __future__ import annotations

from verifier.control.cycles.frame import EXCHANGED, Frame, sign
from verifier.control.cycles.path import Path, pieces_of, too_many
from verifier.control.strokes import CycleFault, Expansion, Point


def groove(
    start: Point, end: Point, peck: int | None, step: int | None, relief: int = 0, retract: int = 0
) -> Expansion:
    """Pecks along X from `start` to `end`.x, columns side by side along Z; all amounts unsigned ticks, X as radius.

    `peck` None: each column in one stroke. `step` None: one column, and then `end` must have the start's Z.
    """
    fault = _fault(start, end, peck, step, relief, retract)
    if fault is not None:
        return fault
    frame = Frame(False, sign(start.x - end.x), sign(start.z - end.z))
    begin, bottom = frame.seen(start), frame.seen(end)
    depths = _stops(begin.x - bottom.x, peck)
    places = (0, *_stops(begin.z - bottom.z, step))
    path = Path(begin)
    for number, place in enumerate(places, start=1):
        column = f"column {number} of {len(places)}" if len(places) > 1 else ""
        path.rapid(Point(begin.x, begin.z - place), f"{column}: step over")
        _column(path, begin.x, depths, retract, f"{column}, " if column else "")
        if number > 1 and relief:
            path.rapid(Point(path.at.x, path.at.z + relief), f"{column}: relief")
        path.rapid(Point(begin.x, path.at.z), f"{column}: retract" if column else "retract")
    path.rapid(begin, "return to start")
    return frame.real_strokes(path.strokes)


def face_peck(
    start: Point, end: Point, peck: int | None, step: int | None, relief: int = 0, retract: int = 0
) -> Expansion:
    """The groove with X and Z exchanged: pecks along Z, columns along X (radius). `step` None: a hole on the spot."""
    expansion = groove(EXCHANGED.seen(start), EXCHANGED.seen(end), peck, step, relief, retract)
    return expansion if isinstance(expansion, CycleFault) else EXCHANGED.real_strokes(expansion)


def _stops(distance: int, most: int | None) -> tuple[int, ...]:
    """The distances from the start at which the pieces of `distance` end."""
    if distance == 0:
        return ()
    if most is None:
        return (distance,)
    return tuple(min(number * most, distance) for number in range(1, pieces_of(distance, most) + 1))


def _column(path: Path, top: int, depths: tuple[int, ...], retract: int, column: str) -> None:
    """Peck one column to its bottom."""
    for number, depth in enumerate(depths, start=1):
        step = f"{column}peck {number} of {len(depths)}"
        path.feed(Point(top - depth, path.at.z), step)
        if number < len(depths):
            path.rapid(Point(top - depth + retract, path.at.z), f"{step}: retract")


def _fault(
    start: Point, end: Point, peck: int | None, step: int | None, relief: int, retract: int
) -> CycleFault | None:
    depth, width = abs(end.x - start.x), abs(end.z - start.z)
    if depth == 0:
        return CycleFault("peck-without-depth", "the bottom is where the cycle starts")
    if peck is not None and peck <= 0:
        return CycleFault("peck-not-positive", "the amount of one peck is not above zero")
    if width and step is None:
        return CycleFault("step-missing", "the last column is beside the first, but no step is given")
    if width and step is not None and step <= 0:
        return CycleFault("step-not-positive", "the step from column to column is not above zero")
    if relief < 0 or retract < 0:
        return CycleFault("amount-negative", "relief and retract amounts are unsigned")
    pecks = pieces_of(depth, peck or depth)
    columns = 1 + (pieces_of(width, step) if width and step else 0)
    return too_many(columns * (2 * pecks + 2) + 1, f"{columns} columns of {pecks} pecks")
