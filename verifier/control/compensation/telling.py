"""What is wrong, or not checked, about compensated moves, in words: faults with place and amount, and the unchecked."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from verifier.control.compensation.legs import Leg, Offset, Role, Tip, Trouble, Wrong
from verifier.control.compensation.spells import Chain, Step
from verifier.control.trace import TICKS_PER_MM, InForce, MoveRow
from verifier.machines import Machine


class Says(Protocol):
    """Where it is said."""

    def unknown(self, what: str, reason: str, block: int | None) -> None:
        """Something is not checked."""
        ...

    def fault(self, code: str, block: int, message: str, text: str = "") -> None:
        """Something is wrong."""
        ...


class Teller:
    """Puts what the offset met into words, for one machine."""

    def __init__(self, machine: Machine, record: Says) -> None:
        axis = machine.axes.get("X")
        self._across = 2 if axis is not None and axis.diameter else 1
        self._record = record

    def unknown(self, row: MoveRow, states: Sequence[InForce], why: str) -> None:
        """The tool's path is not known from a move on."""
        self._record.unknown(f"path under {states[row.state].compensation}", why, row.block)

    def arc_cannot_turn(self, step: Step) -> bool:
        """Whether compensation would be switched on or off in an arc, which most controls refuse."""
        return step.row.kind.arc and step.role is not Role.CONTOUR

    def chain(self, chain: Chain, legs: Sequence[Leg], tip: Tip, offset: Offset, states: Sequence[InForce]) -> None:
        """Everything about one chain."""
        for step in chain.steps:
            if self.arc_cannot_turn(step):
                self._in_arc(step)
        first = chain.steps[0]
        if first.why:
            reason = f"{first.why} while compensation is on; taken to enter the contour anew"
            self._record.unknown(f"path under {states[first.row.state].compensation}", reason, first.row.block)
        self._entry(first, legs[0], tip)
        for trouble in offset.troubles:
            self._trouble(trouble, chain, tip, states)
        for k in offset.unseen:
            self._record.fault(
                "compensation-corner-unseen", chain.steps[k].row.block,
                f"two or more blocks without motion stand behind the move to {self._end(chain.steps[k].row)}: the "
                "control does not see the next one, and the nose goes square to this one's end",
            )  # fmt: skip
        for k in offset.exact_fit:
            row = chain.steps[k].row
            reason = f"the nose just fills the arc to {self._end(row)}; some controls stop there"
            self._record.unknown(f"path under {states[row.state].compensation}", reason, row.block)

    def _in_arc(self, step: Step) -> None:
        way = "on" if step.role is Role.ENTRY else "off"
        self._record.fault(
            "compensation-switched-in-arc", step.row.block,
            f"nose compensation is switched {way} in an arc; most controls stop, and the path is not known",
        )  # fmt: skip
        self._record.unknown(
            f"arc under which compensation goes {way}",
            "taken as a straight move; most controls refuse it",
            step.row.block,
        )

    def _entry(self, step: Step, leg: Leg, tip: Tip) -> None:
        way = (leg.end.x - leg.start.x) ** 2 + (leg.end.z - leg.start.z) ** 2
        if step.why or not way or way >= tip.radius**2:
            return
        far = Decimal(way).sqrt()
        self._record.fault(
            "entry-shorter-than-nose", step.row.block,
            f"the move that switches nose compensation on goes {_mm(far)} mm, less than the nose radius {_mm(tip.radius)} mm",
        )  # fmt: skip

    def _trouble(self, trouble: Trouble, chain: Chain, tip: Tip, states: Sequence[InForce]) -> None:
        row, into = chain.steps[trouble.leg].row, chain.steps[trouble.into].row
        nose, amount, end = f"the nose (radius {_mm(tip.radius)} mm)", _mm(trouble.amount), self._end(row)
        fault = self._record.fault
        if trouble.wrong is Wrong.CUTS:
            fault(
                "nose-cuts-into-contour", row.block,
                f"{nose} cuts {amount} mm into the move to {self._end(into)} on the way to {end}",
            )  # fmt: skip
        elif trouble.wrong is Wrong.TIGHT:
            message = f"{nose} does not fit into the arc to {end}: its radius is {amount} mm too large"
            fault("nose-larger-than-arc", row.block, message)
        elif trouble.wrong is Wrong.GONE:
            message = f"{nose} leaves nothing of the move to {end}: it would have to go back {amount} mm on it"
            fault("nose-leaves-nothing", row.block, message)
        elif trouble.wrong is Wrong.BACK:
            message = f"the path turns back on itself on the way to {end}: {nose} goes to the other side of the line"
            fault("nose-changes-side", row.block, message)
        else:
            reason = (
                f"on the way to {end} {nose} comes {amount} mm nearer than its radius to the move to "
                f"{self._end(into)}, far from it along the path; whether material is there is not computed"
            )
            self._record.unknown(f"path under {states[row.state].compensation}", reason, row.block)

    def _end(self, row: MoveRow) -> str:
        """Where a move was programmed to end."""
        if row.bx1 or row.bz1:
            return "its end"
        return f"X{_mm(row.x1 * self._across)} Z{_mm(row.z1)}"


def _mm(ticks: int | Decimal) -> str:
    """Millimetres to a tenth of a micrometre."""
    value = Fraction(ticks) / TICKS_PER_MM
    tenths = round(value * 10_000)
    sign = "-" if tenths < 0 else ""
    text = f"{sign}{abs(tenths) // 10_000}.{abs(tenths) % 10_000:04d}"
    return text.rstrip("0").rstrip(".")
