"""The rule `curve-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from math import hypot, sqrt

from verifier.compare import Difference, Effect, Place
from verifier.control import TICKS_PER_MM
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import each, end_of, fine
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.tolerances import general_tolerance
from verifier.findings.uncomputed import unknown_outcome, words_of_changes
from verifier.findings.uncomputed_blocks import arc_without_centre, centre_words, why_no_arc
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X50. F0.2\nZ-20.\nG02 X60. Z-25. R5.\nG01 X62."


class CurveChanged(ChangeRule):
    """A cut along an arc follows another circle between the same ends.

    A fillet or a radius of the part gets another size; where it meets the next cut an edge or a step can appear. Where no such arc can be, its words
    are told as they are written, and what the control makes of them is not known.
    """

    id = "curve-changed"
    revision = 3
    weight = Weight.MAJOR
    mirror = "curve-changed"
    title = "An arc is cut along another circle."
    watch = "Check the radius with a gauge on the first part, and look for a step where the arc begins and ends."
    examples = (
        Example("R5 became R8", turning(_CUT.replace("R5.", "R8.")), True, old=turning(_CUT), line=9),
        Example("no arc of that radius", turning(_CUT.replace("R5.", "R2.")), True, old=turning(_CUT), line=9),
        Example("by centre instead of radius", turning(_CUT.replace("R5.", "I5. K0.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every arc whose circle differs, judged by how far it leaves the one before."""
        for share in change.shares(self.id):
            blind = [effect for effect in share.leads if arc_without_centre(change.facts, effect)]
            if blind:
                yield _not_computed(change, share, blind)
            rest = [effect for effect in share.leads if effect not in blind]
            yield from each(
                replace(share, leads=rest, along=[] if blind else share.along), lambda e: self._drawn(change, e)
            )

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        found = [_radii(d) for d in effect.differences]
        before, after = found[0]
        off = max(_sagitta_change(d) for d in effect.differences)
        allowed = general_tolerance(Fraction(round(before * 1000), 1000), change.policy.tolerance_class)
        small = allowed is not None and off < float(allowed * change.policy.tolerance_minor_share)
        shown = [fine(radius, change.units) for radius in (before, after)]
        end = end_of(item_of(effect.first), change.units)
        what = (
            f"Arc radius changed from {shown[0]} to {shown[1]}"
            if shown[0] != shown[1]
            else "Arc made about another centre"
        )
        return Drawn(
            f"{what} at the arc to {end}: up to {fine(off, change.units)} off the line before",
            before=f"R {shown[0]}",
            after=f"R {shown[1]}",
            weight=Weight.MINOR if small else Weight.MAJOR,
        )


def _not_computed(change: ChangeView, share: Share, blind: list[Effect]) -> Drawn:
    """The words of an arc that could not be computed on one side or on both, and that nobody knows here what the control makes of them."""
    first = blind[0]
    words = words_of_changes(centre_words(change.facts, first))
    unknown = unknown_outcome(arc_without_centre(change.facts, first), why_no_arc(change.facts, first))
    end = end_of(item_of(first.first), change.units)
    return Drawn(f"Arc to {end} changed: {words}{'; ' if words else ''}{unknown}", (*blind, *share.along))


def _radii(difference: Difference) -> tuple[float, float]:
    """Both radii in mm."""
    radii = []
    for item in (difference.old, difference.new):
        assert item is not None and item.centre is not None
        radii.append(hypot(item.start.x - item.centre[0], item.start.z - item.centre[1]) / TICKS_PER_MM)
    return radii[0], radii[1]


def _sagitta_change(difference: Difference) -> float:
    """How far apart the two arcs are in the middle of their chord, in mm (the greatest deviation where they share both ends)."""
    old, new = difference.old, difference.new
    assert old is not None and new is not None
    radii = _radii(difference)
    chord = hypot(new.end.x - new.start.x, new.end.z - new.start.z) / TICKS_PER_MM
    heights = []
    for radius, item in zip(radii, (old, new), strict=True):
        assert item.centre is not None
        flat = sqrt(max(radius * radius - chord * chord / 4, 0.0))
        heights.append(radius + flat if _long_way(item.kind, item.start, item.end, item.centre) else radius - flat)
    return abs(heights[0] - heights[1])


def _long_way(kind: str, start: Place, end: Place, centre: tuple[int, int]) -> bool:
    """Whether an arc turns by more than half a circle."""
    sx, sz = start.x - centre[0], start.z - centre[1]
    ex, ez = end.x - centre[0], end.z - centre[1]
    turn = sz * ex - sx * ez  # above zero: counter-clockwise seen with Z to the right and X up
    return turn < 0 if kind == "arc_ccw" else turn > 0
