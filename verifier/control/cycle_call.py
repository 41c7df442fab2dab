"""One cycle block being carried out: its words, what a first line left, where it starts and ends, and what it asks of the executor."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from verifier.control.context import Context, target
from verifier.control.cycle_words import Amounts, CycleRefused
from verifier.control.instruction import Instruction
from verifier.control.strokes import Contour, Point


@dataclass(frozen=True, slots=True)
class Found:
    """A contour as its labels were found: block indices first to last, and the block at which execution goes on."""

    first: int
    last: int
    resume: int


class Runner(Protocol):
    """What the cycles need of the executor: the contour between two labels, dry and for real."""

    def find_contour(self, ctx: Context, first: int, last: int, *, behind: bool) -> Found:
        """Where the labels stand; raises CycleRefused where they do not."""
        ...

    def dry_contour(self, ctx: Context, found: Found) -> Contour:
        """The contour's moves from the present point, without doing them; raises CycleRefused where it cannot be known."""
        ...

    def run_contour(self, ctx: Context, found: Found) -> None:
        """Execute the contour's blocks for real."""
        ...

    def contour_text(self, found: Found) -> str:
        """The contour's words as comparable text."""
        ...


@dataclass(slots=True)
class Call:
    """One cycle block being carried out."""

    ctx: Context
    ins: Instruction
    code: str
    amounts: Amounts
    runner: Runner
    found: Found | None = None
    start_angle: Fraction | None = None
    """Of a threading cycle: the angle at which the spindle stands when each pass starts, in degrees."""

    @property
    def name(self) -> str:
        """The cycle's code as this machine names it."""
        return self.ctx.name(self.code)

    def first_line(self) -> tuple[dict[str, int], int]:
        """The amounts that the first line of the two-block form left, with the origin that set them."""
        kept: tuple[dict[str, int], int] = self.ctx.modal.cycle.get(self.code, ({}, -1))
        return kept

    def keep(self, given: dict[str, int | None]) -> None:
        """Keep the amounts of a first line; those not given stay as they were."""
        if all(value is None for value in given.values()):
            raise CycleRefused(
                "cycle-amount-missing", f"{self.name} without any of its words does nothing that is known here"
            )
        before, _ = self.first_line()
        self.ctx.modal.cycle[self.code] = (
            before | {name: value for name, value in given.items() if value is not None},
            self.ctx.origin,
        )

    def start(self) -> Point:
        """Where the cycle starts; refused where that is not known."""
        x, z = self.ctx.position()
        if not (x.known and z.known):
            raise CycleRefused("", "the cycle starts at a place that is not known here")
        return Point(x.ticks, z.ticks)

    def end(self) -> Point:
        """The point named by X U Z W."""
        goal = target(self.ctx, self.ins)
        if not (goal.x.known and goal.z.known):
            raise CycleRefused("", "the cycle ends at a place that is not known here")
        for axis, place in zip("XZ", goal.point, strict=True):
            if axis in goal.named:
                self.amounts.note(f"end {axis}", place.ticks * (2 if axis == "X" and self._diameter() else 1))
        return Point(goal.x.ticks, goal.z.ticks)

    def _diameter(self) -> bool:
        axis = self.ctx.machine.axes.get("X")
        return bool(axis and axis.diameter)
