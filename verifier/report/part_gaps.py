"""What could not be said of the part: without a stock nothing, else each thing that was not swept, with the reason."""

from __future__ import annotations

from collections.abc import Sequence

from verifier.findings import ProgramView
from verifier.report.change_report import NotChecked

_WHAT = "part, stock, tools and contacts"


def part_gaps(views: Sequence[ProgramView]) -> tuple[NotChecked, ...]:
    """What of the part was not computed, each thing once, the new side's place where it has one."""
    parts = [(view, view.side.part()) for view in views]
    if any(part is None for _, part in parts):
        return (NotChecked(_WHAT, "no setup sheet names the stock, so that no material is computed", None),)
    found: dict[tuple[str, str], NotChecked] = {}
    for view, part in parts:
        for gap in part.gaps if part is not None else ():
            place = view.place(gap.block) if gap.block is not None else None
            known = found.get((gap.what, gap.reason))
            # The new side comes last, and counts for itself.
            if known is None or view.name == "new":
                found[(gap.what, gap.reason)] = NotChecked(gap.what, gap.reason, place, max(gap.count, 1))
    kept = NotChecked("load, surface", "not computed in this version", None)
    return (*found.values(), kept)
