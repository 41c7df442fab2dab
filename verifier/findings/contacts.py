"""What tools meet on their way, as hazards: one for each block and thing met, with where, how deep and at which step of a cycle."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from verifier.control import TICKS_PER_MM
from verifier.findings import shop
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import Contact, Meeting


def contact_hazards(program: ProgramView, kind: str, says: str) -> Iterator[Hazard]:
    """The contacts of a kind, each block's deepest; `says` has places for {amount}, {what} and {tool}."""
    part = program.side.part()
    found: dict[tuple[int, str], list[Contact]] = {}
    for contact in part.contacts if part is not None else ():
        if contact.kind == kind:
            found.setdefault((int(program.trace.moves.block[contact.move]), contact.what), []).append(contact)
    for (block, what), contacts in found.items():
        worst = max(contacts, key=lambda contact: contact.amount)
        moves, trace = program.trace.moves, program.trace
        tool = trace.states[int(moves.state[worst.move])].tool
        amount = shop.millimetres(_rounded(worst.amount), program.units)
        title = says.format(amount=amount, what=what or "the piece", tool=f"T{tool}")
        title += _where(worst.where, program.units) + _step(trace.steps[int(moves.step[worst.move])])
        if len(contacts) > 1:
            title += f", and at {len(contacts) - 1} more of its moves"
        yield Hazard(block, title, f"{tool} {what}", after=amount)


def _rounded(millimetres: float) -> Fraction:
    return Fraction(round(millimetres * 10_000), 10_000)


def _where(where: Meeting | None, units: str) -> str:
    if where is None:
        return ""
    ends = [shop.millimetres(_rounded(z), units) for z in (where.z_from, where.z_to)]
    across = [shop.length(round(r * TICKS_PER_MM), units, diameter=True) for r in (where.r_from, where.r_to)]
    return f", between Z {ends[0]} and {ends[1]}, diameter {across[0]} to {across[1]}"


def _step(step: str) -> str:
    return f" ({step})" if step else ""
