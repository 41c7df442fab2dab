"""Macro statements carried out: variables set, words and statements under a condition, jumps and loops, and output to a port."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from verifier.control.computed import computed, evaluation, failed, rests_on, told
from verifier.control.expressions import Evaluation, Stored, numbers_read, plain_number
from verifier.control.functions import Impossible
from verifier.control.instruction import Instruction, unskipped
from verifier.control.jumps import Loops, label_blocks, loops_of
from verifier.control.loop_watch import ENDLESS, TOO_MANY, Step, bent_in, bent_in_condition, decides_plainly, is_plain
from verifier.control.macro_calls import MODAL_CALL
from verifier.control.run import BLOCK_LIMIT, MOVE_LIMIT, Frame, Run
from verifier.control.units import Unit
from verifier.control.values import Symbol, Value, symbol, value_text
from verifier.syntax import Block, Literal, Macro, Program, Variable, Word

QUESTION_LIMIT = 200
"""Questions that one run may ask of the machine; a loop whose value is not known asks a new one in every pass."""

_FLOW = frozenset("GMOPLQN")
"""Letters of words that may decide where a run goes on: a call, what it is given, a return."""

_TOLD = 3
"""Answers that are named with a loop."""

_ALARM, _STOP = 3000, 3006
"""System variables whose write stops the run: with an alarm, or at a stop with a message. From memory; controls agree."""


class MacroRunner(Run):
    """The part of an execution that carries out macro statements."""

    _loops: dict[tuple[int, int], tuple[Program, Loops]]

    def _macros(self, block: Block, macros: Sequence[Macro]) -> tuple[int | None, Instruction | None]:
        """All of a block that holds macro statements: in the order in which they stand, jumps last."""
        given = unskipped(block, self._skipped)
        every: list[Word | Macro] = [*given, *macros]
        pieces = sorted(every, key=lambda piece: piece.column)
        late: list[tuple[Macro, Evaluation, Value]] | None = [] if self._all_values_first(pieces) else None
        words: list[Word] = []
        for piece in pieces:
            if isinstance(piece, Word):
                words += self._computed([piece])
            elif piece.kind == "assign":
                self._assign(piece, late)
            elif piece.kind == "if-then":
                words += self._if_then(piece, late)
            elif piece.kind in ("output", "other"):
                self._output(piece)
        for macro, done, value in late or ():
            self._store(macro, done, value)
        found: tuple[int | None, Instruction | None] = (None, None)
        if any(word.letter != "N" for word in words):
            found = self._words(block, words)
        for macro in macros:
            to = self._flow_statement(block, macro)
            if to is not None:
                return to, found[1]
        return found

    def _computed(self, words: Sequence[Word]) -> list[Word]:
        """Words with their values; those whose variable is unset left out."""
        for word in words:
            if word.expression is not None and word.letter in _FLOW:
                self._watch.note(Step(self._ctx.block, plain=True))
        found = (word if word.expression is None else computed(self._ctx, word) for word in words)
        return [word for word in found if word is not None]

    def _all_values_first(self, pieces: Sequence[Word | Macro]) -> bool:
        """Whether what is set in this block counts only after it, where that matters."""
        written: set[int | None] = set()
        for piece in pieces:
            read = set(numbers_read(piece))
            if written and (read & written or None in read or (None in written and read)):
                return self._ctx.assume("assignments-in-block") == "after-all-values"
            if isinstance(piece, Macro) and isinstance(piece.target, Variable) and piece.value is not None:
                written.add(plain_number(piece.target.index))
        return False

    # -- variables ------------------------------------------------------------------------------------------------------------

    def _assign(self, macro: Macro, late: list[tuple[Macro, Evaluation, Value]] | None) -> None:
        ctx = self._ctx
        assert macro.value is not None and isinstance(macro.target, Variable)
        done = evaluation(ctx)
        try:
            value = done.value(macro.value)
        except Impossible as error:
            value = failed(ctx, macro.value, macro.text, error)
        told(ctx, done, macro.text)
        self._watch.note(_setting(ctx.block, macro, done))
        if late is None:
            self._store(macro, done, value)
        else:
            late.append((macro, done, value))

    def _store(self, macro: Macro, done: Evaluation, value: Value) -> None:
        """Set a variable in the name of this block and of all that the value rests on."""
        ctx = self._ctx
        assert isinstance(macro.target, Variable)
        held = Stored(value, done.blocks | {ctx.block}, done.inexact)
        ctx.rests = ctx.together(done.blocks)
        ctx.behind[""] = ctx.rests
        try:
            index = done.number(macro.target.index)
            if isinstance(index, Symbol):
                ctx.unexecuted(
                    f"{macro.text} (#[{index.text}]={value_text(value)})",
                    "which variable it sets is known only to the machine",
                )
                ctx.modal.variables.write_unknown(macro.text, held.blocks)
                return
            if index.denominator != 1 or index < 0:
                raise Impossible(f"a variable number must be whole; got {value_text(index)}")
            kind = ctx.modal.variables.write(int(index), held)
        except Impossible as error:
            failed(ctx, None, macro.text, error)
            return
        ctx.modal.variables.feeds.setdefault(int(index), set()).update(done.numbers)
        if kind == "system":
            self._system_write(int(index), value, macro)
        elif kind == "kept":
            ctx.event("variable", f"#{int(index)}={value_text(value)}")

    def _system_write(self, number: int, value: Value, macro: Macro) -> None:
        """A write to a system variable: an alarm, a stop, or something that the control does with it."""
        ctx = self._ctx
        ctx.modal.variables.stored.pop(number, None)
        note = " ".join(comment.text.strip() for comment in self._present().comments)
        text = f"#{number}={value_text(value)}" + (f" ({note})" if note and number in (_ALARM, _STOP) else "")
        if number == _STOP:
            ctx.event("stop", text)
        elif number == _ALARM:
            ctx.event("alarm", text)
            self._stopped = True
        else:
            ctx.event("variable", text)
            ctx.record.unknown(
                macro.text, "what the control does with a write to a system variable is not executed", ctx.block
            )

    def _present(self) -> Block:
        frame = self._frames[-1]
        return frame.program.blocks[frame.pc - 1]

    def _output(self, macro: Macro) -> None:
        """A statement that prints: kept with the values it prints."""
        ctx = self._ctx
        if macro.kind == "other":
            ctx.unexecuted(macro.text, "this statement is not known here")
            return
        ctx.event("message", macro.text + self._printed(macro.text))

    def _printed(self, text: str) -> str:
        """The values of the variables that an output statement names."""
        numbers = dict.fromkeys(int(part) for part in _digits_behind_hash(text))
        shown = []
        for number in numbers:
            try:
                held = self._ctx.modal.variables.peek(number)
            except Impossible:
                continue
            if held.value is None or not isinstance(held.value, Symbol):
                shown.append(f"#{number}={value_text(held.value)}")
            elif held.value.text != f"#{number}":
                shown.append(f"#{number}={held.value.text}")
        return f" with {', '.join(shown)}" if shown else ""

    def _if_then(self, macro: Macro, late: list[tuple[Macro, Evaluation, Value]] | None) -> list[Word]:
        if not self._decide(macro):
            return []
        if macro.value is not None:
            self._assign(macro, late)
            return []
        return self._computed(macro.then)

    # -- decisions --------------------------------------------------------------------------------------------------------------

    def _decide(self, macro: Macro) -> bool:
        """Whether a condition holds; what only the machine knows is answered by the way that this run follows."""
        ctx, frame = self._ctx, self._frames[-1]
        assert macro.condition is not None
        before = len(self._ways.taken)
        done = evaluation(ctx)
        done.ask = lambda atom: self._ways.ask(atom, ctx.block)
        try:
            outcome = done.truth(macro.condition)
        except Impossible as error:
            failed(ctx, macro.condition, macro.text, error)
            self._record.flow_unknown = True
            outcome = False
        told(ctx, done, macro.text)
        ctx.modal.variables.used |= done.numbers.keys()
        for branch in self._ways.taken[before:]:
            rests_on(ctx, symbol(branch.atom.what), f"{macro.text} (followed both ways)")
        if len(self._ways.taken) > QUESTION_LIMIT:
            self._asks_too_much()
        plain, read = decides_plainly(macro.condition), frozenset(done.numbers)
        bent = bent_in_condition(macro.condition)
        self._watch.note(Step(ctx.block, plain, tuple(done.compared), decides=True, read=read, bent=bent))
        self._decided(frame, done.blocks)
        return outcome

    def _asks_too_much(self) -> None:
        """A run that asks the machine something new again and again: nobody can tell where it ends."""
        ctx = self._ctx
        ctx.fault(
            "too-many-blocks", f"the run hangs on more than {QUESTION_LIMIT} answers that only the machine can give"
        )
        ctx.unexecuted("the rest of the run", "it hangs on too many answers that only the machine can give")
        self._record.flow_unknown = True
        self._stopped = True

    def _decided(self, frame: Frame, blocks: frozenset[int]) -> None:
        """What comes now in this program comes because of a decision, which rests on these blocks."""
        ctx = self._ctx
        origin = ctx.record.origin(ctx.block, ctx.together(blocks))
        frame.caller = ctx.record.caller(-1, frame.home, origin)
        ctx.caller = frame.caller

    # -- jumps and loops ----------------------------------------------------------------------------------------------------------

    def _flow_statement(self, block: Block, macro: Macro) -> int | None:
        """Where a jump or a loop statement leads; None for on."""
        frame, here = self._frames[-1], block.index
        if macro.kind == "goto" or (macro.kind == "if-goto" and self._decide(macro)):
            return self._goto(frame, macro, here)
        if macro.kind in ("while", "do", "end"):
            return self._loop(frame, macro, here)
        return None

    def _goto(self, frame: Frame, macro: Macro, here: int) -> int | None:
        ctx = self._ctx
        assert macro.target is not None
        done = evaluation(ctx)
        try:
            value = done.value(macro.target)
        except Impossible as error:
            value = failed(ctx, macro.target, macro.text, error)
        told(ctx, done, macro.text)
        if not isinstance(macro.target, Literal):
            ctx.modal.variables.used |= done.numbers.keys()
            self._watch.note(Step(ctx.block, plain=False, decides=True, read=frozenset(done.numbers)))
            self._decided(frame, done.blocks)
        if isinstance(value, Symbol) or value is None or value.denominator != 1:
            self._no_way(macro, value)
            return None
        found = label_blocks(frame.layout, self._unit(frame, here), int(value), here)
        if not found:
            ctx.fault(
                "jump-label-missing",
                f"{macro.text} goes to N{int(value)}, which this program does not have",
                macro.text,
            )
            ctx.unexecuted(macro.text, "it goes to a block that does not exist")
            self._stopped = True
            return None
        if len(found) > 1:
            ctx.fault(
                "jump-label-repeated",
                f"{macro.text}: N{int(value)} stands {len(found)} times in the program",
                macro.text,
            )
        return self._jump(frame, found[0], here)

    def _no_way(self, macro: Macro, value: Value) -> None:
        """A jump whose goal is not known: the run goes straight on, and says that it does not know."""
        ctx = self._ctx
        if isinstance(value, Symbol):
            rests_on(ctx, value, macro.text)
        ctx.unexecuted(f"{macro.text} to {value_text(value)}", "where it goes is not known here")
        self._record.flow_unknown = True

    def _jump(self, frame: Frame, target: int, here: int) -> int | None:
        """Go to a block of the same program; a jump back may be a loop without end."""
        loops = self._loops_at(frame, here)
        around = loops.around(target)
        if any(start not in frame.inside and start != target for start in around):
            self._ctx.fault("jump-into-loop", "a jump leads into a loop from outside")
        frame.inside = [start for start in frame.inside if start in around]
        if target > here:
            return target
        outside = (
            tuple((f.first, f.pc, f.repeats) for f in self._frames[:-1]),
            tuple(frame.inside), frame.repeats, MODAL_CALL in self._ctx.modal.cycle, tuple(sorted(self._ctx.modal.variables.reads.items())),
        )  # fmt: skip
        found = self._watch.back(
            frame.marks, target, self._ctx.modal.variables.snapshot(), outside,
            (self._steps, self._record.count), (BLOCK_LIMIT, MOVE_LIMIT),
        )  # fmt: skip
        if found:
            self._never_ends(found)
            return None
        return target

    def _never_ends(self, found: str) -> None:
        ctx = self._ctx
        if found == ENDLESS:
            asked = [branch.text for branch in self._ways.taken if branch.atom.what in self._watch.hangs_on]
            known = f"with {' and '.join(asked[:_TOLD])} " if asked else ""
            ctx.fault("loop-without-end", f"{known}the loop never ends: nothing that it decides by changes any more")
        elif found == TOO_MANY:
            ctx.fault(
                "too-many-blocks", f"the loop would execute more than {BLOCK_LIMIT:,} blocks or {MOVE_LIMIT:,} moves"
            )
        ctx.unexecuted("the rest of the run", "it lies behind a loop that is not run to its end")
        self._stopped = True

    def _loop(self, frame: Frame, macro: Macro, here: int) -> int | None:
        ctx, loops = self._ctx, self._loops_at(frame, here)
        wrong = loops.wrong.get(here)
        if wrong is not None:
            ctx.fault("loop-wrong", wrong, macro.text)
        if here not in loops.ends and here not in loops.starts:
            ctx.unexecuted(macro.text, wrong or "the loop is not complete")
            self._record.flow_unknown = True
            return None
        if macro.kind == "end":
            return self._jump(frame, loops.starts[here], here)
        if macro.kind == "while" and not self._decide(macro):
            frame.inside = [start for start in frame.inside if start != here]
            return loops.ends[here] + 1
        if here not in frame.inside:
            frame.inside.append(here)
        return None

    def _loops_at(self, frame: Frame, here: int) -> Loops:
        unit = self._unit(frame, here)
        key = (id(frame.program), unit.first)
        found = self._loops.get(key)
        if found is None:
            found = self._loops[key] = (frame.program, loops_of(frame.program, unit))
        return found[1]

    def _unit(self, frame: Frame, here: int) -> Unit:
        return frame.layout.unit_at(here)


def _setting(block: int, macro: Macro, done: Evaluation) -> Step:
    """A variable being set, as one who watches for loops without end must know it: one whose number is computed may be any."""
    assert isinstance(macro.target, Variable)
    plain, number = is_plain(macro.value, macro.target), plain_number(macro.target.index)
    if number is None:
        return Step(block, plain)
    return Step(block, plain, read=frozenset(done.numbers), written=number, bent=bent_in(macro.value))


def _digits_behind_hash(text: str) -> Iterator[str]:
    for part in text.split("#")[1:]:
        digits = ""
        for letter in part:
            if letter not in "0123456789":
                break
            digits += letter
        if digits and len(digits) <= 6:
            yield digits
