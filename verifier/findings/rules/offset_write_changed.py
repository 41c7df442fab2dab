"""The rule `offset-write-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.claims_moves import WRITES
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.syntax import block_text

_CUT = "{}G01 X58. F0.2\nZ-30.\nX62."
_WRITE = turning(_CUT.format("G10 P1 X0.1\n"))


class OffsetWriteChanged(ChangeRule):
    """The program writes other values into the control's offsets (G10), or a write came or went.

    Every place that counts from the offset is shifted by it, and it stays in the control: the next part, and the next program with that
    offset, start from there too.
    """

    id = "offset-write-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "offset-write-changed"
    title = "A write into the control's offsets is changed."
    watch = "Read the offset at the control before and after the block; hold it against the setup sheet before the first approach."
    examples = (
        Example("another value", _WRITE.replace("X0.1", "X0.2"), True, old=_WRITE, line=7),
        Example("write put in", turning(_CUT.format("G10 L2 P1 Z-10.\n")), True, old=turning(_CUT.format("")), line=7),
        Example("the same value", _WRITE.replace("G10 P1 X0.1", "G10P1X0.1"), False, old=_WRITE),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the writes before and after."""
        for share in change.shares(self.id):
            before, after = _texts(change, share, 0), _texts(change, share, 1)
            if before and after:
                title = f"Offset write changed: {before} is now {after}"
            elif before or after:
                title = f"Offset write {'removed' if before else 'added'}: {before or after}"
            else:
                title = "An offset is written at another time"
            stays = "; it stays in the control after the program" if after else ""
            yield Drawn(title + stays, share.covers, before=before or None, after=after or None)


def _texts(change: ChangeView, share: Share, side: int) -> str:
    """The writing blocks of one side: those of the edits, else those at which the effects are."""
    view = change.views()[side]
    blocks = [b for k in share.causes if k >= 0 for b in (change.edits[k].old, change.edits[k].new)[side]]
    items = [(d.old, d.new)[side] for e in share.leads for d in e.differences]
    blocks += [item.block for item in items if item is not None]
    return joined(dict.fromkeys(block_text(view.block(b)) for b in blocks if change.facts.block_has(side, b, WRITES)))
