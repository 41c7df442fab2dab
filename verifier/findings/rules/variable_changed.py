"""The rule `variable-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import items_of_effects, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62."


class VariableChanged(ChangeRule):
    """A variable that outlives the program is set otherwise, or a system variable is read or written otherwise.

    Other programs, the next part and the operator's pages read these: a counter, a measured size, an offset. A system variable that is written
    can shift every move that follows.
    """

    id = "variable-changed"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "variable-changed"
    title = "A variable that others read is changed."
    watch = "Ask who reads the variable; look at its value at the control before and after the first part."
    examples = (
        Example("another value", turning("#500=2.\n" + _CUT), True, old=turning("#500=1.\n" + _CUT), line=7),
        Example("a common variable is left behind", turning("#101=2.\n" + _CUT), True, old=turning(_CUT), line=7),
        Example("an offset written", turning("#2001=-0.05\n" + _CUT), True, old=turning(_CUT), line=7),
        Example("a local variable", turning("#1=58.\n" + _CUT), False, old=turning(_CUT)),
        Example(
            "the same value", turning("#500=1.+1.\n" + _CUT), False, old=turning("#500=2.\n" + _CUT.replace("58", "57"))
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Writes and readings that came, went or have another value."""
        for share in change.shares(self.id):
            before = joined(dict.fromkeys(str(e.before) for e in share.leads if e.before is not None))
            after = joined(dict.fromkeys(str(e.after) for e in share.leads if e.after is not None))
            if before and after:
                title = f"Variable changed: {before} is now {after}"
            elif before or after:
                title = f"Variable {'no longer used' if before else 'now used'}: {before or after}"
            else:
                title = "Variable used at another time: " + joined(
                    dict.fromkeys(item.value for item in items_of_effects(share.leads))
                )
            yield Drawn(title, share.covers, before=before or None, after=after or None)
