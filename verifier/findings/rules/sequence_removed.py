"""The rule `sequence-removed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import cut_length, described, items_of_effects
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."
_SECOND = "G00 X100. Z50.\nM01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


class SequenceRemoved(ChangeRule):
    """A whole sequence, one tool's part of the program, is not run any more.

    What it cut stays on the part, and the tools behind it find material, or an edge, that they do not expect.
    """

    id = "sequence-removed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "sequence-added"
    title = "A whole sequence is removed."
    watch = "Ask what cuts this now; look at the part before the next tool comes."
    examples = (
        Example("the second tool", turning(_CUT), True, old=turning(_CUT + "\n" + _SECOND), line=11),
        Example(
            "the tool is still there",
            turning(_CUT + "\n" + _SECOND.replace("0.1", "0.12")),
            False,
            old=turning(_CUT + "\n" + _SECOND),
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: which sequences, by label, tool and note, and how much they cut."""
        shares = change.shares(self.id)
        for sequence in change.facts.removed_sequences:
            mine = [e for s in shares if self._block(s) in range(sequence.first, sequence.end) for e in s.covers]
            if not mine:
                continue
            items = [i for i in items_of_effects(mine) if i.is_move and sequence.first <= i.block < sequence.end]
            title = f"Sequence removed: {described(sequence)}; {cut_length(items, change.old.units)}"
            yield Drawn(title, tuple(mine))

    def _block(self, share: Share) -> int:
        item = share.leads[0].first.old
        return item.block if item is not None else -1
