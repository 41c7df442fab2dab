"""The rule `unreached-block-changed`: nothing is dropped."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.engine import CoveredView
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn


class UnreachedBlockChanged(ChangeRule):
    """A block was changed that no run of this program reaches, under any position of the switches.

    It does nothing today. It will when somebody calls it, jumps to it or takes the end above it away.
    """

    id = "unreached-block-changed"
    revision = 1
    weight = Weight.MINOR
    mirror = "unreached-block-changed"
    catch_all = True
    title = "A block that is not reached is changed."
    watch = "Ask why the block is there; it is not checked, because nothing runs it."
    examples = (
        Example(
            "behind the program end",
            turning("Z-1.", tail="M30\nG01 X5. F0.1\n"),
            True,
            old=turning("Z-1.", tail="M30\nG01 X4. F0.1\n"),
        ),
        Example("reached", turning("Z-1."), False, old=turning("Z-1.5")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Edits none of whose blocks is executed on either side."""
        assert isinstance(change, CoveredView)
        for edit in change.edits:
            if edit.index in change.covered_edits:
                continue
            sides = ((change.old, edit.old), (change.new, edit.new))
            if not any(trace.executed[b] for view, blocks in sides for _, trace in view.traces for b in blocks):
                count = len(edit.new) or len(edit.old)
                yield Drawn(
                    f"{count} block{'s' if count > 1 else ''} changed that no run of the program reaches",
                    edits=(edit.index,),
                )
