"""The finishing cycle: the contour once, as programmed, then back (G70). Common practice, no source."""

from __future__ import annotations

from verifier.control.cycles.path import Path, too_many
from verifier.control.strokes import Contour, CycleFault, Expansion, Point


def finish(start: Point, contour: Contour) -> Expansion:
    """Follow the contour with its own kinds of move, then rapid to `start` in one straight move."""
    if not contour.segments:
        return CycleFault("contour-empty", "there is no move between the two labels of the contour")
    fault = too_many(len(contour.segments) + 1, "the contour has too many blocks")
    if fault is not None:
        return fault
    path = Path(start)
    path.follow(contour.segments, "finish: contour")
    path.rapid(start, "return to start")
    return path.strokes
