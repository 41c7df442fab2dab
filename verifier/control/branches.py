"""Questions that only the machine can answer, and what follows from an answer: one execution follows one way through them.

`branches_contradict` tells whether two ways can never be taken by the same machine, so that two programs are compared only along ways that fit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from verifier.control.expressions import Atom, holds


class Branch(NamedTuple):
    """A question that decided where a run goes on, the answer it was followed with, and the block that asked first."""

    atom: Atom
    taken: bool
    block: int

    @property
    def text(self) -> str:
        """The answer in words."""
        name, operator, bound = self.atom.what, self.atom.operator, self.atom.bound
        if bound is None:
            return f"{name} is {'' if self.taken else 'not '}unset"
        sign = {("EQ", True): "=", ("EQ", False): "not", ("LT", True): "below", ("LT", False): "at least"}.get(
            (operator, self.taken), "above" if self.taken else "at most"
        )
        return f"{name} {sign} {bound}"


@dataclass(slots=True)
class _Known:
    """What the answers so far say about one unknown."""

    equal: Fraction | None = None
    unset: bool | None = None
    low: Fraction | None = None
    low_open: bool = False
    high: Fraction | None = None
    high_open: bool = False
    others: set[Fraction] = field(default_factory=set)

    def answer(self, operator: str, bound: Fraction | None) -> bool | None:
        """The answer that follows, or None."""
        if bound is None:
            return self.unset if self.equal is None else False
        if self.equal is not None:
            return holds(operator, self.equal - bound)
        if self.unset:
            return False if operator == "EQ" else holds(operator, -bound)
        below = self.high is not None and (self.high < bound or (self.high == bound and self.high_open))
        above = self.low is not None and (self.low > bound or (self.low == bound and self.low_open))
        if operator == "EQ":
            return False if below or above or bound in self.others else None
        if operator == "LT":
            at_least = self.low is not None and self.low >= bound
            return True if below else False if at_least else None
        at_most = self.high is not None and self.high <= bound
        return True if above else False if at_most else None

    def learn(self, operator: str, bound: Fraction | None, taken: bool) -> None:
        """Take one answer in."""
        if bound is None:
            self.unset = taken
        elif operator == "EQ":
            if taken:
                self.equal, self.unset = bound, False
            else:
                self.others.add(bound)
        elif (operator == "LT") == taken:
            if self.high is None or bound < self.high or (bound == self.high and taken):
                self.high, self.high_open = bound, taken
        elif self.low is None or bound > self.low or (bound == self.low and taken):
            self.low, self.low_open = bound, taken


@dataclass(slots=True)
class Ways:
    """The answers of one execution: those `given` in advance, by the text of the question, and No for every other."""

    given: Mapping[str, bool] = field(default_factory=dict)
    taken: list[Branch] = field(default_factory=list)
    _known: dict[str, _Known] = field(default_factory=dict)

    def ask(self, atom: Atom, block: int) -> bool:
        """The answer: what follows from earlier ones, else what was given, else No; the last two are noted as branches."""
        follows = self.follows(atom)
        if follows is not None:
            return follows
        answer = self.given.get(atom.text, False)
        self.taken.append(Branch(atom, answer, block))
        self.learn(atom, answer)
        return answer

    def follows(self, atom: Atom) -> bool | None:
        """What the answers so far say about a question."""
        known = self._known.get(atom.what)
        return known.answer(atom.operator, atom.bound) if known is not None else None

    def learn(self, atom: Atom, answer: bool) -> None:
        """Take one answer in."""
        self._known.setdefault(atom.what, _Known()).learn(atom.operator, atom.bound, answer)


def branches_contradict(one: Iterable[Branch], other: Iterable[Branch]) -> bool:
    """Whether no machine can take both ways."""
    both = Ways()
    for branch in one:
        both.learn(branch.atom, branch.taken)
    for branch in other:
        follows = both.follows(branch.atom)
        if follows is not None and follows != branch.taken:
            return True
        both.learn(branch.atom, branch.taken)
    return False
