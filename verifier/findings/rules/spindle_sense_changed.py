"""The rule `spindle-sense-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import each
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."


class SpindleSenseChanged(ChangeRule):
    """The spindle turns the other way than before.

    A tool that cuts in one sense only rubs, breaks or is torn out in the other, a thread gets the other hand, and a chuck or an arbor with a
    thread may unscrew.
    """

    id = "spindle-sense-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "spindle-sense-changed"
    title = "The sense of the spindle is changed."
    watch = "Look which way the spindle must turn for the tool as it is mounted, before the first start."
    examples = (
        Example("M03 to M04", turning(_CUT).replace("M03", "M04"), True, old=turning(_CUT), line=5),
        Example("M3 for M03", turning(_CUT).replace("M03", "M3"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every sense that is the other one."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        before, after = str(effect.before), str(effect.after)
        return Drawn(f"Spindle sense changed from {before} to {after}", before=before, after=after)
