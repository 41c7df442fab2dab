"""The rule `speed-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import pi

from verifier.compare import Effect
from verifier.control import TICKS_PER_MM
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each, millimetres
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of, values

_CUT = "G01 X20. F0.2\nX62."


class SpeedChanged(ChangeRule):
    """The spindle is commanded to another speed in the same mode.

    Speed wears the tool and loosens the grip: the force that opens the jaws grows with its square. Under constant surface speed only the
    clamp limits what a small diameter asks for.
    """

    id = "speed-changed"
    revision = 2
    weight = Weight.MAJOR
    people = True
    mirror = "speed-changed"
    title = "The spindle speed is changed."
    watch = "Compare the new speed with the limit of the work-holding and of the tool; listen to the first cut."
    examples = (
        Example("180 to 240 m/min", turning(_CUT).replace("S180", "S240"), True, old=turning(_CUT), line=5),
        Example("the clamp only", turning(_CUT).replace("S2000", "S1500"), False, old=turning(_CUT)),
        Example("said in other words", turning(_CUT).replace("S180", "S0180"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every commanded speed that differs while its mode is the same."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        pair = values(effect)
        mode = item_of(effect.first).state.speed_mode
        before = shop.speed(effect.before, mode, change.old.units)
        after = shop.speed(effect.after, mode, change.new.units)
        what = "Surface speed" if mode == "surface" else "Spindle speed"
        turns = shop.held_rpm(effect.before), shop.held_rpm(effect.after)
        if turns[0] and turns[1]:
            return _kept(change, effect, (turns[0], turns[1]))
        if pair is None:
            return Drawn(f"{what} changed from {before} to {after}", before=before, after=after, weight=Weight.MAJOR)
        weight = Weight(change.policy.speed_weight(*pair) or "minor")
        words, harmless = _clamped(change, effect, pair) if mode == "surface" else ("", False)
        return Drawn(
            f"{what} changed from {before} to {after} ({shop.ratio_words(*pair)}){words}",
            before=before,
            after=after,
            weight=Weight.MINOR if harmless else weight,
        )


def _kept(change: ChangeView, effect: Effect, turns: tuple[float, float]) -> Drawn:
    """A speed that G97 keeps from another surface speed, place or clamp; minor where nothing is cut under it, or it comes to the same."""
    before, after = (shop.speed(v, None, change.units) for v in (effect.before, effect.after))
    cuts = any(d.new is not None and d.new.cuts for d in effect.differences)
    weight = Weight(change.policy.speed_weight(Fraction(turns[0]), Fraction(turns[1])) or "minor")
    if round(turns[0]) == round(turns[1]):
        title, weight = (
            f"Spindle speed kept on by G97 is the same, {before}; the clamp behind it is another",
            Weight.MINOR,
        )
    else:
        title = f"Spindle speed kept on by G97 changed from {before} to {after}"
    title += "" if cuts else "; nothing is cut under it"
    return Drawn(title, before=before, after=after, weight=weight if cuts else Weight.MINOR)


def _clamped(change: ChangeView, effect: Effect, pair: tuple[Fraction, Fraction]) -> tuple[str, bool]:
    """What the clamp makes of another surface speed, and whether it makes no difference at all."""
    states = [d.new.state for d in effect.differences if d.new is not None]
    clamps = dict.fromkeys(state.clamp for state in states)
    if None in clamps and pair[1] > pair[0]:
        return f"; no speed clamp holds it below {shop.clamp(change.new.machine.spindle.max_rpm)}", False
    clamp = next(iter(clamps), None)
    if len(clamps) != 1 or not isinstance(clamp, Fraction) or clamp <= 0:
        return "", False
    held = [1000 * float(speed) / (pi * float(clamp)) for speed in pair]
    reach = _diameters(effect)
    if reach is None or held[1] <= reach[0]:
        return "", False
    if min(held) >= reach[1] and _same_clamp(effect):
        return f"; the clamp of {shop.clamp(clamp)} holds the spindle before and after", True
    return f"; below X {millimetres(held[1], change.units)} the clamp holds {shop.clamp(clamp)}", False


def _same_clamp(effect: Effect) -> bool:
    return all(
        d.old is not None and d.new is not None and d.old.state.clamp == d.new.state.clamp for d in effect.differences
    )


def _diameters(effect: Effect) -> tuple[float, float] | None:
    """The smallest and the greatest diameter in mm that the cuts (else the rapids) reach; None where a place is not known."""
    items = [d.new for d in effect.differences if d.new is not None and d.new.is_move]
    cuts = [item for item in items if item.cuts] or items
    places = [place for item in cuts for place in (item.start, item.end)]
    if not places or any(place.bx for place in places):
        return None
    sizes = [abs(place.x) * 2 / TICKS_PER_MM for place in places]
    return min(sizes), max(sizes)
