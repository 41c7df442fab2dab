"""What tools meet on their way, as hazards: one for each block and thing met, with where, how deep and at which step of a cycle.

Three blocks and more of one tool that meet the same thing are one finding, with the deepest of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.control import TICKS_PER_MM, Trace
from verifier.findings import shop
from verifier.findings.model import Box
from verifier.findings.tooling import ToolCall, tool_calls
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import AT_CHANGES, Contact, Meeting


def contact_hazards(
    program: ProgramView, kind: str, says: str, beside: tuple[str, str] | None = None
) -> Iterator[Hazard]:
    """The contacts of a kind, each block's deepest; `says` has places for {amount}, {what} and {tool}.

    `beside`: another kind and what is said of it, told as one with the first where a block meets one thing in both ways: the deeper one.
    """
    sentences = dict(((kind, says), *((beside,) if beside else ())))
    part, trace = program.side.part(), program.trace
    found: dict[tuple[int, str], list[Contact]] = {}
    for contact in part.contacts if part is not None else ():
        if contact.kind in sentences:
            found.setdefault((block_of(program, contact), contact.what), []).append(contact)
    deepest = {key: max(contacts, key=lambda contact: contact.amount) for key, contacts in found.items()}
    # The deepest first: of many blocks that meet the same thing with the same tool it is the one that is told.
    for (block, what), contacts in sorted(found.items(), key=lambda entry: -deepest[entry[0]].amount):
        worst = deepest[block, what]
        tool = tool_of(program, worst)
        amount = shop.millimetres(_rounded(worst.amount), program.units)
        title = sentences[worst.kind].format(amount=amount, what=what or "the piece", tool=f"T{tool}")
        title += where(worst.where, program.units)
        if kind not in AT_CHANGES:
            title += step(trace, worst.move)
        if (more := len({contact.move for contact in contacts}) - 1) > 0:
            title += f", and at {more} more of its moves"
        habit = f"{title}; so do {{n}} more blocks"
        yield Hazard(block, title, f"{tool} {what}", after=amount, habit=habit, box=box_of(worst.where))


def block_of(program: ProgramView, contact: Contact) -> int:
    """The block at which something is met: that of the move, or of the tool word."""
    if contact.kind in AT_CHANGES:
        return next(call.block for call in changes_at(program, contact.move))
    return int(program.trace.moves.block[contact.move])


def tool_of(program: ProgramView, contact: Contact) -> object:
    """The tool at work when something is met; at a tool change the one before it."""
    if contact.kind in AT_CHANGES:
        return next(call.before for call in changes_at(program, contact.move))
    trace = program.trace
    return trace.states[int(trace.moves.state[contact.move])].tool


def changes_at(program: ProgramView, move: int) -> Iterator[ToolCall]:
    """The tool words that put another tool to work when so many moves are made."""
    return (
        call
        for call in tool_calls(program)
        if call.at == move and call.before and call.tool and call.tool != call.before
    )


def _rounded(millimetres: float) -> Fraction:
    return Fraction(round(millimetres * 10_000), 10_000)


def where(place: Meeting | None, units: str) -> str:
    """The box around a meeting, in words."""
    if place is None:
        return ""
    ends = [shop.millimetres(_rounded(z), units) for z in (place.z_from, place.z_to)]
    across = [shop.length(round(r * TICKS_PER_MM), units, diameter=True) for r in (place.r_from, place.r_to)]
    return f", between Z {ends[0]} and {ends[1]}, diameter {across[0]} to {across[1]}"


def box_of(place: Meeting | None) -> Box | None:
    """The box around a meeting."""
    return None if place is None else (place.z_from, place.z_to, place.r_from, place.r_to)


def step(trace: Trace, move: int) -> str:
    """The step of a cycle that a move is, in words."""
    said = trace.steps[int(trace.moves.step[move])]
    return f" ({said})" if said else ""
