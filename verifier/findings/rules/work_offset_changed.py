"""The rule `work-offset-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.claims_moves import WRITES
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each_sentence, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.syntax import block_text

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class WorkOffsetChanged(ChangeRule):
    """Positions count from another work offset, or from coordinates that were preset otherwise.

    The whole of what follows is shifted by the difference: past the end of the piece, or into the chuck.
    """

    id = "work-offset-changed"
    revision = 4
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
            yield from each_sentence(share, lambda effect: self._drawn(change, effect))

    def _drawn(self, change: ChangeView, effect: Effect) -> Drawn:
        if effect.field == "work_offset":
            before, after = (shop.state_word(value) for value in (effect.before, effect.after))
            return Drawn(f"Work offset changed from {before} to {after}", before=before, after=after)
        told = [_presets(change, effect, side) for side in (0, 1)]
        moved = _moved(effect.before, effect.after, change.units)
        shift = f"; everything after it is shifted by {moved}" if moved else ""
        if any(told):
            shift = (
                shift or "; what comes after it counts from where the tool then stands, which only the machine knows"
            )
            verb = "changed" if all(told) else "removed" if told[0] else "added"
            words = f"{told[0]} is now {told[1]}" if all(told) else told[0] or told[1]
            return Drawn(f"Coordinate preset {verb}: {words}{shift}", before=told[0] or None, after=told[1] or None)
        written = [_blocks(change, effect, side, WRITES) for side in (0, 1)]
        if any(written):
            was, now = (f"what {words} writes" if words else "what the machine holds" for words in written)
            title = f"Positions count from another offset: from {now}, before it from {was}"
            return Drawn(title, before=written[0] or None, after=written[1] or None)
        before, after = _frame(effect.before, change.old.units), _frame(effect.after, change.new.units)
        bases = _bases(effect.before), _bases(effect.after)
        if all(map(any, bases)) and bases[0] != bases[1]:
            words = "The coordinate preset counts from another place now; all that follows is shifted by what only the machine knows"
            return Drawn(words, before=before, after=after)
        return Drawn(f"Coordinate shift changed from {before} to {after}", before=before, after=after)


def _presets(change: ChangeView, effect: Effect, side: int) -> str:
    """The presets of one side in the edits behind an effect."""
    return _blocks(change, effect, side, ("G50", "G52"))


def _blocks(change: ChangeView, effect: Effect, side: int, codes: tuple[str, ...]) -> str:
    """The blocks of one side with one of these codes and an axis word in the edits behind an effect."""
    view = change.views()[side]
    blocks = [b for k in effect.causes if k >= 0 for b in (change.edits[k].old, change.edits[k].new)[side]]
    found = [view.block(b) for b in blocks if change.facts.block_has(side, b, codes)]
    return joined(block_text(b) for b in found if any(word.letter in "XZUW" for word in b.words))


def _moved(before: object, after: object, units: str) -> str:
    """By how much a shift that counts from the same place differs ("X 10 mm"), or nothing."""
    if not isinstance(before, tuple) or not isinstance(after, tuple) or before[::2] != after[::2]:
        return ""
    parts = [(name, after[k] - before[k]) for name, k in (("X", 1), ("Z", 3))]
    # The frame is what the machine adds to a programmed place: a preset that is greater shifts it down.
    return " ".join(f"{name} {shop.length(by, units, diameter=name == 'X')}" for name, by in parts if by)


def _bases(value: object) -> tuple[object, ...]:
    """From where a shift counts, in X and Z."""
    return value[::2] if isinstance(value, tuple) else ()


def _frame(value: object, units: str) -> str:
    """A shift of the coordinates by presets, as it adds up."""
    if not isinstance(value, tuple) or value == ("", 0, "", 0):
        return "none"
    bx, x, bz, z = value
    parts = []
    for name, base, ticks in (("X", bx, x), ("Z", bz, z)):
        if base:
            more = f" and {shop.length(ticks, units, diameter=name == 'X')}" if ticks else ""
            parts.append(f"{name} by an amount that only the machine knows{more}")
        elif ticks:
            parts.append(f"{name} {shop.length(ticks, units, diameter=name == 'X')}")
    if bx and bz and not x and not z:
        return "X and Z by amounts that only the machine knows"
    return ", ".join(parts) or "none"
