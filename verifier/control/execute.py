"""Executes a program as the machine's control would, block by block, and gives its `Trace`.

This block-at-a-time lane is the reference. It never stops at the first thing it does not understand: it says so and goes on.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass

from verifier.control.act import act, contradictions, end_resets
from verifier.control.context import Context
from verifier.control.cycle_calls import CYCLES, Found
from verifier.control.cycle_words import CycleRefused
from verifier.control.instruction import Instruction, canonical, g_code, instruction, whole
from verifier.control.library import Layout, Library, layout
from verifier.control.recorder import Recorder
from verifier.control.state import Coordinate, start_state
from verifier.control.strokes import Contour, Kind, Point, Segment
from verifier.control.trace import MoveRow, Trace
from verifier.machines import Machine, Setup
from verifier.source import MachineError
from verifier.syntax import Block, Program

BLOCK_LIMIT = 1_000_000
MOVE_LIMIT = 5_000_000
DEPTH_LIMIT = 10
PASS_LIMIT = 6
_FLOW_MACROS = frozenset(("if-goto", "goto", "while", "do", "end", "if-then"))
_CYCLES = frozenset(("G70", *CYCLES))
_ENDS = {2: "M02", 30: "M30"}


@dataclass(slots=True)
class _Frame:
    """A program being executed: the one in the file, or one that was called."""

    program: Program
    layout: Layout
    pc: int
    end: int
    first: int
    caller: int
    repeats: int = 1
    attributed: int | None = None
    """The block that stands for all of a library program: the one that called it."""


class Executor:
    """One execution of one program. Not reusable."""

    def __init__(
        self,
        program: Program,
        machine: Machine,
        *,
        setup: Setup | None = None,
        library: Library | None = None,
        skips_on: Iterable[int] = (),
    ) -> None:
        self.program = program
        self.machine = machine
        self.library = library or Library()
        self.layout = layout(program)
        self._skips_on = frozenset(skips_on)
        self._setup = setup
        self._steps = 0
        self._frames: list[_Frame] = []
        self._record = Recorder(len(program.blocks), clamp_always=machine.choice("clamp-limits-rpm-mode") == "yes")
        self._ctx = Context(machine, setup, start_state(machine), self._record)
        self._passes: list[str] = []

    def run(self) -> Trace:
        """Execute from the first block to the program's end."""
        unit = self.layout.units[0]
        return self._run(unit.first, unit.end)

    def run_part(self, first: int, end: int) -> Trace:
        """Execute only the blocks from `first` up to `end`, with nothing established before them: another way in."""
        return self._run(first, end)

    def _run(self, first: int, end: int) -> Trace:
        self._frames.append(_Frame(self.program, self.layout, first, end, first, 0))
        while self._frames and self._step():
            pass
        return self._record.trace(self._ctx.modal)

    # -- one block ------------------------------------------------------------------------------------------------------

    def _step(self) -> bool:
        """Execute one block. False when the program has ended."""
        frame = self._frames[-1]
        if frame.pc >= frame.end:
            return self._off_the_end(frame)
        if self._steps >= BLOCK_LIMIT or len(self._record.rows) >= MOVE_LIMIT:
            self._ctx.fault(
                "too-many-blocks", f"more than {BLOCK_LIMIT:,} blocks or {MOVE_LIMIT:,} moves were executed"
            )
            self._ctx.unexecuted("the rest of the run", "the limit of executed blocks was reached")
            return False
        self._steps += 1
        block = frame.program.blocks[frame.pc]
        frame.pc += 1
        self._enter(frame, block)
        resume, ins = self._block(block)
        if resume is not None:
            frame.pc = resume
        return self._flow(frame, ins) if ins is not None else True

    def _enter(self, frame: _Frame, block: Block) -> None:
        self._ctx.block = block.index if frame.attributed is None else frame.attributed
        self._ctx.caller = frame.caller
        if frame.attributed is None:
            self._record.executed[block.index] = True

    def _block(self, block: Block) -> tuple[int | None, Instruction | None]:
        """Everything in a block but its flow codes; None for the instruction where the block was not understood."""
        ctx = self._ctx
        if block.flaws:
            self._unreadable(block)
            return None, None
        if block.macros:
            self._macros(block)
            return None, None
        ins = instruction(block, self._skipped, self.machine)
        if any(skip.before > 0 and block.words[skip.before - 1].letter != "N" for skip in block.skips):
            self._mid_block_skip(block)
        symbolic = [word for word in ins.symbolic if word.letter in "GMNOTPL"]
        if symbolic:
            self._symbolic(block, ins)
            return None, None
        for code, _ in ins.m:
            if code in (98, 99):
                ins.used.update("PLQ" if code == 98 else "P")
        return act(ctx, ins, self), ins

    def _skipped(self, level: int) -> bool:
        return max(level, 1) in self._skips_on

    def _mid_block_skip(self, block: Block) -> None:
        if self._ctx.assume("skip-mid-block") == "not-allowed":
            self._ctx.fault("skip-in-mid-block", "this control does not allow a skip mark inside a block")

    def _unreadable(self, block: Block) -> None:
        text = " ".join(flaw.text for flaw in block.flaws) or block.flaws[0].code
        line = canonical(list(block.words))
        whole_text = f"{line} ? {text}".strip()
        self._ctx.event("unreadable", whole_text, certain=False)
        self._ctx.record.unknown(text, f"the block cannot be read: {block.flaws[0].message}", self._ctx.block)
        self._lose_position(f"unreadable: {whole_text}", block)

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

    def _macros(self, block: Block) -> None:
        """Macro statements: told as they stand; what they would set is a value only the machine knows."""
        ctx = self._ctx
        for macro in block.macros:
            if macro.kind == "output":
                ctx.event("message", macro.text)
                continue
            ctx.unexecuted(macro.text, "macro statements are not executed yet")
            if macro.kind in _FLOW_MACROS:
                self._record.flow_unknown = True
        words = [word for word in block.words if word.letter != "N"]
        words += [word for macro in block.macros for word in macro.then]
        if words:
            self._unknown_words(words, " ".join(macro.text for macro in block.macros))

    def _unknown_words(self, words: list, why: str) -> None:  # type: ignore[type-arg]
        ctx = self._ctx
        text = f"{canonical(words)} {why}".strip()
        ctx.unexecuted(text, "these words depend on a macro statement that is not executed yet")
        names = {"S": "speed", "F": "feed", "T": "tool"}
        for word in words:
            if word.letter in names:
                ctx.put(names[word.letter], text)
            elif word.letter in "XU":
                ctx.modal.x = ctx.modal.x.through(text)
            elif word.letter in "ZW":
                ctx.modal.z = ctx.modal.z.through(text)

    def _symbolic(self, block: Block, ins: Instruction) -> None:
        """A G, M, T, P or L word whose value is an expression: which code it is, only the machine knows."""
        del ins
        self._unknown_words([word for word in block.words if word.letter != "N"], "")
        self._record.flow_unknown = True

    # -- flow -----------------------------------------------------------------------------------------------------------

    def _flow(self, frame: _Frame, ins: Instruction) -> bool:
        for code, _ in ins.m:
            if code in _ENDS:
                self._program_end(_ENDS[code])
                return False
            if code == 98:
                return self._call(frame, ins)
            if code == 99:
                return self._return(frame, ins)
        return True

    def _program_end(self, code: str) -> None:
        end_resets(self._ctx, code)
        self._ctx.event("program-end", code)

    def _off_the_end(self, frame: _Frame) -> bool:
        self._frames.pop()
        if self._frames:
            self._ctx.fault("subprogram-without-return", "the called program ends without M99")
            return True
        if frame.end == frame.layout.unit_at(frame.first).end:
            self._ctx.fault("program-end-missing", "the program ends without M30, M02 or M99")
            self._ctx.event("text-end", "the text ends")
        return False

    def _call(self, frame: _Frame, ins: Instruction) -> bool:
        """M98: P a program (or Q a label in this one), L times; with more than four digits of P the leading ones repeat."""
        ctx = self._ctx
        number = whole(ins.words["P"]) if "P" in ins.words else None
        label = whole(ins.words["Q"]) if "Q" in ins.words else None
        repeats = whole(ins.words["L"]) if "L" in ins.words else 1
        if repeats is None or (number is None and label is None):
            ctx.fault("call-without-program", "M98 names no program", canonical(list(ins.words.values())))
            ctx.unexecuted("M98 without a program", "M98 names no program with P")
            return True
        called = self._called(frame, number, label)
        if called is None and number is not None and number > 9999 and "L" not in ins.words:
            repeats, number = divmod(number, 10000)
            called = self._called(frame, number, label)
        if called is None:
            ctx.fault("subprogram-missing", f"program {number} is neither in the file nor in the library", f"P{number}")
            ctx.event("missing-program", f"P{number} L{repeats}", certain=False)
            ctx.record.unknown(f"program {number}", "it is neither in the file nor in the library", ctx.block)
            for axis in "xz":
                place: Coordinate = getattr(ctx.modal, axis)
                setattr(ctx.modal, axis, place.through(f"after program {number}"))
            return True
        if repeats == 0:
            return True
        if len(self._frames) > DEPTH_LIMIT or any(
            f.first == called.first and f.program is called.program for f in self._frames
        ):
            ctx.fault(
                "call-too-deep", f"program {number} calls itself, or calls go deeper than {DEPTH_LIMIT}", f"P{number}"
            )
            ctx.unexecuted(f"call of {number}", "the program calls itself or goes too deep")
            return True
        called.repeats = repeats
        self._frames.append(called)
        return True

    def _called(self, frame: _Frame, number: int | None, label: int | None) -> _Frame | None:
        caller = self._record.caller(self._ctx.block, frame.caller)
        if number is None:
            where = frame.layout.labels.get(label or -1, ())
            if not where:
                return None
            unit = frame.layout.unit_at(where[0])
            return _Frame(
                frame.program, frame.layout, where[0], unit.end, where[0], caller, attributed=frame.attributed
            )
        for program, plan, attributed in self._places(frame, number):
            found = plan.unit(number)
            if found is not None:
                return _Frame(program, plan, found.first, found.end, found.first, caller, attributed=attributed)
        return None

    def _places(self, frame: _Frame, number: int) -> list[tuple[Program, Layout, int | None]]:
        places: list[tuple[Program, Layout, int | None]] = [(frame.program, frame.layout, frame.attributed)]
        outside = self.library.programs.get(number)
        if outside is not None:
            places.append((outside, layout(outside), self._ctx.block))
        return places

    def _return(self, frame: _Frame, ins: Instruction) -> bool:
        """M99: back to the caller (P: to that block of it), or at the end of a main program again from its start."""
        if len(self._frames) == 1:
            return self._again(frame, ins)
        frame.repeats -= 1
        if frame.repeats > 0:
            frame.pc = frame.first
            return True
        self._frames.pop()
        label = whole(ins.words["P"]) if "P" in ins.words else None
        if label is not None:
            outer = self._frames[-1]
            where = outer.layout.labels.get(label, ())
            if where:
                outer.pc = where[0]
            else:
                self._ctx.fault(
                    "return-label-missing", f"M99 P{label} returns to a block that does not exist", f"P{label}"
                )
        return True

    def _again(self, frame: _Frame, ins: Instruction) -> bool:
        """The program starts again; it is run on until the state it starts with repeats."""
        ctx = self._ctx
        end_resets(ctx, "M99")
        ctx.event("repeat", "M99")
        if self._record.first_pass is None:
            self._record.first_pass = len(self._record.rows)
        left, _ = ctx.modal.left()
        state = repr((left, ctx.modal.x, ctx.modal.z, ctx.modal.values.get("units"), ctx.modal.values.get("motion")))
        if state in self._passes:
            return False
        self._passes.append(state)
        if len(self._passes) >= PASS_LIMIT:
            ctx.fault(
                "repeat-does-not-settle", "the program repeats, and every pass starts from another state than the last"
            )
            ctx.record.unknown("repeats", f"the state after M99 still changes after {PASS_LIMIT} passes", ctx.block)
            return False
        label = whole(ins.words["P"]) if "P" in ins.words else None
        where = frame.layout.labels.get(label, ()) if label is not None else ()
        frame.pc = where[0] if where else frame.first
        return True

    # -- contours: what the cycles ask for --------------------------------------------------------------------------------

    def find_contour(self, ctx: Context, first: int, last: int, *, behind: bool) -> Found:
        """Where the labels stand, seen from the cycle block; CycleRefused where they do not."""
        frame = self._frames[-1]
        here = frame.pc - 1
        starts = frame.layout.labels.get(first, ())
        if not starts:
            raise CycleRefused(
                "contour-label-missing", f"no block N{first} is there for the contour to begin", f"P{first}"
            )
        if len(starts) > 1:
            ctx.fault(
                "contour-label-repeated",
                f"N{first} stands {len(starts)} times; which one counts is the control's choice",
                f"P{first}",
            )
        ahead = [at for at in starts if at > here]
        before = [at for at in starts if at < here]
        begin = (
            (before[-1] if before else ahead[0] if ahead else starts[0])
            if behind
            else (ahead or before or [starts[0]])[0]
        )
        ends = [at for at in frame.layout.labels.get(last, ()) if at >= begin]
        if not ends:
            raise CycleRefused(
                "contour-label-missing", f"no block N{last} follows N{first} for the contour to end", f"Q{last}"
            )
        resume = here + 1
        if begin > here and not any(self._ends_flow(frame, at) for at in range(here + 1, begin)):
            resume = ends[0] + 1
        return Found(begin, ends[0], resume)

    def _ends_flow(self, frame: _Frame, index: int) -> bool:
        words = frame.program.blocks[index].words
        return any(word.letter == "O" or (word.letter == "M" and whole(word) in (2, 30, 99)) for word in words)

    def contour_text(self, found: Found) -> str:
        """The contour's words, as comparable text."""
        blocks = self._frames[-1].program.blocks
        return "; ".join(
            canonical([w for w in blocks[k].words if w.letter != "N"])
            + "".join(f" ? {flaw.text}" for flaw in blocks[k].flaws)
            + "".join(f" {macro.text}" for macro in blocks[k].macros)
            for k in range(found.first, found.last + 1)
        )

    def _over_contour(self, ctx: Context, found: Found) -> None:
        frame = self._frames[-1]
        for index in range(found.first, found.last + 1):
            block = frame.program.blocks[index]
            self._enter(frame, block)
            self._steps += 1
            if any(word.letter == "G" and g_code(word) in _CYCLES for word in block.words):
                raise CycleRefused("cycle-in-contour", "the contour holds a canned cycle")
            _, ins = self._block(block)
            if ins is not None and any(code in (98, 99, 2, 30) for code, _ in ins.m):
                ctx.fault("flow-code-in-contour", "a contour must not call, return or end the program")
                raise CycleRefused("", "the contour holds a call, a return or a program end")

    def run_contour(self, ctx: Context, found: Found) -> None:
        """Execute the contour's blocks for real, in the name of themselves and of the cycle that called them."""
        block, caller = ctx.block, ctx.caller
        frame = self._frames[-1]
        outer = frame.caller
        frame.caller = self._record.caller(block, outer)
        ctx.governed_by = self._record.origin(block)
        try:
            self._over_contour(ctx, found)
        finally:
            frame.caller = outer
            ctx.block, ctx.caller, ctx.governed_by = block, caller, -1

    def dry_contour(self, ctx: Context, found: Found) -> Contour:
        """The contour's moves from the present point, with nothing recorded and no state changed."""
        real_record, real_modal, block = self._record, ctx.modal, ctx.block
        executed = real_record.executed
        self._record = ctx.record = Recorder(0, clamp_always=False)
        self._record.executed = executed
        ctx.modal = copy.deepcopy(real_modal)
        try:
            self._over_contour(ctx, found)
            rows = [MoveRow(Kind(row[0]), *row[1:]) for row in self._record.rows]
            bases = self._record.trace(ctx.modal).bases
            dry = self._record
        finally:
            self._record = ctx.record = real_record
            ctx.modal, ctx.block = real_modal, block
        for fault in dry.faults:
            real_record.faults.setdefault(fault)
        return self._contour(found, rows, bases, dry)

    def _contour(self, found: Found, rows: list[MoveRow], bases: tuple[str, ...], dry: Recorder) -> Contour:
        for row in rows:
            unknown = [bases[k] for k in (row.bx0, row.bz0, row.bx1, row.bz1) if k]
            if unknown:
                raise CycleRefused("", f"the contour holds a place that is not known here ({unknown[0]})")
            if row.remark:
                raise CycleRefused("", "the contour holds words that are not executed yet")
        for event in dry.events:
            if not event.certain:
                raise CycleRefused("", f"the contour holds something that is not executed: {event.value}")
        segments = tuple(
            Segment(
                row.kind,
                Point(row.x0, row.z0),
                Point(row.x1, row.z1),
                row.block,
                Point(row.cx, row.cz) if row.kind.arc else None,
            )
            for k, row in enumerate(rows)
            if k == 0 or (row.x0, row.z0) != (row.x1, row.z1) or row.kind.arc
        )
        letters = {word.letter for word in self._frames[-1].program.blocks[found.first].words}
        return Contour(segments, bool(letters & {"X", "U"}) and bool(letters & {"Z", "W"}))


def execute(
    program: Program,
    machine: Machine,
    *,
    setup: Setup | None = None,
    library: Library | None = None,
    skips_on: Iterable[int] = (),
) -> Trace:
    """Execute a program from the top with the given block skip levels on.

    Raises MachineError for a machine this control cannot be: another kind than a lathe, another code set than A.
    """
    _supported(machine)
    return Executor(program, machine, setup=setup, library=library, skips_on=skips_on).run()


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
    if machine.kind != "lathe" or machine.code_set != "A":
        raise MachineError(
            [f"{machine.name}: a {machine.kind} in code set {machine.code_set} cannot be executed yet; got code_set = "
             f"{machine.code_set!r}, expected 'A' on a lathe"]
        )  # fmt: skip


__all__ = ["Executor", "contradictions", "execute", "execute_part"]
