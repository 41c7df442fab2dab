"""One hole drilled, bored or tapped: axial (G83 to G85) or radial (G87 to G89), from the level where the cycle was called.

Rapid to the R level, to the bottom as the kind of hole asks, out, and rapid to where the cycle ends. A peck goes back by
a small clearance, or out to the R level and in again to that clearance above the last depth. A tap turns round at the
bottom and once more when it is out. Words and cancelling are read in public sources, the motion is common practice, no
source.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control.cycles.frame import EXCHANGED, Frame, sign
from verifier.control.cycles.path import Path, pieces_of, too_many
from verifier.control.strokes import CycleFault, Expansion, Point

KINDS = ("drill", "bore", "tap")


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole along one axis; places in ticks along it, amounts unsigned ticks, `dwell` in thousandths of a second.

    `kind`: "drill" comes out at rapid, "bore" at feed, "tap" at feed with the spindle turned round. `peck` None: to the
    bottom in one stroke. `full`: every peck comes out to the R level. `back`: where the cycle ends.
    """

    kind: str
    level: int
    bottom: int
    back: int
    peck: int | None = None
    clearance: int = 0
    full: bool = False
    dwell: int = 0


def drill_axial(start: Point, hole: Hole) -> Expansion:
    """A hole along Z at the start's X."""
    expansion = drill_radial(EXCHANGED.seen(start), hole)
    return expansion if isinstance(expansion, CycleFault) else EXCHANGED.real_strokes(expansion)


def drill_radial(start: Point, hole: Hole) -> Expansion:
    """A hole along X (radius) at the start's Z."""
    fault = _fault(start, hole)
    if fault is not None:
        return fault
    side = sign(hole.level - hole.bottom)
    frame = Frame(False, side, 1)
    path = Path(frame.seen(start))
    level, bottom, back = (place * side for place in (hole.level, hole.bottom, hole.back))
    z = path.at.z
    path.rapid(Point(level, z), "to the R level")
    _down(path, hole, level, bottom)
    if hole.dwell:
        path.pause(hole.dwell, "dwell at the bottom")
    if hole.kind == "tap":
        path.turn_round("the spindle turns round at the bottom")
    if hole.kind == "drill":
        path.rapid(Point(back, z), "retract")
        return frame.real_strokes(path.strokes)
    path.feed(Point(level, z), "feed out")
    if hole.kind == "tap":
        path.turn_round("the spindle turns round again")
    path.rapid(Point(back, z), "retract")
    return frame.real_strokes(path.strokes)


def _down(path: Path, hole: Hole, level: int, bottom: int) -> None:
    """From the R level to the bottom, in pecks where an amount is given."""
    z, depth = path.at.z, level - bottom
    peck = hole.peck or depth
    count = pieces_of(depth, peck)
    for number in range(1, count + 1):
        step = f"peck {number} of {count}" if count > 1 else "to the bottom"
        path.feed(Point(level - min(number * peck, depth), z), step)
        if number == count:
            return
        above = min(path.at.x + hole.clearance, level)
        if hole.full:
            path.rapid(Point(level, z), f"{step}: out to the R level")
        path.rapid(Point(above, z), f"{step}: {'back in' if hole.full else 'retract'}")


def _fault(start: Point, hole: Hole) -> CycleFault | None:
    depth = abs(hole.level - hole.bottom)
    if depth == 0:
        return CycleFault("hole-without-depth", "the bottom of the hole is its R level")
    if (start.x - hole.bottom) * (hole.level - hole.bottom) < 0:
        return CycleFault("r-level-beyond-bottom", "the R level lies on the other side of the hole's bottom")
    if hole.peck is not None and hole.peck <= 0:
        return CycleFault("peck-not-positive", "the amount of one peck is not above zero")
    if hole.clearance < 0 or hole.dwell < 0:
        return CycleFault("amount-negative", "the clearance of a peck and the dwell are unsigned")
    pecks = pieces_of(depth, hole.peck or depth)
    return too_many(3 * pecks + 6, f"{pecks} pecks")
