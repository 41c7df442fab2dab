"""The rule `call-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import counted, items_of_effects, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView
from verifier.syntax import Block, block_text

_SUB = "O2000\nG01 U-2. F0.1\nG00 U2.\nM99\n"
_TAIL = "G00 X100. Z50.\nM09\nM05\nM30\n" + _SUB
_CALL = "M98 P2000 L2"


class CallChanged(ChangeRule):
    """Another subprogram is called, or a call came or went.

    What is called decides about everything that happens until it returns. A program that is not at the control stops the machine in the middle of
    the part.
    """

    id = "call-changed"
    revision = 2
    weight = Weight.MAJOR
    people = True
    mirror = "call-changed"
    title = "A subprogram call is changed."
    watch = "Check that the called program is in the control's memory, and which version of it; count the repeats."
    examples = (
        Example(
            "another program",
            turning("M98 P2001 L2", tail=_TAIL),
            True,
            old=turning(_CALL, tail=_TAIL),
            line=7,
        ),
        Example(
            "the call kept", turning(_CALL, tail=_TAIL), False, old=turning(_CALL, tail=_TAIL.replace("U-2.", "U-2.1"))
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the calls before and after, and what they do."""
        for share in change.shares(self.id):
            before, after = _calls(change, share, 0), _calls(change, share, 1)
            if before and after:
                title = f"Subprogram call changed: {before} is now {after}"
            elif before or after:
                title = f"Subprogram call {'removed' if before else 'added'}: {before or after}"
            else:
                title = "Another program is called"
            missing = dict.fromkeys(
                item.value for item in items_of_effects(share.leads) if item.kind == "event:missing-program"
            )
            if missing:
                title += f"; not found: {joined(missing)}"
            moves = sum(item.is_move for item in items_of_effects(share.leads))
            words = f"; {counted(moves, 'move')} differ" if moves > 1 else ""
            yield Drawn(title + words, share.covers, before=before or None, after=after or None)


def _calls(change: ChangeView, share: Share, side: int) -> str:
    view: ProgramView = change.views()[side]
    blocks = [b for k in share.causes if k >= 0 for b in (change.edits[k].old, change.edits[k].new)[side]]
    return joined(dict.fromkeys(block_text(view.block(b)) for b in blocks if _is_call(view.block(b))))


def _is_call(block: Block) -> bool:
    return any(
        word.number is not None
        and (word.letter, int(word.number.value)) in (("M", 97), ("M", 98), ("G", 65), ("G", 66))
        for word in block.words
    )
