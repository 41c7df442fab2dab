"""The rule `work-offset-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class WorkOffsetChanged(ChangeRule):
    """Positions count from another work offset, or from coordinates that were preset otherwise.

    The whole of what follows is shifted by the difference: past the end of the piece, or into the chuck.
    """

    id = "work-offset-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "work-offset-changed"
    title = "The work offset or the coordinate preset is changed."
    watch = "Compare the work offset at the control with the setup sheet, and stop the first approach a hand's width before the part."
    examples = (
        Example("G54 became G55", turning(_CUT).replace("G54", "G55"), True, old=turning(_CUT), line=2),
        Example("preset added", turning("G50 X60. Z2.\n" + _CUT), True, old=turning(_CUT), line=7),
        Example("G54 said again", turning("G54\n" + _CUT), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch under another work offset or shifted otherwise."""
        for share in change.shares(self.id):
            yield from each(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        if effect.field == "work_offset":
            before, after = (shop.state_word(value) for value in (effect.before, effect.after))
            return Drawn(f"Work offset changed from {before} to {after}", before=before, after=after)
        before, after = _frame(effect.before, change.old.units), _frame(effect.after, change.new.units)
        return Drawn(f"Coordinate shift changed from {before} to {after}", before=before, after=after)


def _frame(value: object, units: str) -> str:
    """A shift of the coordinates by presets, as it adds up."""
    if not isinstance(value, tuple) or value == ("", 0, "", 0):
        return "none"
    bx, x, bz, z = value
    parts = []
    for name, base, ticks in (("X", bx, x), ("Z", bz, z)):
        if base:
            parts.append(f"{name} by an amount only the machine knows")
        elif ticks:
            parts.append(f"{name} {shop.length(ticks, units, diameter=name == 'X')}")
    return " ".join(parts) or "none"
