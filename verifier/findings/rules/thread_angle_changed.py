"""The rule `thread-angle-changed`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.compare import Effect
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_THREAD = "G97 S500\nG00 X22. Z4.\nG92 X19.3 Z-20. F3. Q{}\nG00 X62."


class ThreadAngleChanged(ChangeRule):
    """A thread starts at another angle of the spindle.

    The start angle puts the starts of a thread beside each other. With a wrong one two starts lie in one groove, or a thread that was begun is
    cut to pieces by its last passes.
    """

    id = "thread-angle-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "thread-angle-changed"
    title = "The start angle of a thread is changed."
    watch = "Count the starts on the first part, and look whether the last passes run in the groove of the first."
    examples = (
        Example("second start", turning(_THREAD.format(180000)), True, old=turning(_THREAD.format(0)), line=9),
        Example("said with more zeros", turning(_THREAD.format("00")), False, old=turning(_THREAD.format(0))),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every thread with another start angle."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        before, after = (_degrees(value) for value in (effect.before, effect.after))
        return Drawn(f"Start angle of a thread changed from {before} to {after}", before=before, after=after)


def _degrees(value: object) -> str:
    return f"{shop.decimal(value, 3)} deg" if isinstance(value, Fraction) else "none"
