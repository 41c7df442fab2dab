"""Where a run can go on elsewhere: block numbers as labels of jumps, and which DO belongs to which END."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from verifier.control.units import Layout, Unit
from verifier.syntax import Literal, Macro, Program

DEEPEST = 3
"""Loops are numbered 1 to 3 on common controls (from memory); another number is a fault."""


@dataclass(frozen=True, slots=True)
class Loops:
    """The loops of one program: block of each DO to that of its END, the reverse, and what is wrong, by block."""

    ends: Mapping[int, int]
    starts: Mapping[int, int]
    wrong: Mapping[int, str]

    def around(self, block: int) -> tuple[int, ...]:
        """The blocks of the DOs whose loops a block lies in (their own DO and END blocks too)."""
        return tuple(start for start, end in self.ends.items() if start <= block <= end)


def loops_of(program: Program, unit: Unit) -> Loops:
    """Find every DO and its END in one program."""
    ends: dict[int, int] = {}
    wrong: dict[int, str] = {}
    opened: list[tuple[int, int]] = []
    odd = np.flatnonzero(~program.columns.plain[unit.first : unit.end]) + unit.first
    for index in odd.tolist():
        for macro in program.blocks[index].macros:
            if macro.kind not in ("while", "do", "end"):
                continue
            number = loop_number(macro)
            if number is None or not 1 <= number <= DEEPEST:
                wrong[index] = f"a loop is numbered 1 to {DEEPEST}; got {macro.text}"
            if macro.kind != "end":
                if number in [n for n, _ in opened]:
                    wrong[index] = f"{macro.text} stands inside a loop of the same number"
                opened.append((number or 0, index))
            else:
                _close(opened, number or 0, index, ends, wrong)
    for _, index in opened:
        wrong.setdefault(index, "the loop has no END of its number")
    return Loops(ends, {end: start for start, end in ends.items()}, wrong)


def _close(opened: list[tuple[int, int]], number: int, index: int, ends: dict[int, int], wrong: dict[int, str]) -> None:
    numbers = [n for n, _ in opened]
    if number not in numbers:
        wrong.setdefault(index, f"END{number} closes no loop")
        return
    while opened[-1][0] != number:
        wrong.setdefault(
            opened.pop()[1], f"the loop has no END of its number before END{number}, so that two loops cross"
        )
    ends[opened.pop()[1]] = index


def loop_number(macro: Macro) -> int | None:
    """The number of a DO or an END; None where it is no plain whole number."""
    target = macro.target
    if not isinstance(target, Literal) or target.number.value.denominator != 1:
        return None
    return int(target.number.value)


def label_blocks(layout: Layout, unit: Unit, label: int, here: int) -> tuple[int, ...]:
    """The blocks that carry a label in one program, in the order in which a jump from block `here` looks: forward, then from the start."""
    inside = [at for at in layout.labels.get(label, ()) if unit.first <= at < unit.end]
    return (*(at for at in inside if at > here), *(at for at in inside if at <= here))
