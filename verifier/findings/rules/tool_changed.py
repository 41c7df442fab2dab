"""The rule `tool-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.tooling import group_of
from verifier.findings.view import ChangeView, Drawn, item_of
from verifier.machines import Tool

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class ToolChanged(ChangeRule):
    """Moves are made with another tool than before.

    Every number behind the call was written for a certain nose, width and length. Another tool in the same place cuts another shape, or meets
    the part with its holder. A tool of the same group on the setup sheet is made to stand in for it, and still has its own offset and wear.
    """

    id = "tool-changed"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    mirror = "tool-changed"
    title = "Another tool is called."
    watch = "Look which tool stands at that station, with which offset, before the turret turns; then the first approach in single block."
    examples = (
        Example("T0101 became T0303", turning(_CUT).replace("T0101", "T0303"), True, old=turning(_CUT), line=3),
        Example(
            "another tool of the group",
            turning(_CUT).replace("T0101", "T0303"),
            True,
            old=turning(_CUT),
            line=3,
            setup=sheet(Tool(1, "turning", group="rough"), Tool(3, "turning", group="rough")),
        ),
        Example("only the offset", turning(_CUT).replace("T0101", "T0111"), False, old=turning(_CUT)),
        Example("T101 for T0101", turning(_CUT).replace("T0101", "T101"), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every stretch made with another tool; its offset and the place of the turret come with it."""
        for share in change.shares(self.id):
            before, after = self._words(share)
            if before is None:
                title = f"Tool call added: {after}"
            elif after is None:
                title = f"Tool call removed: {before}"
            else:
                title = f"Tool changed from {before} to {after}"
            group = self._group(change, share)
            if group:
                title += f", both of the group {group} on the setup sheet"
            yield Drawn(title, share.covers, before=before, after=after, weight=Weight.MAJOR if group else None)

    def _group(self, change: ChangeView, share: Share) -> str:
        """The group that every tool before and after belongs to, in the setup sheet of each side."""
        leads = [e for e in share.leads if e.field == "tool"]
        pairs = [(group_of(change.old.side.setup, e.before), group_of(change.new.side.setup, e.after)) for e in leads]
        groups = {group for pair in pairs for group in pair}
        return groups.pop() if len(groups) == 1 else ""

    def _words(self, share: Share) -> tuple[str | None, str | None]:
        """The tool with its offset on both sides."""
        lead = next((e for e in share.leads if e.field == "tool"), None)
        if lead is None:
            event = share.leads[0]
            return _call(event.before), _call(event.after)
        return _side(lead, 0), _side(lead, 1)


def _call(value: object) -> str | None:
    """A call as it stands in the trace ("T1 offset 1")."""
    return None if value is None else str(value).replace(" offset None", " without an offset")


def _side(effect: Effect, side: int) -> str:
    first = effect.first
    item = (first.old, first.new)[side]
    tool = (effect.before, effect.after)[side]
    offset = item.state.offset if item is not None else item_of(first).state.offset
    if tool is None:
        return "no tool established"
    return f"T{tool}" + (f" with offset {offset}" if offset is not None else " without an offset")
