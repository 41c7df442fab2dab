"""The rule `sequence-added`."""

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


class SequenceAdded(ChangeRule):
    """A whole sequence, one tool's part of the program, is run that was not there before.

    A tool comes to work that nobody has set up for this program: station, offset, length and holder were never tried on this part.
    """

    id = "sequence-added"
    revision = 1
    weight = Weight.MAJOR
    mirror = "sequence-removed"
    title = "A whole sequence is added."
    watch = "Set the tool and its offset before the start, and prove the sequence out alone, clear of the part first."
    examples = (
        Example("a second tool", turning(_CUT + "\n" + _SECOND), True, old=turning(_CUT), line=11),
        Example(
            "the tool was there",
            turning(_CUT + "\n" + _SECOND),
            False,
            old=turning(_CUT + "\n" + _SECOND.replace("0.1", "0.12")),
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: which sequences, by label, tool and note, and how much they cut."""
        shares = change.shares(self.id)
        for sequence in change.facts.added_sequences:
            mine = [e for s in shares if self._block(s) in range(sequence.first, sequence.end) for e in s.covers]
            if not mine:
                continue
            items = [i for i in items_of_effects(mine) if i.is_move and sequence.first <= i.block < sequence.end]
            title = f"Sequence added: {described(sequence)}; {cut_length(items, change.new.units)}"
            yield Drawn(title, tuple(mine))

    def _block(self, share: Share) -> int:
        item = share.leads[0].first.new
        return item.block if item is not None else -1
