"""Words whose value is an expression: computed, rounded as the control would, and what they rest on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from verifier.control.expressions import Evaluation, Stored
from verifier.control.functions import Impossible, nearest, rounded
from verifier.control.values import Symbol, shown, symbol, value_text
from verifier.control.variables import WHO
from verifier.syntax import Expression, Number, Word

if TYPE_CHECKING:
    from verifier.control.context import Context

NOT_KNOWN = "the value is one that only the machine knows"
_WHOLE = frozenset("GMNOTPLQ")
_LENGTHS = frozenset(("X", "Z", "U", "W", "Y", "V", "I", "J", "K", "R", ",R", ",C"))
_DECIMALS = 30
_NUMBER = re.compile(r"#([0-9]{1,6})")


@dataclass(frozen=True, slots=True)
class ComputedWord(Word):
    """A word whose value was computed: a number, or a symbol for what only the machine knows. Its text is as written where it is a number."""

    symbol: Symbol | None = None


@dataclass(slots=True)
class Reader:
    """The memory of an evaluation at one block: the variables, with what reading them means for the trace."""

    ctx: Context

    def read(self, number: int) -> Stored:
        """A variable; reading a system variable is an event, since what it holds may change from one moment to the next."""
        variables = self.ctx.modal.variables
        if number and variables.kind(number) == "system" and number not in variables.stored:
            self.ctx.event("system-read", f"#{number}")
        return variables.read(number)

    def read_unknown(self, index: str) -> Stored:
        """A variable whose number is not known."""
        self.ctx.event("system-read", f"#[{index}]")
        return self.ctx.modal.variables.read_unknown(index)


def evaluation(ctx: Context) -> Evaluation:
    """A fresh evaluation at the block being executed."""
    return Evaluation(Reader(ctx), ctx.assume)


def told(ctx: Context, done: Evaluation, text: str) -> None:
    """Say what an evaluation met that a person must know."""
    for name in done.unset:
        ctx.fault("variable-unset", f"{name} is not set where {text} uses it; it counts as zero", name)
    for what in done.unsure:
        ctx.record.unknown(what, "whether it holds hangs on how the control rounds its own arithmetic", ctx.block)


def rests_on(ctx: Context, value: Symbol, text: str) -> None:
    """Name the unknowns that a value rests on, and who could have set them."""
    for name, _ in value.terms:
        ctx.record.unknown(name, f"{text} rests on it, and only the machine knows it: {_who(ctx, name)}", ctx.block)


def _who(ctx: Context, name: str) -> str:
    numbers = [int(digits) for digits in _NUMBER.findall(name)]
    kinds = dict.fromkeys(filter(None, (ctx.machine.variables.kind_of(number) for number in numbers)))
    return "; ".join(WHO[kind] for kind in kinds if kind in WHO) or "it comes from something that is not known here"


def failed(ctx: Context, expression: Expression | None, text: str, error: Impossible) -> Symbol:
    """An expression that has no value: the control stops with an alarm there; what it stands for is not known."""
    del expression
    ctx.fault("expression-impossible", f"{text}: {error}", text)
    ctx.unexecuted(f"alarm at {text}", f"this control stops with an alarm: {error}")
    return symbol(f"alarm of {text}")


def computed(ctx: Context, word: Word) -> Word | None:
    """A word with its value; None where its variable is not set, so that it is left out. Its origin goes into `ctx.behind`."""
    assert word.expression is not None
    text = "".join(word.text.split()).upper()
    done = evaluation(ctx)
    try:
        value = done.value(word.expression)
    except Impossible as error:
        value = failed(ctx, word.expression, text, error)
    told(ctx, done, text)
    variables = ctx.modal.variables
    variables.used |= done.numbers.keys()
    origin = ctx.together(done.blocks)
    ctx.behind[word.letter] = origin
    if origin >= 0:
        ctx.rests = origin if ctx.rests < 0 else ctx.record.origin(ctx.block, origin, ctx.rests)
        ctx.behind[""] = ctx.rests
    if value is None:
        _left_out(ctx, text)
        return None
    if isinstance(value, Symbol):
        rests_on(ctx, value, text)
        return ComputedWord(word.letter, None, word.expression, word.column, f"{word.letter}[{value.text}]", value)
    return ComputedWord(
        word.letter,
        _number(_as_read(ctx, word.letter, value), word.letter),
        word.expression,
        word.column,
        word.text,
    )


def looked_at(ctx: Context, words: Sequence[Word]) -> list[Word]:
    """Words with their values as they would be now, for one who looks ahead: nothing is said, and what is not known keeps no number."""
    found = []
    for word in words:
        if word.expression is None:
            found.append(word)
            continue
        try:
            value = Evaluation(_Quiet(ctx), ctx.machine.choice).value(word.expression)
        except Impossible:
            value = symbol(word.text)
        if isinstance(value, Symbol):
            found.append(word)
        elif value is not None:
            number = _number(_as_read(ctx, word.letter, value), word.letter)
            found.append(ComputedWord(word.letter, number, word.expression, word.column, word.text))
    return found


@dataclass(slots=True)
class _Quiet:
    """The memory of one who only looks."""

    ctx: Context

    def read(self, number: int) -> Stored:
        return self.ctx.modal.variables.peek(number)

    def read_unknown(self, index: str) -> Stored:
        return Stored(symbol(f"#[{index}]"))


def _left_out(ctx: Context, text: str) -> None:
    if ctx.assume("unset-in-address") == "alarm":
        ctx.fault("variable-unset", f"{text}: the variable is not set", text)
        ctx.unexecuted(f"alarm at {text}", "this control stops with an alarm at a word whose variable is not set")
    else:
        ctx.fault("variable-unset", f"{text}: the variable is not set, and the word is left out", text)


def _as_read(ctx: Context, letter: str, value: Fraction) -> Fraction:
    """The value as the address takes it: a length rounded to the least increment, where the machine does so and it matters."""
    if letter not in _LENGTHS:
        return value
    increment = ctx.machine.increments.mm if ctx.units == "mm" else ctx.machine.increments.inch
    if (value / increment).denominator == 1:
        return value
    return nearest(value / increment) * increment if ctx.assume("computed-value") == "rounded-to-increment" else value


def _number(value: Fraction, letter: str) -> Number:
    """The value as a number of a word: it counts as having a point, except where an address takes whole numbers only."""
    if letter in _WHOLE and value.denominator == 1:
        return Number(str(value.numerator), value.numerator, -1)
    places = _places(value)
    if places > _DECIMALS:
        value, places = rounded(value, _DECIMALS), _DECIMALS
    mantissa = int(value * 10**places)
    text = shown(value)
    return Number(text if "." in text else f"{text}.", mantissa, places)


def _places(value: Fraction) -> int:
    """How many decimals a number has; more than `_DECIMALS` where it never ends."""
    for places in range(_DECIMALS + 1):
        if 10**places % value.denominator == 0:
            return places
    return _DECIMALS + 1


__all__ = ["NOT_KNOWN", "ComputedWord", "computed", "evaluation", "failed", "rests_on", "told", "value_text"]
