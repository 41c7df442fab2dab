"""The rule `plane-or-path-mode-changed`."""

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
_NAMES = {"plane": "Plane", "path_mode": "Path mode"}


class PlaneOrPathModeChanged(ChangeRule):
    """Another plane is selected, or corners are taken in another way (exact stop, path mode).

    In another plane arcs and compensation are read along other axes. Without the exact stop a corner is rounded, with it every move stops.
    """

    id = "plane-or-path-mode-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "plane-or-path-mode-changed"
    title = "The plane or the path mode is changed."
    watch = "Look at the first arc and at the first sharp corner."
    examples = (
        Example("exact stop", turning("G61\n" + _CUT), True, old=turning(_CUT), line=7),
        Example("another plane", turning("G17\n" + _CUT), True, old=turning("G18\n" + _CUT), line=7),
        Example("G18 said twice", turning("G18\nG18\n" + _CUT), False, old=turning("G18\n" + _CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch in another plane or path mode."""
        for share in change.shares(self.id):
            yield from each(share, self._drawn)

    def _drawn(self, effect: Effect) -> Drawn:
        before, after = (shop.state_word(value) for value in (effect.before, effect.after))
        return Drawn(f"{_NAMES[effect.field]} changed from {before} to {after}", before=before, after=after)
