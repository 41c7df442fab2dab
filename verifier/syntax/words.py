"""The pieces of a block: numbers with their text, words, comments, macro statements, and the block that holds them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from verifier.source import Problem


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written: exact, with its text and whether it had a decimal point.

    `mantissa / 10**decimals` is the value; `decimals` is -1 when there was no decimal point (then the value is `mantissa`).
    """

    text: str
    mantissa: int
    decimals: int

    @property
    def pointed(self) -> bool:
        """Whether a decimal point was written."""
        return self.decimals >= 0

    @property
    def value(self) -> Fraction:
        """The exact value of the digits, before any machine's reading of a missing point."""
        return Fraction(self.mantissa, 10 ** max(self.decimals, 0))


@dataclass(frozen=True, slots=True)
class Literal:
    """A number inside an expression."""

    number: Number


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable `#index`; the index may itself be an expression."""

    index: Expression


@dataclass(frozen=True, slots=True)
class Unary:
    """A sign in front of an expression: `operator` is "+" or "-"."""

    operator: str
    operand: Expression


@dataclass(frozen=True, slots=True)
class Binary:
    """Two operands and an operator: + - * / MOD AND OR XOR EQ NE GT LT GE LE ** (upper case)."""

    operator: str
    left: Expression
    right: Expression


@dataclass(frozen=True, slots=True)
class Call:
    """A function of one argument, or of two for ATAN[y]/[x], ATAN[y,x] and POW[x,y]; the name is upper case."""

    name: str
    arguments: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class TwoOrders:
    """AND beside other operators without brackets: `with_sums` takes it as one of the sums, `with_products` as one of the products."""

    with_sums: Expression
    with_products: Expression


Expression = Literal | Variable | Unary | Binary | Call | TwoOrders


@dataclass(frozen=True, slots=True)
class Word:
    """An address and its value.

    `letter` is upper case; a comma word (",C") keeps its comma, a program number may have ":". As read, exactly one of `number` and
    `expression` is given, or neither where the value is missing or can't be read (then its block has a flaw). Execution gives a word
    whose expression it has computed a number beside it.
    `column` counts characters from 1; `text` is the word as written.
    """

    letter: str
    number: Number | None
    expression: Expression | None
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Skip:
    """A block skip mark: level 0 for a bare slash, else 1 to 9; `before` is the index of the first word it skips."""

    level: int
    before: int
    column: int


@dataclass(frozen=True, slots=True)
class Comment:
    """A note to people: its text without brackets. `kind` is "bracket" or "semicolon"; `line`, `column` of its opening mark."""

    text: str
    line: int
    column: int
    kind: str = "bracket"


@dataclass(frozen=True, slots=True)
class Macro:
    """A macro statement of a block, in canonical spelling.

    `kind`: "assign", "if-goto", "if-then", "goto", "while", "do", "end", "output" (a print or port statement), or "other".
    `text` is upper case without blanks; `target`/`condition`/`value` hold what applies (the label for goto, the loop number for while/do/end).
    """

    kind: str
    text: str
    column: int
    target: Expression | None = None
    condition: Expression | None = None
    value: Expression | None = None
    then: tuple[Word, ...] = ()


@dataclass(frozen=True, slots=True)
class Block:
    """One block: a line (or a part of one) that holds words, macro statements or text that could not be read.

    `index` counts from 0 over such lines; `line` counts from 1 in the file. `flaws` are what could not be read in this block: where there
    are any, the block is not understood and nothing after reading may pretend it is.
    """

    index: int
    line: int
    words: tuple[Word, ...]
    macros: tuple[Macro, ...] = ()
    skips: tuple[Skip, ...] = ()
    comments: tuple[Comment, ...] = ()
    flaws: tuple[Problem, ...] = ()
