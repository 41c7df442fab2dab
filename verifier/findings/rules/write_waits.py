"""The rule `write-waits`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.rules.write_reads_ahead import unguarded
from verifier.findings.view import ChangeView, Drawn

_COUNT = "G01 Z-30. F0.2\nG00 X100. Z50.\n{}#501=#501+1."


class WriteWaits(ChangeRule):
    """A block that makes the control wait was put in front of a variable.

    The write or the reading now happens after the move in front of it has ended. Where that was the aim, all is well; the time it costs is paid at
    every part.
    """

    id = "write-waits"
    revision = 1
    weight = Weight.MINOR
    mirror = "write-reads-ahead"
    title = "A variable is written or read after the move before it has ended."
    watch = "See that the value is the one expected."
    examples = (
        Example("M00 put in", turning(_COUNT.format("M00\n")), True, old=turning(_COUNT.format(""))),
        Example("stop put in elsewhere", turning("M00\n" + _COUNT.format("")), False, old=turning(_COUNT.format(""))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Writes and readings on both sides that no block waited for before, and one does now."""
        yield from unguarded(change, change.new.trace, change.old.trace, to_new=False)
