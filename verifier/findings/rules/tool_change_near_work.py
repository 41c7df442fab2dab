"""The rule `tool-change-near-work`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.contacts import box_of, changes_at, where
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.model import Weight
from verifier.findings.nearness import distance_to_cuts, place_before
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import cutting
from verifier.findings.tooling import tool_calls
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import CHANGE_NEAR, Contact
from verifier.machines import KeepOut

_CUT = "G01 Z-30. F0.2\nX64."
_NEXT = "T0202\nG00 X62. Z2.\nG01 Z-30. F0.1"
_SHEET = on_bar(INSERT, zones=(KeepOut("jaws", Fraction(-100), Fraction(-40, 1), Fraction(0), Fraction(120), "jaws"),))


class ToolChangeNearWork(ProgramRule):
    """Another tool is called while the tool still stands at the work.

    The turret swings with its longest tool out. What stands at the cut, or a drill beside it, is swung into the part.
    """

    id = "tool-change-near-work"
    revision = 2
    weight = Weight.MAJOR
    people = True
    title = "A tool is changed close to the work."
    watch = "Stop in single block before this tool word, and see that the turret can swing."
    examples = (
        Example("retract lost", turning(f"{_CUT}\n{_NEXT}"), True, line=9),
        Example("back at the start of the cut", turning(f"{_CUT}\nG00 X62. Z2.\n{_NEXT}"), True, line=10),
        Example("at the tool change position", turning(f"{_CUT}\nG00 X100. Z50.\n{_NEXT}"), False),
        Example("at the reference point", turning(f"{_CUT}\nG28 U0. W0.\n{_NEXT}"), False),
        Example("with the jaws beside it", turning(f"G00 X100. Z-40.\n{_NEXT}"), True, line=8, setup=_SHEET),
        Example("clear of the jaws", turning(f"G00 X100. Z50.\n{_NEXT}"), False, setup=_SHEET),
        Example("only its offset is cancelled", turning(f"{_CUT}\nT0100"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every tool call that changes the tool nearer than the retract clearance to piece or work-holding, else to the cuts since the last one."""
        part = program.side.part()
        near = {one.move: one for one in part.contacts if one.kind == CHANGE_NEAR} if part is not None else {}
        yield from (hazard for one in near.values() if (hazard := _swept(program, one)) is not None)
        yield from (hazard for at, hazard in _by_path(program) if at not in near)


def _swept(program: ProgramView, near: Contact) -> Hazard | None:
    """A change as the tool's outline stands to what is left of the piece, and to the keep-outs."""
    call = next(changes_at(program, near.move), None)
    if call is None or near.amount >= program.policy.retract_clearance_mm:
        return None
    shown = shop.millimetres(Fraction(round(near.amount * 1000), 1000), program.units)
    title = f"Tool {call.tool} is called with tool {call.before} {shown} from {near.what or 'the piece'}"
    title += where(near.where, program.units)
    effects = (int(program.trace.moves.block[call.at - 1]),)
    return Hazard(call.block, title, f"T{call.tool}", after=shown, effects=effects, box=box_of(near.where))


def _by_path(program: ProgramView) -> Iterable[tuple[int, Hazard]]:
    trace, limit = program.trace, program.policy.retract_clearance_mm
    cuts, begin = cutting(trace), 0
    for call in tool_calls(program):
        if call.before is None or call.tool == call.before or not call.tool:
            continue
        rows = cuts[(cuts >= begin) & (cuts < call.at)]
        place, begin = place_before(trace, call.at), call.at
        distance = distance_to_cuts(trace, rows, *place) if place is not None and len(rows) else None
        if distance is not None and distance < limit:
            shown = shop.millimetres(Fraction(round(distance * 1000), 1000), program.units)
            title = f"Tool {call.tool} is called {shown} from the cuts of tool {call.before}"
            effects = (int(trace.moves.block[call.at - 1]),)
            yield call.at, Hazard(call.block, title, f"T{call.tool}", effects=effects)
