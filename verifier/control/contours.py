"""Contours of the contour cycles: where their labels stand, their moves run dry, and their blocks run for real."""

from __future__ import annotations

import copy
from collections.abc import Iterable

from verifier.control.compensation.apply import AS_PROGRAMMED, NO_OFFSET
from verifier.control.context import Context
from verifier.control.cycle_call import Found
from verifier.control.cycle_registry import CYCLES
from verifier.control.cycle_words import CycleRefused
from verifier.control.expressions import numbers_read
from verifier.control.instruction import canonical, g_code, meant, whole
from verifier.control.recorder import Recorder
from verifier.control.run import BLOCK_LIMIT, Frame, Run
from verifier.control.strokes import Contour, Point, Segment
from verifier.control.trace import Trace
from verifier.control.units import PROGRAM_NUMBER
from verifier.control.values import value_text
from verifier.syntax import Block, Macro, Word


class ContourRunner(Run):
    """The part of an execution that the cycles ask for."""

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
        if behind and begin > here:
            ctx.record.unknown(
                f"the blocks from N{first} to N{last}",
                "they stand behind the finish line: the control is taken to go on with the block after that line",
                ctx.block,
            )
        if not behind and begin > here and not any(self._ends_flow(frame, at) for at in range(here + 1, begin)):
            resume = ends[0] + 1
            if any(frame.program.blocks[at].words for at in range(here + 1, begin)):
                ctx.record.unknown(
                    f"the blocks between the cycle and N{first}",
                    "taken to be passed over: the control is taken to go on behind the contour",
                    ctx.block,
                )
        return Found(begin, ends[0], resume)

    def _ends_flow(self, frame: Frame, index: int) -> bool:
        words = frame.program.blocks[index].words
        return any(
            word.letter in PROGRAM_NUMBER or (word.letter == "M" and whole(word) in (2, 30, 99)) for word in words
        )

    def contour_text(self, found: Found) -> str:
        """The contour's words, as comparable text."""
        blocks = self._frames[-1].program.blocks
        text = "; ".join(
            canonical([w for w in blocks[k].words if w.letter != "N"])
            + "".join(f" ? {flaw.text}" for flaw in blocks[k].flaws)
            + "".join(f" {macro.text}" for macro in blocks[k].macros)
            for k in range(found.first, found.last + 1)
        )
        return text + self._values_in(blocks[k] for k in range(found.first, found.last + 1))

    def _values_in(self, blocks: Iterable[Block]) -> str:
        """The values of the variables that some blocks read, as comparable text: equal words with other values are something else."""
        pieces: list[Word | Macro] = []
        for block in blocks:
            pieces += (*block.words, *block.macros)
        numbers = {number for piece in pieces for number in numbers_read(piece)}
        held = {(k, n): value for k, n, value in self._ctx.modal.variables.snapshot()}
        told = [
            f"#{n}={value_text(value)}" for (_, n), value in sorted(held.items()) if None in numbers or n in numbers
        ]
        return f" with {', '.join(told)}" if told else ""

    def _over_contour(self, ctx: Context, found: Found) -> None:
        """The contour's blocks from the first to the last, by way of its own jumps and loops."""
        frame = self._frames[-1]
        kept = frame.pc, frame.marks, frame.inside
        frame.pc, frame.marks, frame.inside = found.first, {}, []
        try:
            while found.first <= frame.pc <= found.last:
                self._contour_block(ctx, frame, found)
        finally:
            frame.pc, frame.marks, frame.inside = kept

    def _contour_block(self, ctx: Context, frame: Frame, found: Found) -> None:
        index = frame.pc
        block = frame.program.blocks[index]
        self._here = (index, found.last + 1)
        frame.pc += 1
        self._enter(frame, block)
        if any(word.letter == "G" and meant(word, self.machine) in CYCLES for word in block.words):
            raise CycleRefused("cycle-in-contour", "the contour holds a canned cycle")
        depth = len(self._frames)
        to, ins = self._block(block)
        if len(self._frames) > depth or (ins is not None and any(code in (98, 99, 2, 30) for code, _ in ins.m)):
            del self._frames[depth:]
            ctx.fault("flow-code-in-contour", "a contour must not call, return or end the program")
            raise CycleRefused("", "the contour holds a call, a return or a program end")
        if self._stopped or self._steps >= BLOCK_LIMIT:
            raise CycleRefused("", "the contour does not come to its end")
        if to is not None:
            if not found.first <= to <= found.last + 1:
                raise CycleRefused("", "the contour is left by a jump")
            frame.pc = to

    def run_contour(self, ctx: Context, found: Found) -> None:
        """Execute the contour's blocks for real, in the name of themselves and of the cycle that called them."""
        block, caller = ctx.block, ctx.caller
        frame = self._frames[-1]
        outer, home = frame.caller, frame.home
        frame.caller = frame.home = self._record.caller(block, outer)
        ctx.governed_by = self._record.origin(block)
        try:
            self._over_contour(ctx, found)
        finally:
            frame.caller, frame.home = outer, home
            ctx.block, ctx.caller, ctx.governed_by = block, caller, -1

    def dry_contour(self, ctx: Context, found: Found) -> Contour:
        """The contour's moves from the present point, with nothing recorded and no state changed."""
        real_record, real_modal, block = self._record, ctx.modal, ctx.block
        executed = real_record.executed
        self._record = ctx.record = Recorder(0, clamp_always=False, dry=True)
        self._record.executed = executed
        ctx.modal = copy.deepcopy(real_modal)
        try:
            self._over_contour(ctx, found)
            dry = self._record
            compensated = bool(dry.journal.notes) and ctx.machine.choice("compensation-in-roughing") == "applied"
            path = dry.trace(ctx.modal, ctx.machine if compensated else None)
        finally:
            self._record = ctx.record = real_record
            ctx.modal, ctx.block = real_modal, block
        real_record.flow_unknown = real_record.flow_unknown or dry.flow_unknown
        for fault in dry.faults:
            real_record.faults.setdefault(fault)
        for key, entry in dry.unchecked.items():
            real_record.unchecked.setdefault(key, entry)
        if dry.journal.notes:
            ctx.assume("compensation-in-roughing")
        self._left_out(ctx, found)
        return self._contour(found, path)

    def _left_out(self, ctx: Context, found: Found) -> None:
        """F, S and T of a contour are ignored while roughing (read in course texts); of M codes and dwells nothing is agreed."""
        frame = self._frames[-1]
        for index in range(found.first, found.last + 1):
            block = frame.program.blocks[index]
            words = [w for w in block.words if w.letter == "M" or (w.letter == "G" and g_code(w) == "G04")]
            if words:
                where = index if frame.attributed is None else frame.attributed
                ctx.record.unknown(canonical(words), "taken to do nothing while the contour is roughed", where)

    def _contour(self, found: Found, path: Trace) -> Contour:
        rows = path.rows()
        for row in rows:
            unknown = [path.bases[k] for k in (row.bx0, row.bz0, row.bx1, row.bz1) if k]
            if unknown:
                raise CycleRefused("", f"the contour holds a place that is not known here ({unknown[0]})")
            remark = path.remarks[row.remark]
            if remark == NO_OFFSET:
                raise CycleRefused("", f"compensation of the contour: {remark}")
            if remark and not remark.startswith(AS_PROGRAMMED):
                raise CycleRefused("", "the contour holds words that are not executed yet")
        for event in path.events:
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
