"""Expressions evaluated: exact numbers where all is known, symbols where something is not, and what each value rests on.

Levels and functions are those of the macro language of lathes; where machines differ the profile's named choice is asked for, and only where
it matters. Source of the rules: NISTIR 6556 sections 3.3.2.3-4 for what both have in common, else common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple, Protocol

from verifier.control import functions
from verifier.control.functions import FUNCTIONS, Impossible, kept
from verifier.control.values import Symbol, Value, minus, plus, symbol, times, value_text
from verifier.syntax import Binary, Call, Expression, Literal, Macro, TwoOrders, Unary, Variable, Word

COMPARISONS = ("EQ", "NE", "GT", "GE", "LT", "LE")
LOGIC = ("AND", "OR", "XOR")
_NEAR = Fraction(1, 10**8)
_FLIPPED = {"GT": "LT", "LT": "GT", "GE": "LE", "LE": "GE", "EQ": "EQ", "NE": "NE"}
_AS_ATOM = {"EQ": ("EQ", True), "NE": ("EQ", False), "LT": ("LT", True), "GE": ("LT", False), "GT": ("GT", True), "LE": ("GT", False)}  # fmt: skip


class Atom(NamedTuple):
    """A question about an unknown: is `what` equal to (EQ), below (LT) or above (GT) `bound`; `bound` None: is it unset."""

    what: str
    operator: str
    bound: Fraction | None

    @property
    def text(self) -> str:
        """The question as comparable text."""
        return f"{self.what} {self.operator} {value_text(self.bound)}"


class Stored(NamedTuple):
    """What a variable holds: its value, the blocks it rests on (none: before the program), and whether arithmetic may have rounded it."""

    value: Value
    blocks: frozenset[int] = frozenset()
    inexact: bool = False


class Memory(Protocol):
    """Where variables are read."""

    def read(self, number: int) -> Stored:
        """The variable of this number; Impossible where the control has none of that number."""
        ...

    def read_unknown(self, index: str) -> Stored:
        """A variable whose number is not known."""
        ...


class Compared(NamedTuple):
    """A comparison that decided something: left minus right where both are known, and how it came out.

    Where one of them is known only to the machine, `question` names it: `distance` is then the bound that it was held against, and `outcome`
    the answer, which is one all through a run.
    """

    operator: str
    distance: Fraction | None
    outcome: bool
    question: str = ""


@dataclass(slots=True)
class Evaluation:
    """One evaluation: asks `memory` for variables, `assume` for the profile's choices, and, where it decides something, `ask` for the way.

    Afterwards: `blocks` that all that was read rests on, `numbers` read, `unset` variables that counted as zero, `unsure` comparisons
    and functions whose outcome may hang on how the control rounds, and `compared`, the comparisons of a decision.
    """

    memory: Memory
    assume: Callable[[str], str]
    ask: Callable[[Atom], bool] | None = None
    blocks: frozenset[int] = frozenset()
    numbers: dict[int, None] = field(default_factory=dict)
    unset: dict[str, None] = field(default_factory=dict)
    unsure: dict[str, None] = field(default_factory=dict)
    compared: list[Compared] = field(default_factory=list)
    inexact: bool = False

    def value(self, expression: Expression) -> Value:
        """The value; None for a variable that is unset. Impossible where there is none."""
        if isinstance(expression, Literal):
            return expression.number.value
        if isinstance(expression, Variable):
            return self._variable(expression)
        if isinstance(expression, Unary):
            inner = self.number(expression.operand)
            return times(inner, Fraction(-1)) if expression.operator == "-" else inner
        if isinstance(expression, Call):
            return self._call(expression)
        if isinstance(expression, TwoOrders):
            with_sums = self.assume("expression-order") == "and-with-sums"
            return self.value(expression.with_sums if with_sums else expression.with_products)
        if expression.operator in COMPARISONS:
            return self._comparison(expression)
        if expression.operator in LOGIC:
            return self._logic(expression)
        return self._arithmetic(expression)

    def number(self, expression: Expression) -> Fraction | Symbol:
        """The value where a number is needed: an unset variable counts as zero there, and is noted."""
        found = self.value(expression)
        if found is None:
            self.unset[_name(expression)] = None
            return Fraction(0)
        return found

    def truth(self, expression: Expression) -> bool:
        """Whether a condition holds; asks where that is not known. Only for an evaluation that can ask."""
        assert self.ask is not None
        if isinstance(expression, TwoOrders):
            with_sums = self.assume("expression-order") == "and-with-sums"
            return self.truth(expression.with_sums if with_sums else expression.with_products)
        if isinstance(expression, Binary) and expression.operator in ("AND", "OR"):
            sides = expression.left, expression.right
            if all(map(_decides, sides)):
                left = self.truth(sides[0])
                return left if left == (expression.operator == "OR") else self.truth(sides[1])
        found = self.value(expression)
        if isinstance(found, Symbol):
            return not self._asked(_atom("EQ", found)[0], straight=True)
        return bool(found)

    # -- parts --------------------------------------------------------------------------------------------------------------

    def _variable(self, expression: Variable) -> Value:
        index = self.number(expression.index)
        if isinstance(index, Symbol):
            stored = self.memory.read_unknown(index.text)
        else:
            if index.denominator != 1 or index < 0:
                raise Impossible(f"a variable number must be whole; got {value_text(index)}")
            stored = self.memory.read(int(index))
            self.numbers[int(index)] = None
        self.blocks |= stored.blocks
        self.inexact = self.inexact or stored.inexact
        return stored.value

    def _arithmetic(self, expression: Binary) -> Fraction | Symbol:
        left, right = self.number(expression.left), self.number(expression.right)
        operator = expression.operator
        if operator in "+-":
            found = plus(left, right) if operator == "+" else minus(left, right)
        elif operator == "*" and isinstance(right, Fraction):
            found = times(left, right)
        elif operator == "*" and isinstance(left, Fraction):
            found = times(right, left)
        elif operator == "/" and isinstance(right, Fraction):
            if not right:
                raise Impossible("a division by zero")
            found = times(left, 1 / right)
        elif isinstance(left, Symbol) or isinstance(right, Symbol):
            return _opaque(operator, left, right)
        elif operator == "MOD":
            if not right:
                raise Impossible("a division by zero")
            found = left - right * functions.toward_zero(left / right)
        else:
            found = functions.power(left, right)
        return self._result(found)

    def _result(self, found: Fraction | Symbol) -> Fraction | Symbol:
        if isinstance(found, Symbol):
            return found
        found = kept(found)
        # A sum of halves, quarters and the like is exact on any control; of others the control's own rounding is not known.
        self.inexact = self.inexact or found.denominator & (found.denominator - 1) != 0
        return found

    def _call(self, expression: Call) -> Fraction | Symbol:
        arguments = [self.number(argument) for argument in expression.arguments]
        known = [argument for argument in arguments if isinstance(argument, Fraction)]
        name = expression.name
        if len(known) < len(arguments):
            return symbol(f"{name}[{', '.join(value_text(argument) for argument in arguments)}]")
        if name in ("FIX", "FUP", "ROUND"):
            return self._whole(name, known[0])
        if name in ("ATAN", "ASIN"):
            return self._result(self._angle(name, known))
        if name == "POW":
            return self._result(functions.power(known[0], known[1]))
        return self._result(kept(FUNCTIONS[name](known[0])))

    def _whole(self, name: str, value: Fraction) -> Fraction:
        edge = value + Fraction(1, 2) if name == "ROUND" else value
        if self.inexact and abs(edge - functions.nearest(edge)) <= _NEAR:
            self.unsure[f"{name}[{value_text(functions.rounded(value, 9))}]"] = None
        if name == "ROUND":
            return Fraction(functions.nearest(value))
        toward = (functions.toward_zero, functions.away_from_zero)
        plain = (lambda v: v.numerator // v.denominator, lambda v: -(-v.numerator // v.denominator))
        k = ("FIX", "FUP").index(name)
        if toward[k](value) == plain[k](value):
            return Fraction(toward[k](value))
        zero = self.assume("fix-and-fup") == "toward-and-away-from-zero"
        return Fraction((toward if zero else plain)[k](value))

    def _angle(self, name: str, known: list[Fraction]) -> Fraction:
        if name == "ASIN":
            found = functions.arc_sine(known[0])
        elif len(known) == 1:
            return functions.arc_tangent(known[0])
        else:
            found = functions.arc_tangent_of_two(known[0], known[1])
        return found + 360 if found < 0 and self.assume("arcus-range") == "0-to-360" else found

    def _logic(self, expression: Binary) -> Fraction | Symbol:
        left, right = self.number(expression.left), self.number(expression.right)
        if isinstance(left, Symbol) or isinstance(right, Symbol):
            return _opaque(expression.operator, left, right)
        operator = expression.operator
        truths = [bool(left), bool(right)]
        as_truth = Fraction({"AND": all(truths), "OR": any(truths), "XOR": truths[0] != truths[1]}[operator])
        if left in (0, 1) and right in (0, 1):
            return as_truth
        if self.assume("logic-operators") == "true-or-false":
            return as_truth
        if left.denominator != 1 or right.denominator != 1:
            raise Impossible(f"{operator} bit by bit of a number that is not whole")
        one, other = int(left), int(right)
        return Fraction({"AND": one & other, "OR": one | other, "XOR": one ^ other}[operator])

    def _comparison(self, expression: Binary) -> Fraction | Symbol:
        before, self.inexact = self.inexact, False
        left, right = self.value(expression.left), self.value(expression.right)
        operator = expression.operator
        if (left is None or right is None) and operator in ("EQ", "NE"):
            self.inexact = before
            return self._with_unset(operator, left, right)
        distance = minus(self._or_zero(left, expression.left), self._or_zero(right, expression.right))
        if isinstance(distance, Symbol):
            self.inexact = before
            return self._unknown(operator, distance)
        if self.inexact and abs(distance) <= _NEAR:
            self.unsure[f"{value_text(left)} {operator} {value_text(right)}"] = None
        self.inexact = before
        outcome = holds(operator, distance)
        self.compared.append(Compared(operator, distance, outcome))
        return Fraction(outcome)

    def _or_zero(self, value: Value, expression: Expression) -> Fraction | Symbol:
        if value is None:
            self.unset[_name(expression)] = None
            return Fraction(0)
        return value

    def _with_unset(self, operator: str, left: Value, right: Value) -> Fraction | Symbol:
        other = left if right is None else right
        if isinstance(other, Symbol):
            return self._asked(Atom(other.text, "UNSET", None), operator == "EQ")
        outcome = (other is None) == (operator == "EQ")
        self.compared.append(Compared(operator, None, outcome))
        return Fraction(outcome)

    def _unknown(self, operator: str, distance: Symbol) -> Fraction | Symbol:
        atom, straight = _atom(operator, distance)
        return self._asked(atom, straight)

    def _asked(self, atom: Atom, straight: bool) -> Fraction | Symbol:
        if self.ask is not None:
            answer = self.ask(atom)
            self.compared.append(Compared(atom.operator, atom.bound or Fraction(0), answer, atom.what))
            return Fraction(answer == straight)
        found = symbol(f"[{atom.text}]")
        return found if straight else minus(Fraction(1), found)


def holds(operator: str, distance: Fraction) -> bool:
    """Whether a comparison holds, by left minus right."""
    return {
        "EQ": distance == 0, "NE": distance != 0, "GT": distance > 0, "GE": distance >= 0, "LT": distance < 0, "LE": distance <= 0,
    }[operator]  # fmt: skip


def _atom(operator: str, distance: Symbol) -> tuple[Atom, bool]:
    """`distance operator 0` as a question about an unknown, and whether it holds when the answer is yes."""
    factor = distance.terms[0][1]
    scaled = times(distance, 1 / factor)
    assert isinstance(scaled, Symbol)
    operator, straight = _AS_ATOM[_FLIPPED[operator] if factor < 0 else operator]
    return Atom(scaled.unknown.text, operator, -scaled.constant), straight


def _decides(expression: Expression) -> bool:
    """Whether an operand of AND or OR is itself a condition."""
    return isinstance(expression, Binary) and (expression.operator in COMPARISONS or expression.operator in LOGIC)


def _opaque(operator: str, left: Fraction | Symbol, right: Fraction | Symbol) -> Symbol:
    sides = [value_text(left), value_text(right)]
    if operator in ("*", *LOGIC):
        sides.sort()
    return symbol(f"[{sides[0]} {operator} {sides[1]}]")


def _name(expression: Expression) -> str:
    """An unset variable as it is written, as far as that is simple."""
    if isinstance(expression, Variable) and isinstance(expression.index, Literal):
        return f"#{expression.index.number.text}"
    return "a variable"


def numbers_read(piece: Word | Macro) -> Iterator[int | None]:
    """The numbers of the variables that a piece of a block reads; None for one that is not plain."""
    if isinstance(piece, Word):
        expressions: tuple[Expression | None, ...] = (piece.expression,)
    else:
        target = piece.target.index if isinstance(piece.target, Variable) and piece.value is not None else piece.target
        expressions = (target, piece.condition, piece.value, *(word.expression for word in piece.then))
    for expression in expressions:
        if expression is not None:
            yield from read_by(expression)


def read_by(expression: Expression) -> Iterator[int | None]:
    """The numbers of the variables that an expression reads; None for one that is not plain."""
    if isinstance(expression, Variable):
        yield plain_number(expression.index)
        yield from read_by(expression.index)
    elif isinstance(expression, Unary):
        yield from read_by(expression.operand)
    elif isinstance(expression, Binary):
        yield from read_by(expression.left)
        yield from read_by(expression.right)
    elif isinstance(expression, Call):
        for argument in expression.arguments:
            yield from read_by(argument)
    elif isinstance(expression, TwoOrders):
        yield from read_by(expression.with_sums)


def plain_number(index: Expression) -> int | None:
    """The number of a variable that is written as a number."""
    return int(index.number.value) if isinstance(index, Literal) else None
