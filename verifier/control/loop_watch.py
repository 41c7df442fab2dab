"""Loops that will not end, or not within the limits: found from what their first passes did, without running the rest.

Where a run jumps back to the same block it asks here. Four things end a loop: all it could decide by is as it was before (it goes on for ever);
nothing was decided on the way (the same); what its decisions were computed from is as it was a pass before, whatever else counts on (the same);
or two passes took the same way, every statement on it only added and multiplied by plain numbers (or worked otherwise with what no statement on
the way sets: the sine of #500 stays what it is), and every variable rose by the same amount.
Then each further pass does the same, and where a comparison turns is a division. A question that only the machine can answer has one answer
in a run: asked again it never turns.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from verifier.control.expressions import COMPARISONS, Compared, holds, read_by
from verifier.control.values import Symbol, Value, minus
from verifier.syntax import Binary, Expression, Literal, Unary, Variable

ENDLESS, TOO_MANY = "endless", "too-many"
_LONGEST_LOG = 20_000
_SYSTEM = 1000
"""From this number on variables are the machine's own (common practice, no source)."""

Snapshot = tuple[tuple[int, int, Value], ...]


class Step(NamedTuple):
    """A statement on the way: its block, whether it only adds and multiplies by plain numbers, and the comparisons it decided by."""

    block: int
    plain: bool
    compared: tuple[Compared, ...] = ()
    decides: bool = False
    read: frozenset[int] | None = None
    """The variables it was computed from; None where that is not known, or where more hangs on it than variables."""
    written: int = -1
    """The variable it sets."""
    bent: frozenset[int] | None = None
    """The variables in those parts of it that do more than add and multiply by plain numbers; None where that is not known."""


@dataclass(slots=True)
class Mark:
    """What was known when a run last jumped back to a block."""

    log_at: int
    steps: int
    moves: int
    state: tuple[object, ...]
    variables: Snapshot
    saved: tuple[object, ...]
    passes: int = 1
    shape: tuple[object, ...] = ()
    distances: tuple[Fraction | None, ...] = ()
    rise: tuple[Fraction, ...] | None = None


@dataclass(slots=True)
class LoopWatch:
    """The statements since the start of the run (the last ones of many)."""

    log: list[Step] = field(default_factory=list)
    start: int = 0
    hangs_on: frozenset[str] = frozenset()
    """What only the machine knows and the loop that was asked about last decided by."""

    def note(self, step: Step) -> None:
        """A statement was executed."""
        if len(self.log) >= _LONGEST_LOG:
            self.start += len(self.log)
            self.log.clear()
        self.log.append(step)

    def back(
        self,
        marks: dict[int, Mark],
        target: int,
        variables: Snapshot,
        outside: tuple[object, ...],
        done: tuple[int, int],
        limits: tuple[int, int],
    ) -> str:
        """A jump back to `target`: ENDLESS, TOO_MANY, or nothing to say.

        `outside` is what else decides (calls, reads); `done` blocks and moves so far, `limits` how many of each there may be.
        """
        state: tuple[object, ...] = (variables, outside)
        mark, now = marks.get(target), self.start + len(self.log)
        marks[target] = fresh = Mark(now, *done, state, variables, state)
        if mark is None or mark.log_at < self.start:
            return ""
        way = self.log[mark.log_at - self.start :]
        self.hangs_on = frozenset(one.question for step in way for one in step.compared if one.question)
        if state == mark.saved or not any(step.decides for step in way):
            return ENDLESS
        fresh.passes = mark.passes + 1
        if fresh.passes & (fresh.passes - 1):
            # a new one at every power of two: a cycle of states is met within twice its length
            fresh.saved = mark.saved
        elif mark.state[1] == outside and _decides_as_before(way, mark.variables, variables):
            return ENDLESS
        fresh.shape, fresh.distances = _shape(way)
        fresh.rise = _rise(mark.variables, variables)
        if not _the_same(mark, fresh) or not _only_adds(way):
            return ""
        return _foretold(mark, fresh, limits)


def _only_adds(way: list[Step]) -> bool:
    """Whether all that a pass does is to add and to multiply by plain numbers: what else it works with, no statement of it sets."""
    set_here = {step.written for step in way}
    return all(step.plain or (step.bent is not None and not step.bent & set_here) for step in way)


def _decides_as_before(way: list[Step], before: Snapshot, after: Snapshot) -> bool:
    """Whether all that a pass's decisions were computed from is after it as it was before: then the next pass decides the same, and so on.

    What they were computed from: the variables that they read, and those from which one of these was set on the way.
    """
    sources: dict[int, set[int]] = {}
    matter: set[int] = set()
    for step in way:
        if step.read is None:
            return False
        if step.decides:
            matter |= step.read
        if step.written >= 0:
            sources.setdefault(step.written, set()).update(step.read)
    queue = list(matter)
    while queue:
        more = sources.get(queue.pop(), set()) - matter
        matter |= more
        queue += more
    held = [[entry for entry in snapshot if entry[1] in matter] for snapshot in (before, after)]
    return held[0] == held[1]


def _shape(way: list[Step]) -> tuple[tuple[object, ...], tuple[Fraction | None, ...]]:
    compared = [one for step in way for one in step.compared]
    shape = tuple((step.block, tuple((c.operator, c.outcome, c.question) for c in step.compared)) for step in way)
    return shape, tuple(one.distance for one in compared)


def _rise(before: Snapshot, after: Snapshot) -> tuple[Fraction, ...] | None:
    """By how much each variable rose; None where that is no plain number for each of the same variables."""
    if [entry[:2] for entry in before] != [entry[:2] for entry in after]:
        return None
    found = []
    for (_, _, one), (_, _, other) in zip(before, after, strict=True):
        if one == other:
            found.append(Fraction(0))
        elif one is None or other is None:
            return None
        else:
            rise = minus(other, one)
            if isinstance(rise, Symbol):
                return None
            found.append(rise)
    return tuple(found)


def _the_same(mark: Mark, fresh: Mark) -> bool:
    known = fresh.rise is not None and None not in mark.distances and None not in fresh.distances
    return known and mark.rise == fresh.rise and mark.shape == fresh.shape


def _foretold(mark: Mark, fresh: Mark, limits: tuple[int, int]) -> str:
    comparisons = [one for _, some in fresh.shape for one in some]  # type: ignore[misc,has-type]
    turns = []
    for (operator, outcome, question), before, after in zip(comparisons, mark.distances, fresh.distances, strict=True):
        assert before is not None and after is not None
        if question and not _answered(operator, outcome, after - before):
            return ""
        turn = None if question else turns_after(operator, outcome, after, after - before)
        if turn is not None:
            turns.append(turn)
    if not turns:
        return ENDLESS
    passes = min(turns)
    for had, has, limit in zip((mark.steps, mark.moves), (fresh.steps, fresh.moves), limits, strict=True):
        if has + (has - had) * (passes - 1) > limit:
            return TOO_MANY
    return ""


def _answered(operator: str, answer: bool, rise: Fraction) -> bool:
    """Whether the answer to a question is the answer for good, its bound rising by `rise` each pass: what is below 3 is below 4."""
    return not rise or (operator in ("LT", "GT") and (rise > 0) == ((operator == "LT") == answer))


def turns_after(operator: str, outcome: bool, distance: Fraction, rise: Fraction) -> int | None:
    """After how many passes a comparison comes out otherwise, its distance rising by `rise` each pass; None for never."""
    if operator in ("GT", "GE"):
        return turns_after({"GT": "LT", "GE": "LE"}[operator], outcome, -distance, -rise)
    if not rise:
        return None
    if operator in ("EQ", "NE"):
        if (operator == "EQ") == outcome:
            return 1
        passes = -distance / rise
        return int(passes) if passes.denominator == 1 and passes >= 1 else None
    if (rise > 0) != outcome:
        return None
    passes = -distance / rise
    first = max(1, -(-passes.numerator // passes.denominator))
    return first if holds(operator, distance + first * rise) != outcome else first + 1


def is_plain(*expressions: Expression | None) -> bool:
    """Whether values only add, and multiply by plain numbers: then they rise by the same amount wherever their variables do."""
    return all(expression is None or _plain(expression) for expression in expressions)


def decides_plainly(condition: Expression) -> bool:
    """Whether a condition only compares such values."""
    if not isinstance(condition, Binary):
        return False
    sides = condition.left, condition.right
    if condition.operator in ("AND", "OR"):
        return all(map(decides_plainly, sides))
    return condition.operator in COMPARISONS and all(map(_plain, sides))


def bent_in(*expressions: Expression | None) -> frozenset[int] | None:
    """The variables in those parts of values that do more; None where one may be any, or is the machine's own (a place or a clock goes on)."""
    parts = [_bent(expression) for expression in expressions if expression is not None]
    numbers = frozenset(number for part in parts for number in part if number is not None)
    return None if any(None in part for part in parts) or any(n >= _SYSTEM for n in numbers) else numbers


def bent_in_condition(condition: Expression) -> frozenset[int] | None:
    """The same for a condition; None where it is none that compares."""
    if not isinstance(condition, Binary):
        return None
    sides = condition.left, condition.right
    if condition.operator in ("AND", "OR"):
        found = [bent_in_condition(side) for side in sides]
        return None if None in found else frozenset().union(*(one for one in found if one))
    return bent_in(*sides) if condition.operator in COMPARISONS else None


def _bent(expression: Expression) -> set[int | None]:
    if _plain(expression):
        return set()
    if isinstance(expression, Unary):
        return _bent(expression.operand)
    if isinstance(expression, Binary) and expression.operator in ("+", "-"):
        return _bent(expression.left) | _bent(expression.right)
    return set(read_by(expression))


def _plain(expression: Expression) -> bool:
    if isinstance(expression, Literal):
        return True
    if isinstance(expression, Variable):
        return isinstance(expression.index, Literal)
    if isinstance(expression, Unary):
        return _plain(expression.operand)
    if not isinstance(expression, Binary) or expression.operator not in ("+", "-", "*", "/"):
        return False
    sides = expression.left, expression.right
    factor = {"*": any(isinstance(side, Literal) for side in sides), "/": isinstance(sides[1], Literal)}
    return all(map(_plain, sides)) and factor.get(expression.operator, True)
