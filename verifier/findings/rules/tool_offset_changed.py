"""The rule `tool-offset-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, item_of

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class ToolOffsetChanged(ChangeRule):
    """The same tool runs with another tool offset, or with none.

    The offset says where the tip is. With the offset of another tool every position is off by the difference of the two, at rapid too.
    """

    id = "tool-offset-changed"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    mirror = "tool-offset-changed"
    title = "Another tool offset is in force."
    watch = (
        "Read the values of both offsets at the control before the first approach; single block, lowest rapid override."
    )
    examples = (
        Example("T0101 became T0111", turning(_CUT).replace("T0101", "T0111"), True, old=turning(_CUT), line=3),
        Example("another tool", turning(_CUT).replace("T0101", "T0303"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch with another offset of the same tool, and calls that only change the offset."""
        for share in change.shares(self.id):
            lead = next((e for e in share.leads if e.field == "offset"), share.leads[0])
            if lead.field != "offset":
                yield self._call(share, lead)
                continue
            before, after = (_offset(value) for value in (lead.before, lead.after))
            tool = item_of(lead.first).state.tool
            name = f" of tool {tool}" if tool is not None else ""
            yield Drawn(f"Tool offset{name} changed from {before} to {after}", share.covers, before=before, after=after)

    def _call(self, share: Share, lead: Effect) -> Drawn:
        """A call behind which nothing moves."""
        before, after = (None if value is None else str(value) for value in (lead.before, lead.after))
        words = f"changed from {before} to {after}"
        if before is None or after is None:
            words = f"added: {after}" if before is None else f"removed: {before}"
        return Drawn(f"Tool offset call {words}", share.covers, before=before, after=after)


def _offset(value: object) -> str:
    return "none established" if value is None else "0 (cancelled)" if value == 0 else str(value)
