"""The order of execution: calls with their repeats, returns, programs that start again, and ends."""

from __future__ import annotations

from collections.abc import Mapping

from verifier.control.act import end_resets
from verifier.control.expressions import Stored
from verifier.control.instruction import Instruction, canonical, whole
from verifier.control.jumps import label_blocks
from verifier.control.run import BLOCK_LIMIT, MOVE_LIMIT, Frame, Run
from verifier.control.units import Layout, layout
from verifier.control.values import value_text
from verifier.syntax import Program, Word

DEPTH_LIMIT = 10
PASS_LIMIT = 6
_ENDS = {2: "M02", 30: "M30"}
FLOW_CODES = (2, 30, 98, 99)


class FlowRunner(Run):
    """The part of an execution that decides which block is next."""

    _passes: list[str]

    def _flow(self, frame: Frame, ins: Instruction) -> bool:
        """Carry out a block's flow code. False when the program has ended."""
        labels = self.machine.label_calls
        codes = [(code, word) for code, word in ins.m if code in FLOW_CODES or code in labels]
        for _, word in codes[1:]:
            self._ctx.unexecuted(
                canonical([word]), f"{codes[0][1].text} in the same block already decides where to go on"
            )
        if not codes:
            return True
        code = codes[0][0]
        if code in _ENDS:
            self._program_end(_ENDS[code])
            return False
        return self._return(frame, ins) if code == 99 else self._call(frame, ins, f"M{code:02d}")

    def _program_end(self, code: str) -> None:
        self._variables_left()
        end_resets(self._ctx, code)
        self._ctx.event("program-end", code)

    def _off_the_end(self, frame: Frame) -> bool:
        self._leave()
        if self._frames:
            self._ctx.fault("subprogram-without-return", "the called program ends without M99")
            if frame.repeats > 1:
                self._ctx.unexecuted(
                    f"{frame.repeats - 1} more repeats", "the called program ends without M99 on its first pass"
                )
            return True
        if frame.end == frame.layout.unit_at(frame.first).end:
            self._ctx.fault("program-end-missing", "the program ends without M30, M02 or M99")
            self._variables_left()
            self._ctx.event("text-end", "the text ends")
        return False

    def _variables_left(self) -> None:
        """Common variables that the program set outlive it, unless the end clears them."""
        ctx = self._ctx
        left = ctx.modal.variables.left()
        if not left or ctx.assume("common-variables-at-end") == "cleared":
            return
        for number, held in left:
            ctx.rests = ctx.together(held.blocks)
            ctx.event("variable", f"#{number}={value_text(held.value)}")
        ctx.rests = -1

    # -- calls ----------------------------------------------------------------------------------------------------------

    def _call(self, frame: Frame, ins: Instruction, code: str) -> bool:
        """M98: P a program (Q: from that label of it), or Q a label in this one; L times, or as the leading digits of P say.

        Another `code` is one that the profile names, and its P is the label.
        """
        ctx = self._ctx
        number, label = (None, _whole(ins, "P")) if code != "M98" else (_whole(ins, "P"), _whole(ins, "Q"))
        repeats = _whole(ins, "L") if "L" in ins.words else 1
        words = canonical([ins.words[letter] for letter in "PQL" if letter in ins.words])
        if repeats is None or (number is None and label is None) or _not_whole(ins):
            ctx.fault("call-without-program", f"{code} names no program", words)
            ctx.unexecuted(f"{code} {words}".strip(), f"{code} names no program with P")
            return True
        self._enter_program(frame, number, label, repeats, words, packed="L" not in ins.words)
        return True

    def _enter_program(
        self,
        frame: Frame,
        number: int | None,
        label: int | None,
        repeats: int,
        words: str,
        *,
        packed: bool = False,
        arguments: dict[int, Stored] | None = None,
        modal: bool = False,
    ) -> None:
        """Go on in a program: `packed` where the leading digits of its number may be the repeats, `arguments` are its own local variables."""
        ctx = self._ctx
        called = self._called(frame, number, label)
        if (
            called is None
            and number is not None
            and number > 9999
            and packed
            and ctx.assume("call-repeats") == "leading-digits-of-p"
        ):
            repeats, number = divmod(number, 10000)
            called = self._called(frame, number, label)
        if called is None:
            self._missing(number, label, repeats, arguments or {})
        elif repeats < 1:
            ctx.fault("call-repeats-wrong", f"the program is called {repeats} times", words)
            ctx.unexecuted(
                f"M98 {words}", "whether a call of no repeats runs once or not at all is the control's choice"
            )
        elif self._too_deep(called, arguments):
            name = f"program {number}" if number is not None else f"N{label}"
            ctx.fault("call-too-deep", f"{name} calls itself, or calls go deeper than {DEPTH_LIMIT}", words)
            ctx.unexecuted(f"call of {name}", "the program calls itself or goes too deep")
            self._lose_place(f"after {name}")
        else:
            called.repeats, called.called_from, called.modal = repeats, ctx.block, modal
            called.begun = self._now(called)
            if arguments is not None:
                called.arguments = arguments
                ctx.modal.variables.levels.append(dict(arguments))
            called.entered = ctx.modal.variables.snapshot()
            self._frames.append(called)

    def _leave(self) -> Frame:
        """Out of the innermost program, and out of its local variables."""
        frame = self._frames.pop()
        if frame.arguments is not None:
            self._ctx.modal.variables.levels.pop()
        return frame

    def _missing(self, number: int | None, label: int | None, repeats: int, arguments: Mapping[int, Stored]) -> None:
        ctx = self._ctx
        name = " ".join(f"{letter}{value}" for letter, value in (("P", number), ("Q", label)) if value is not None)
        told = f"program {number}" if number is not None else f"block N{label}"
        reason = "it is neither in the file nor in the library"
        if number is not None and label is not None and self._called(self._frames[-1], number, None) is not None:
            told, reason = f"block N{label} of program {number}", "the program has no such block"
        ctx.fault("subprogram-missing", f"{told} is called, but {reason}", name)
        given = "".join(f" #{n}={value_text(held.value)}" for n, held in sorted(arguments.items()))
        ctx.event("missing-program", f"{name} L{repeats}{given}", certain=False)
        ctx.record.unknown(told, reason, ctx.block)
        self._lose_place(f"after {told}")

    def _lose_place(self, label: str) -> None:
        """After something that was not followed neither the place of the tool nor the variables are known."""
        modal, origin = self._ctx.modal, self._ctx.record.origin
        modal.x, modal.z = modal.x.through(label), modal.z.through(label)
        modal.variables.write_unknown(label, frozenset((self._ctx.block,)))
        modal.x_origin, modal.z_origin = (
            origin(self._ctx.block, modal.x_origin),
            origin(self._ctx.block, modal.z_origin),
        )

    def _too_deep(self, called: Frame, arguments: dict[int, Stored] | None) -> bool:
        """Whether a call goes deeper than a control follows, or comes back to a program with nothing changed by which it could ever end."""
        if len(self._frames) > DEPTH_LIMIT:
            self._stopped = self._stopped or any(f.first == called.first for f in self._frames)
            return True
        now = self._ctx.modal.variables.snapshot()
        return any(
            f.first == called.first
            and f.program is called.program
            and (f.caller == 0 or (f.entered == now if arguments is None else f.arguments == arguments))
            for f in self._frames
        )

    def _called(self, frame: Frame, number: int | None, label: int | None) -> Frame | None:
        """The frame of a call: a program, from a label of it where one is named; or a label of the calling program."""
        caller = self._record.caller(self._ctx.block, frame.caller)
        if number is None:
            where = frame.layout.labels.get(-1 if label is None else label, ())
            if not where:
                return None
            end = frame.layout.unit_at(where[0]).end
            return Frame(
                frame.program, frame.layout, where[0], end, where[0], caller, attributed=frame.attributed, home=caller
            )
        for program, plan, attributed in self._places(frame, number):
            found = plan.unit(number)
            if found is None:
                continue
            if program is not self._frames[0].program:
                self._record.called.setdefault((number, program.source.sha256))
            first = found.first
            if label is not None:
                inside = [at for at in plan.labels.get(label, ()) if found.first <= at < found.end]
                if not inside:
                    return None
                first = inside[0]
            return Frame(program, plan, first, found.end, first, caller, attributed=attributed, home=caller)
        return None

    def _places(self, frame: Frame, number: int) -> list[tuple[Program, Layout, int | None]]:
        places: list[tuple[Program, Layout, int | None]] = [(frame.program, frame.layout, frame.attributed)]
        outside = self.outside.programs.get(number)
        if outside is not None:
            places.append((outside, layout(outside), self._ctx.block))
        return places

    # -- returns ----------------------------------------------------------------------------------------------------------

    def _return(self, frame: Frame, ins: Instruction) -> bool:
        """M99: back to the caller (P: to that block of it), or at the end of a main program again from its start."""
        if len(self._frames) == 1:
            return self._again(frame, ins)
        frame.repeats -= 1
        if frame.repeats > 0 and not self._cut_short(frame):
            frame.pc, frame.begun = frame.first, self._now(frame)
            frame.inside, frame.marks, frame.caller = [], {}, frame.home
            if frame.arguments is not None:
                self._ctx.modal.variables.levels[-1] = dict(frame.arguments)
            return True
        self._leave()
        outer = self._frames[-1]
        at = self._label(outer, ins)
        if at is not None:
            to = self._jump(outer, at, outer.pc - 1)
            outer.pc = outer.pc if to is None else to
        return True

    def _label(self, frame: Frame, ins: Instruction) -> int | None:
        """The block that M99 P names in the program that goes on; a label that is not there is a fault."""
        word: Word | None = ins.words.get("P")
        if word is None:
            return None
        label = whole(word)
        unit = frame.layout.unit_at(frame.first)
        where = label_blocks(frame.layout, unit, -1 if label is None else label, unit.first - 1)
        if not where:
            self._ctx.fault(
                "return-label-missing", f"M99 {word.text} returns to a block that does not exist", word.text
            )
            self._ctx.unexecuted(f"M99 {canonical([word])}", "it returns to a block that does not exist")
            return None
        if len(where) > 1:
            self._ctx.fault(
                "return-label-repeated", f"M99 {word.text}: that block number stands {len(where)} times", word.text
            )
        return where[0]

    def _now(self, frame: Frame) -> tuple[int, int, object, int]:
        """What a pass of `frame` begins with; its number counts from 1."""
        return self._steps, self._record.count, self._ctx.position(), frame.begun[3] + 1

    def _cut_short(self, frame: Frame) -> bool:
        """Whether the repeats still to come would go beyond the limits; then they are named and not executed.

        Decided from the second pass on: it starts where all later ones start, unless something accumulates.
        """
        if frame.begun[3] < 2:
            return False
        steps, rows, place, _ = self._now(frame)
        more_steps, more_rows = steps - frame.begun[0], rows - frame.begun[1]
        if steps + more_steps * frame.repeats <= BLOCK_LIMIT and rows + more_rows * frame.repeats <= MOVE_LIMIT:
            return False
        ctx = self._ctx
        ctx.block, ctx.caller = frame.called_from, self._frames[-2].caller
        ctx.fault(
            "too-many-blocks",
            f"{frame.repeats:,} more repeats of the called program would execute more than {BLOCK_LIMIT:,} blocks "
            f"or {MOVE_LIMIT:,} moves",
        )
        ctx.unexecuted(f"{frame.repeats} more repeats", "they would go beyond the limit of executed blocks or moves")
        if place != frame.begun[2]:
            self._lose_place(f"after {frame.repeats} more repeats")
        elif ctx.modal.variables.snapshot() != frame.entered:
            ctx.modal.variables.write_unknown(f"after {frame.repeats} more repeats", frozenset((ctx.block,)))
        return True

    def _again(self, frame: Frame, ins: Instruction) -> bool:
        """The program starts again; it is run on until the state it starts with repeats."""
        ctx = self._ctx
        end_resets(ctx, "M99")
        ctx.event("repeat", "M99" + (f" {canonical([ins.words['P']])}" if "P" in ins.words else ""))
        if self._record.first_pass is None:
            self._record.first_pass = self._record.count
        at = self._label(frame, ins)
        state = f"{frame.first if at is None else at} {self._state()}"
        if state in self._passes:
            return False
        self._passes.append(state)
        if len(self._passes) >= PASS_LIMIT:
            ctx.fault(
                "repeat-does-not-settle", "the program repeats, and every pass starts from another state than the last"
            )
            ctx.record.unknown("repeats", f"the state after M99 still changes after {PASS_LIMIT} passes", ctx.block)
            return False
        frame.pc, frame.inside, frame.marks = frame.first if at is None else at, [], {}
        return True

    def _state(self) -> str:
        """All that a pass starts from, as text: every modal value, the place, and what cycles keep (not who set it)."""
        modal = self._ctx.modal
        values = sorted((name, repr(value)) for name, value in modal.values.items())
        kept = [
            (name, value[0] if isinstance(value, tuple) and name != "feed-word" else value)
            for name, value in sorted(modal.cycle.items())
            if not name.endswith("-origin")
        ]
        return repr((values, sorted(modal.auxiliaries.items()), modal.x, modal.z, kept))


def _whole(ins: Instruction, letter: str) -> int | None:
    return whole(ins.words[letter]) if letter in ins.words else None


def _not_whole(ins: Instruction) -> bool:
    """Whether P or Q of a call is given, but not as a whole number."""
    return any(letter in ins.words and whole(ins.words[letter]) is None for letter in "PQ")
