"""The rule `thread-lead-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, values

_THREAD = "G97 S800\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\nX18.9\nG00 X62."


class ThreadLeadChanged(ChangeRule):
    """A thread is cut with another lead.

    The lead is the thread: with another one the part is scrap, and a thread recut at another lead breaks the tool.
    """

    id = "thread-lead-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "thread-lead-changed"
    title = "The lead of a thread is changed."
    watch = "Check the lead against the drawing and against the thread gauge on the first part."
    examples = (
        Example("1.5 to 1.75", turning(_THREAD.replace("F1.5", "F1.75")), True, old=turning(_THREAD), line=9),
        Example(
            "change of a varying lead",
            turning("G97 S500\nG34 Z-20. F1.5 K0.2"),
            True,
            old=turning("G97 S500\nG34 Z-20. F1.5 K0.1"),
            line=8,
        ),
        Example("another diameter", turning(_THREAD.replace("X18.9", "X18.8")), False, old=turning(_THREAD)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every lead that differs, with the run-out that follows from it."""
        for share in change.shares(self.id):
            shown = dict.fromkeys(
                (shop.feed(e.before, "lead", change.old.units), shop.feed(e.after, "lead", change.new.units), values(e))
                for e in share.leads
                if e.field == "feed"
            )
            parts = [
                f"from {before} to {after}" + (f" ({shop.ratio_words(*pair)})" if pair else "")
                for before, after, pair in shown
            ]
            parts += dict.fromkeys(
                f"in its change per revolution from {_change(e.before, change.old.units)} to {_change(e.after, change.new.units)}"
                for e in share.leads
                if e.field == "lead_change"
            )
            first = next(iter(shown), (None, None, None))
            yield Drawn(
                f"Thread lead changed {joined(parts)}" if parts else "The run-out of a thread changed with its lead",
                share.covers,
                before=first[0],
                after=first[1],
            )


def _change(value: object, units: str) -> str:
    return "none" if value is None else shop.feed(value, "", units)
