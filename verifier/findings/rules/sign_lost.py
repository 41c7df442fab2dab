"""The rule `sign-lost`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import amounts_of, joined, not_computed
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class SignLost(ChangeRule):
    """The sign of a coordinate was lost or gained: the same number on the other side of zero.

    The tool goes as far the other way: away from the part, where a rapid follows from a place nobody expects, or into the chuck.
    """

    id = "sign-lost"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "sign-lost"
    title = "A sign was lost or gained."
    watch = "Do not run it: put the sign back, or have it confirmed that the other side of zero is meant."
    examples = (
        Example("minus lost", turning(_CUT.replace("Z-30.", "Z30.")), True, old=turning(_CUT), line=8),
        Example("minus gained", turning(_CUT.replace("X58.", "X-58.")), True, old=turning(_CUT), line=7),
        Example("another length", turning(_CUT.replace("Z-30.", "Z-31.")), False, old=turning(_CUT)),
        Example(
            "zero has no sign", turning(_CUT.replace("Z-30.", "Z-0.")), False, old=turning(_CUT.replace("Z-30.", "Z0."))
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """The words whose sign changed, with all that follows from them."""
        for share in change.shares(self.id):
            words = [c for k in share.causes if k >= 0 for c in change.facts.words[k].signs]
            pairs = [(c.old.text, c.new.text) for c in words if c.old is not None and c.new is not None]
            lost = dict.fromkeys("lost" if "-" in old else "gained" for old, _ in pairs)
            shown = joined(f"{old} is now {new}" for old, new in dict.fromkeys(pairs))
            yield Drawn(
                f"Minus sign {' or '.join(lost)}: {shown}{amounts_of(change, share)}{not_computed(change, share)}",
                share.covers,
                before=pairs[0][0],
                after=pairs[0][1],
            )
