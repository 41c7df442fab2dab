"""Rules that speak of what execution met: faults by their code, one hazard for each place or for each thing that is wrong."""

from __future__ import annotations

from abc import ABC
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import ClassVar

from verifier.control import Fault
from verifier.findings.model import Weight
from verifier.findings.rule import ProgramRule
from verifier.findings.view import Hazard, ProgramView


class FaultRule(ProgramRule, ABC):
    """A rule that speaks of these fault codes, and no other rule does. `together`: the same fault at many blocks is one hazard.

    A fault is something that execution could not take as it stands, and so nothing to be accepted, unless a rule says that it is understood.
    """

    settled: ClassVar[bool] = False

    codes: ClassVar[tuple[str, ...]]
    together: ClassVar[bool] = False
    weights: ClassVar[Mapping[str, Weight]] = MappingProxyType({})

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every fault with one of the codes."""
        groups: dict[tuple[object, ...], list[Fault]] = {}
        for fault in program.trace.faults:
            if fault.code in self.codes:
                where = () if self.together else (fault.block,)
                groups.setdefault((*where, fault.code, fault.text.upper()), []).append(fault)
        for faults in groups.values():
            first = faults[0]
            yield Hazard(
                first.block,
                self.title_of(first, program),
                self.same_as(first),
                self.weights.get(first.code),
                effects=tuple(dict.fromkeys(fault.block for fault in faults[1:]))[:12],
                column=column_of(program, first.block, first.text),
            )

    def title_of(self, fault: Fault, program: ProgramView) -> str:
        """The fault's own sentence."""
        return sentence(fault.message)

    def same_as(self, fault: Fault) -> str:
        """The same fault in another revision: its code, and the letter of the word it is about."""
        return f"{fault.code} {fault.text[:1].upper()}".strip()


def sentence(text: str) -> str:
    """A message as the title of a finding."""
    return text[:1].upper() + text[1:]


def column_of(program: ProgramView, block: int, text: str) -> int:
    """The column of the first word that a fault quotes, or 1."""
    if not text or not 0 <= block < len(program.program.blocks):
        return 1
    first = text.split()[0] if text.split() else text
    return next((word.column for word in program.block(block).words if word.text.replace(" ", "") == first), 1)
