"""Rules that speak of what reading met: problems of the text by their code, each put at a block."""

from __future__ import annotations

from abc import ABC
from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from verifier.findings.faults import sentence
from verifier.findings.model import Weight
from verifier.findings.rule import ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.source import Problem


@dataclass(frozen=True, slots=True)
class Located:
    """A problem, the block at its place (the next one where the line holds none), and whether it makes that block unreadable."""

    problem: Problem
    block: int
    flaw: bool
    on_line: bool


def located(program: ProgramView) -> list[Located]:
    """Every problem of the text in the order of their places; none in a text without a block."""
    columns = program.program.columns
    if not len(columns.line):
        return []
    flaws = {flaw for k in np.flatnonzero(~columns.plain).tolist() for flaw in program.block(k).flaws}
    found = []
    for problem in program.program.problems:
        block = min(int(np.searchsorted(columns.line, problem.span.line)), len(columns.line) - 1)
        on_line = int(columns.line[block]) == problem.span.line
        found.append(Located(problem, block, problem in flaws, on_line))
    return found


class ProblemRule(ProgramRule, ABC):
    """A rule that speaks of these problem codes, and no other rule does."""

    settled: ClassVar[bool] = False
    problem_codes: ClassVar[tuple[str, ...]]

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every problem with one of the codes; those of one code that weigh little together, once."""
        few: dict[str, list[Located]] = {}
        for found in located(program):
            if found.problem.code not in self.problem_codes:
                continue
            weight = self.weight_of(found)
            if weight is Weight.MINOR:
                few.setdefault(found.problem.code, []).append(found)
            else:
                yield self._hazard(found, weight, "")
        for code, several in few.items():
            more = f", and {len(several) - 1} more like it" if len(several) > 1 else ""
            yield self._hazard(several[0], Weight.MINOR, more, code, tuple(s.block for s in several[1:13]))

    def weight_of(self, found: Located) -> Weight:
        """How heavy one problem is."""
        del found
        return self.weight

    def title_of(self, found: Located) -> str:
        """The problem's own sentence."""
        return sentence(found.problem.message)

    def _hazard(
        self, found: Located, weight: Weight, more: str, same_as: str = "", effects: tuple[int, ...] = ()
    ) -> Hazard:
        problem = found.problem
        line = "" if found.on_line else f" (line {problem.span.line})"
        same_as = same_as or f"{problem.code} {problem.text[:60].upper()}"
        column = problem.span.column if found.on_line else 1
        return Hazard(
            found.block, f"{self.title_of(found)}{line}{more}", same_as, weight, effects=effects, column=column
        )
