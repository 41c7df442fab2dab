"""Executes a program as the machine's control would, block by block, and gives its `Trace`.

This block-at-a-time lane is the reference. It never stops at the first thing it does not understand: it says so and goes on.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence

from verifier.control.act import act, contradictions
from verifier.control.ahead import AheadRunner
from verifier.control.branches import Ways
from verifier.control.channels import with_other_channel
from verifier.control.context import Context
from verifier.control.contours import ContourRunner
from verifier.control.flow import FlowRunner
from verifier.control.instruction import Instruction, canonical, instruction, unskipped
from verifier.control.jumps import Loops
from verifier.control.loop_watch import LoopWatch, Step
from verifier.control.macro_calls import CALLING, MODAL_CALL, MacroCalls
from verifier.control.macros import MacroRunner
from verifier.control.recorder import Recorder
from verifier.control.run import BLOCK_LIMIT, MOVE_LIMIT, Frame
from verifier.control.state import start_state
from verifier.control.tape_marks import REASON, TapeMarks
from verifier.control.trace import Trace
from verifier.control.units import Library, layout
from verifier.machines import Machine, Setup
from verifier.source import MachineError
from verifier.syntax import Block, Macro, Program, Word


class Executor(MacroCalls, MacroRunner, FlowRunner, ContourRunner, AheadRunner):
    """One execution of one program. Not reusable."""

    def __init__(
        self,
        program: Program,
        machine: Machine,
        *,
        setup: Setup | None = None,
        library: Library | None = None,
        skips_on: Iterable[int] = (),
        ways: Mapping[str, bool] | None = None,
    ) -> None:
        self.program = program
        self.machine = machine
        self.outside = library or Library()
        self.layout = layout(program)
        self._skips_on = frozenset(skips_on)
        self._setup = setup
        self._steps = 0
        self._frames: list[Frame] = []
        self._record = Recorder(len(program.blocks), clamp_always=machine.choice("clamp-limits-rpm-mode") == "yes")
        self._ctx = Context(machine, setup, start_state(machine, setup), self._record)
        self._ctx.ahead = self._ahead
        self._here = (0, 0)
        self._ways = Ways(ways or {})
        self._watch = LoopWatch()
        self._stopped = False
        self._loops: dict[tuple[int, int], tuple[Program, Loops]] = {}
        self._passes: list[str] = []
        self._tapes: dict[int, TapeMarks] = {}

    def run(self) -> Trace:
        """Execute from the first block to the program's end."""
        unit = self.layout.units[0]
        trace = self._run(unit.first, unit.end)
        return with_other_channel(trace, self.program, self.layout, self._setup, self.outside, self._other_channel)

    def _other_channel(self, program: Program, first: int, end: int) -> Trace:
        other = Executor(program, self.machine, setup=self._setup, library=self.outside, skips_on=self._skips_on)
        return other.run_part(first, end)

    def run_part(self, first: int, end: int) -> Trace:
        """Execute only the blocks from `first` up to `end`, with nothing established before them: another way in."""
        return self._run(first, end)

    def _run(self, first: int, end: int) -> Trace:
        self._frames.append(Frame(self.program, self.layout, first, end, first, 0))
        if self.machine.choice("semicolon") == "end-of-block":
            self._lines_behind_semicolons(first, end)
        while self._frames and self._step():
            pass
        self._record.branches = list(self._ways.taken)
        return self._record.trace(self._ctx.modal, self.machine)

    def _lines_behind_semicolons(self, first: int, end: int) -> None:
        """Lines that hold nothing but text behind a semicolon: told at the block that follows, before anything is executed."""
        lines = self.program.columns.line[first:end].tolist()
        for comment in self.program.comments:
            at = bisect_left(lines, comment.line)
            if comment.kind == "semicolon" and comment.text.strip() and at < len(lines) and lines[at] != comment.line:
                self._ctx.block = first + at
                self._behind_semicolon(comment.text.strip())

    # -- one block ------------------------------------------------------------------------------------------------------

    def _step(self) -> bool:
        """Execute one block. False when the program has ended."""
        frame = self._frames[-1]
        if self._stopped:
            return False
        if frame.pc >= frame.end:
            return self._off_the_end(frame)
        if self._steps >= BLOCK_LIMIT or self._record.count >= MOVE_LIMIT:
            self._ctx.fault(
                "too-many-blocks", f"more than {BLOCK_LIMIT:,} blocks again, or {MOVE_LIMIT:,} moves, were executed"
            )
            self._ctx.unexecuted("the rest of the run", "the limit of executed blocks was reached")
            return False
        self._record.settle()
        block = frame.program.blocks[frame.pc]
        self._here = (frame.pc, frame.end)
        frame.pc += 1
        self._enter(frame, block)
        self._outside_the_marks(frame.program, block)
        resume, ins = self._block(block)
        if resume is not None:
            frame.pc = resume
        if ins is None or frame is not self._frames[-1]:
            return True
        on = self._flow(frame, ins)
        if on and frame is self._frames[-1] and MODAL_CALL in self._ctx.modal.cycle:
            self._after_move(frame, ins)
        return on

    def _enter(self, frame: Frame, block: Block) -> None:
        self._ctx.block = block.index if frame.attributed is None else frame.attributed
        self._ctx.caller = frame.caller
        self._ctx.rests = -1
        self._ctx.behind.clear()
        self._record.again = frame.attributed is not None or bool(self._record.executed[block.index])
        if self._record.again:
            self._steps += 1  # a plain run from the top to the end has no limit but that of the file
        if frame.attributed is None:
            self._record.executed[block.index] = True
        if not block.macros:
            self._record.journal.block()

    def _outside_the_marks(self, program: Program, block: Block) -> None:
        tape = self._tapes.get(id(program))
        if tape is None:
            tape = self._tapes[id(program)] = TapeMarks(program)
        what = tape.outside(block.index)
        if what:
            self._ctx.unexecuted(what, REASON)

    def _block(self, block: Block) -> tuple[int | None, Instruction | None]:
        """Everything in a block but its flow codes; None for the instruction where the block was not understood."""
        done = self._carry_out(block)
        if block.comments:
            self._semicolons(block)
        return done

    def _carry_out(self, block: Block) -> tuple[int | None, Instruction | None]:
        if block.flaws:
            self._unreadable(block)
            return None, None
        macros = self._unskipped(block) if block.macros else ()
        if macros:
            return self._macros(block, macros)
        given = unskipped(block, self._skipped)
        if block.skips and any(skip.before > 0 and block.words[skip.before - 1].letter != "N" for skip in block.skips):
            self._mid_block_skip(block)
        if any(word.letter in CALLING and self._calls(word) for word in given):
            return self._called_by_code(block, given)
        if any(word.expression is not None for word in given):
            return self._words(block, self._computed(given))
        return self._words(block, given)

    def _words(self, block: Block, words: Sequence[Word]) -> tuple[int | None, Instruction | None]:
        """The words of a block, with their values."""
        ins = instruction(block, tuple(words), self.machine)
        first = block.words[0] if block.words else None
        if first is not None and first.letter == "N" and first.number is not None and first.number.pointed:
            # A letter is missing behind the number (N11 2.24): what moved there does not move any more.
            self._ctx.fault(
                "integer-word-with-point", f"{first.text} must be a whole number, without a point", first.text
            )
        if ins.symbolic and any(word.letter in "GMNOTPL" for word in ins.symbolic):
            self._symbolic(ins)
            return None, None
        for code, _ in ins.m:
            if code in (98, 99) or code in self.machine.label_calls:
                ins.used.update("P" if code == 99 else "PLQ" if code == 98 else "PL")
                if any(letter in self._ctx.behind for letter in "PLQM"):
                    self._watch.note(Step(self._ctx.block, plain=False, decides=True))
        return act(self._ctx, ins, self), ins

    def _skipped(self, level: int) -> bool:
        return max(level, 1) in self._skips_on

    def _mid_block_skip(self, block: Block) -> None:
        if self._ctx.assume("skip-mid-block") == "not-allowed":
            self._ctx.fault("skip-in-mid-block", "this control does not allow a skip mark inside a block")
            self._ctx.unexecuted(
                "alarm at a skip mark", "this control stops with an alarm at a skip mark inside a block"
            )

    def _unskipped(self, block: Block) -> tuple[Macro, ...]:
        """The macro statements of a block that its skip marks leave."""
        marks = [skip.column for skip in block.skips if self._skipped(skip.level)]
        return tuple(macro for macro in block.macros if not marks or macro.column < min(marks))

    def _semicolons(self, block: Block) -> None:
        """On a control where a semicolon ends the block, what stands behind it is a block of its own, which nobody reads here."""
        for comment in block.comments:
            if comment.kind == "semicolon" and comment.text.strip() and self._ctx.assume("semicolon") == "end-of-block":
                self._behind_semicolon(comment.text.strip())

    def _behind_semicolon(self, text: str) -> None:
        self._ctx.assume("semicolon")
        self._ctx.fault("text-after-end-of-block", "this control ends the block at the semicolon and reads on", text)
        self._ctx.unexecuted(f"; {text}", "blocks behind a semicolon are not read; write each on a line of its own")
        self._lose_place(f"after ; {text}")

    def _unreadable(self, block: Block) -> None:
        text = " ".join(flaw.text for flaw in block.flaws) or block.flaws[0].code
        line = canonical(list(block.words))
        whole_text = f"{line} ? {text}".strip()
        self._ctx.event("unreadable", whole_text, certain=False)
        self._ctx.record.unknown(text, f"the block cannot be read: {block.flaws[0].message}", self._ctx.block)
        self._lose_position(f"unreadable: {whole_text}", block)
        if "#" in whole_text or "=" in whole_text:
            self._ctx.modal.variables.write_unknown(whole_text, frozenset((self._ctx.block,)))

    def _lose_position(self, label: str, block: Block) -> None:
        """After a block that may have moved, the tool is where only the machine knows."""
        letters = {word.letter for word in block.words} | set("XZ" if block.flaws else "")
        ctx = self._ctx
        if letters & {"X", "U"}:
            ctx.modal.x = ctx.modal.x.through(label)
            ctx.modal.x_origin = ctx.record.origin(ctx.block, ctx.modal.x_origin)
        if letters & {"Z", "W"}:
            ctx.modal.z = ctx.modal.z.through(label)
            ctx.modal.z_origin = ctx.record.origin(ctx.block, ctx.modal.z_origin)

    def _symbolic(self, ins: Instruction) -> None:
        """A G, M, T, P or L word whose value only the machine knows: what the block does is not known."""
        ctx = self._ctx
        words = [*(word for _, word in ins.g), *(word for _, word in ins.m), *ins.words.values(), *ins.symbolic]
        words = [word for word in dict.fromkeys(words) if word.letter != "N"]
        text = canonical(words)
        ctx.unexecuted(text, "which code or number stands here is known only to the machine")
        self._record.flow_unknown = True
        names = {"S": "speed", "F": "feed", "T": "tool"}
        for word in words:
            if word.letter in names:
                ctx.put(names[word.letter], text)
            elif word.letter in "XU":
                ctx.modal.x = ctx.modal.x.through(text)
            elif word.letter in "ZW":
                ctx.modal.z = ctx.modal.z.through(text)


def execute(
    program: Program,
    machine: Machine,
    *,
    setup: Setup | None = None,
    library: Library | None = None,
    skips_on: Iterable[int] = (),
    ways: Mapping[str, bool] | None = None,
) -> Trace:
    """Execute a program from the top with the given block skip levels on.

    `ways`: the answers to questions that only the machine can answer, by the text of the question; every other is answered No.
    Raises MachineError for a machine this control cannot be: another kind than a lathe.
    """
    _supported(machine)
    return Executor(program, machine, setup=setup, library=library, skips_on=skips_on, ways=ways).run()


def execute_part(
    program: Program,
    machine: Machine,
    first: int,
    end: int,
    *,
    setup: Setup | None = None,
    library: Library | None = None,
    skips_on: Iterable[int] = (),
) -> Trace:
    """Execute only the blocks from `first` up to `end`, as somebody who starts at that search number would."""
    _supported(machine)
    return Executor(program, machine, setup=setup, library=library, skips_on=skips_on).run_part(first, end)


def _supported(machine: Machine) -> None:
    if machine.kind != "lathe":
        raise MachineError([f"{machine.name}: a {machine.kind} cannot be executed yet; expected a lathe"])


__all__ = ["Executor", "contradictions", "execute", "execute_part"]
