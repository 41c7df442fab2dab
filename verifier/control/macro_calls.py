"""Calls with arguments: G65 once, G66 after every move until G67; the letters become local variables of the called program.

A code that the machine profile binds to a program calls it: a G code with arguments like G65, an M code like M98 (its L repeats it).

Both argument tables (common practice, no source; agreed by control manuals): letters by themselves, and I J K as sets, where the order of the
words says which set each belongs to.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from verifier.control.computed import evaluation, failed, rests_on, told
from verifier.control.context import has_axis_words
from verifier.control.expressions import Stored
from verifier.control.functions import Impossible
from verifier.control.instruction import Instruction, canonical, g_code, whole
from verifier.control.loop_watch import Step
from verifier.control.run import Frame, Run
from verifier.control.values import Symbol, Value, value_text
from verifier.syntax import Block, Word

CALLING = "GM"
"""Letters of words that may call a program with arguments."""

ARGUMENTS = {
    "A": 1, "B": 2, "C": 3, "I": 4, "J": 5, "K": 6, "D": 7, "E": 8, "F": 9, "H": 11, "M": 13, "Q": 17, "R": 18, "S": 19, "T": 20, "U": 21,
    "V": 22, "W": 23, "X": 24, "Y": 25, "Z": 26,
}  # fmt: skip
"""The local variable that a letter's value becomes; further sets of I J K follow at 7, 10, ... 31."""

_SETS = 10
_LENGTHS = frozenset("IJKQRUVWXYZ")
_CODES = ("G65", "G66", "G67")
MODAL_CALL = "modal-call"


def local_of(word: Word, sets: list[str]) -> int | None:
    """The local variable of an argument word; `sets` holds the I J K letters so far and is extended. None: no argument."""
    if word.letter in "IJK":
        sets.append(word.letter)
        which = sum(1 for k, letter in enumerate(sets) if k and letter <= sets[k - 1])
        return ARGUMENTS[word.letter] + 3 * which if which < _SETS else None
    return ARGUMENTS.get(word.letter)


def _bound(word: Word) -> str:
    """A G or M word as a machine profile names codes that call a program; "" for one without a plain number."""
    if word.letter == "G":
        return g_code(word) or ""
    number = whole(word)
    return f"M{number:02d}" if number is not None else ""


class MacroCalls(Run):
    """The part of an execution that calls programs with arguments."""

    def _calls(self, word: Word) -> bool:
        if word.letter == "M":
            return bool(self.machine.calls) and _bound(word) in self.machine.calls
        return g_code(word) in _CODES or _bound(word) in self.machine.calls

    def _called_by_code(self, block: Block, given: Sequence[Word]) -> tuple[int | None, Instruction | None]:
        """A block with G65, G66 or G67: what stands before the code is carried out first."""
        at = next(k for k, word in enumerate(given) if word.letter in CALLING and self._calls(word))
        code, before, behind = _bound(given[at]), given[:at], given[at + 1 :]
        if given[at].letter == "M":
            return self._called_by_m(block, given[at], [*before, *behind])
        if code == "G67":
            self._ctx.modal.cycle.pop(MODAL_CALL, None)
            return self._words(block, self._computed([*before, *behind]))
        done: tuple[int | None, Instruction | None] = (None, None)
        if any(word.letter != "N" for word in before):
            done = self._words(block, self._computed(before))
        number, repeats, arguments, text = self._arguments(given[at], behind, self.machine.calls.get(code))
        if number is None or repeats is None:
            return done
        if code == "G66":
            self._ctx.modal.cycle[MODAL_CALL] = (number, repeats, arguments, text)
        else:
            self._enter_program(self._frames[-1], number, None, repeats, text, arguments=arguments)
        return done

    def _after_move(self, frame: Frame, ins: Instruction) -> None:
        """Under G66 a block that moves calls the program once it has moved; not from inside that program."""
        kept: Any = self._ctx.modal.cycle.get(MODAL_CALL)
        if kept is None or not has_axis_words(ins) or any(other.modal for other in self._frames):
            return
        number, repeats, arguments, text = kept
        self._enter_program(frame, number, None, repeats, text, arguments=arguments, modal=True)

    def _called_by_m(self, block: Block, code: Word, others: Sequence[Word]) -> tuple[int | None, Instruction | None]:
        """An M code that calls a program: the other words of its block are carried out first, as beside M98."""
        done: tuple[int | None, Instruction | None] = (None, None)
        own = [word for word in others if word.letter == "L"]
        rest = [word for word in others if word.letter != "L"]
        if any(word.letter != "N" for word in rest):
            done = self._words(block, self._computed(rest))
        text = canonical([code, *own])
        repeats = self._repeats(self._argument(own[-1]).value if own else None, text)
        if repeats is not None:
            self._enter_program(self._frames[-1], self.machine.calls[_bound(code)], None, repeats, text)
        return done

    def _arguments(
        self, code: Word, words: Sequence[Word], bound: int | None
    ) -> tuple[int | None, int | None, dict[int, Stored], str]:
        """Program number (P, or the one that the code is bound to), repeats, the called program's local variables, and the call as text."""
        ctx, sets = self._ctx, list[str]()
        self._twice(words)
        found: dict[int, Stored] = {}
        special: dict[str, Value] = {"L": None}
        for word in words:
            held = self._argument(word)
            if word.letter == "L" or (word.letter == "P" and bound is None):
                special[word.letter] = held.value
                continue
            number = local_of(word, sets)
            if number is None:
                ctx.fault("argument-wrong", f"{word.text} cannot be an argument of {g_code(code)}", word.text)
                ctx.unexecuted(canonical([word]), "this word cannot be an argument")
            else:
                found[number] = held
        text = canonical([code, *(word for word in words if word.letter in "PL")])
        every = canonical([code, *words])
        if any(word.expression is not None for word in words):
            every += "".join(f" #{n}={value_text(held.value)}" for n, held in sorted(found.items()))
        number = self._program(special.get("P"), every) if bound is None else bound
        return number, self._repeats(special["L"], every), found, text

    def _twice(self, words: Sequence[Word]) -> None:
        """A letter that stands twice and is none of the sets I J K: a fault, and the last one counts."""
        for k, word in enumerate(words):
            if word.letter not in "IJK" and any(other.letter == word.letter for other in words[k + 1 :]):
                text = canonical([word])
                self._ctx.fault("word-twice", f"{word.letter} stands more than once in the call", text)

    def _argument(self, word: Word) -> Stored:
        """The value of one argument word."""
        ctx = self._ctx
        if word.number is not None:
            value = word.number.value
            if not word.number.pointed and word.letter in _LENGTHS and value and self._by_increments():
                value *= ctx.machine.increments.mm if ctx.units == "mm" else ctx.machine.increments.inch
            return Stored(value, frozenset((ctx.block,)))
        done, text = evaluation(ctx), "".join(word.text.split()).upper()
        assert word.expression is not None
        try:
            found = done.value(word.expression)
        except Impossible as error:
            found = failed(ctx, word.expression, text, error)
        told(ctx, done, text)
        ctx.modal.variables.used |= done.numbers.keys()
        self._watch.note(Step(ctx.block, plain=False, decides=word.letter in "PL"))
        return Stored(found, done.blocks | {ctx.block}, done.inexact)

    def _by_increments(self) -> bool:
        if self._ctx.assume("argument-without-point") == "as-written":
            return False
        return self._ctx.assume("number-without-point") == "least-increments"

    def _program(self, value: Value, text: str) -> int | None:
        ctx = self._ctx
        if isinstance(value, Symbol):
            rests_on(ctx, value, text)
            ctx.unexecuted(f"{text} {value.text}", "which program is called is known only to the machine")
            self._record.flow_unknown = True
            self._lose_place(f"after {text} {value.text}")
        elif value is None or value.denominator != 1:
            ctx.fault("call-without-program", f"{text} names no program", text)
            ctx.unexecuted(text, "it names no program with P")
        else:
            return int(value)
        return None

    def _repeats(self, value: Value, text: str) -> int | None:
        if value is None:
            return 1
        if isinstance(value, Symbol) or value.denominator != 1:
            self._ctx.unexecuted(f"{text} L[{value_text(value)}]", "how often it is called is not known here")
            self._record.flow_unknown = True
            self._lose_place(f"after {text} L[{value_text(value)}]")
            return None
        return int(value)
