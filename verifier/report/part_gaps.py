"""What could not be said of the part: without a stock nothing, else each thing that was not swept, with the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from verifier.findings import ProgramView
from verifier.report.change_report import NotChecked

_WHAT = "part, stock, tools, contacts, load and surface"
_NO_STOCK = (
    "no setup sheet names the stock: whether a tool or its holder meets material, jaws or its neighbours, what the finished part measures, and "
    "force, power, roughness and grip are not computed; measure every size that the changed sequences cut"
)


def part_gaps(views: Sequence[ProgramView]) -> tuple[NotChecked, ...]:
    """What of the part was not computed, each thing once, the new side's place where it has one."""
    parts = [(view, view.side.part()) for view in views]
    if any(part is None for _, part in parts):
        return (NotChecked(_WHAT, _NO_STOCK, None),)
    found: dict[tuple[str, str], NotChecked] = {}
    for view, part in parts:
        load = view.side.load()
        for gap in (*part.gaps, *load.gaps) if part is not None and load is not None else ():
            place = view.place(gap.block) if gap.block is not None else None
            known = found.get((gap.what, gap.reason))
            # The new side comes last, and counts for itself.
            if known is None or view.name == "new":
                found[(gap.what, gap.reason)] = NotChecked(gap.what, gap.reason, place, max(gap.count, 1))
    return (*found.values(), *_not_on_the_sheet(views[-1]))


def _not_on_the_sheet(view: ProgramView) -> Iterator[NotChecked]:
    """What is computed and held against nothing, because the setup sheet does not say against what."""
    setup = view.side.setup
    if setup is not None and not setup.roughness:
        reason = "the setup sheet names no roughness of the drawing: the theoretical one is held against nothing"
        yield NotChecked("surface", reason, None)
    held = setup.work_holding if setup is not None else None
    if held is None or (held.grip is None and held.kind in ("chuck", "chuck-and-centre")):
        reason = "the setup sheet does not say how hard the jaws grip: what speed takes of it is not computed"
        yield NotChecked("grip at speed", reason, None)
