"""The rule `unreadable-block`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.problems import Located, ProblemRule
from verifier.findings.rule import Example
from verifier.findings.view import Hazard, ProgramView


class UnreadableBlock(ProblemRule):
    """A block cannot be read.

    What the control makes of it is not known, and nothing that rests on it was checked: the tool may be elsewhere from there on. A lost digit or a
    comma for a point moves an axis by metres.
    """

    id = "unreadable-block"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "A block that cannot be read."
    watch = "Do not start before the block is written so that it can be read."
    problem_codes = (
        "number-without-digits",
        "two-points",
        "comma-for-point",
        "letter-o-for-zero",
        "two-signs",
        "number-too-long",
        "expression-too-deep",
        "bracket-depth",
        "stray-text",
        "number-without-letter",
        "stray-comma",
        "stray-bracket",
        "stray-per-cent",
        "merge-conflict",
        "unclear-order",
        "unreadable-block",
    )
    examples = (
        Example("two points", turning("G01 Z-3.0.5 F0.2"), True, line=7),
        Example("letter O for zero", turning("GO1 Z-30. F0.2"), True, line=7),
        Example("no number", turning("G01 Z F0.2"), True, line=7),
        Example("readable", turning("G01 Z-30. F0.2 (ROUGH)"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each such block once, with what cannot be read in it."""
        blocks: dict[int, list[Hazard]] = {}
        for hazard in super().check(program):
            blocks.setdefault(hazard.block, []).append(hazard)
        for hazards in blocks.values():
            first = hazards[0]
            more = f" (and {len(hazards) - 1} more in it)" if len(hazards) > 1 else ""
            same_as = " ".join(hazard.same_as for hazard in hazards)
            yield replace(first, title=f"The block cannot be read: {first.title}{more}", same_as=same_as)

    def title_of(self, found: Located) -> str:
        """What cannot be read."""
        return found.problem.message
