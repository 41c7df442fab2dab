"""Sequences: one tool's part of the program, from its operator note and search number to the optional stop that ends it.

How a sequence is found (common practice, no source): it is called by a T word; it begins after the stop that ended the sequence before
it, or where the walk back from its T word meets a block that moves; a second T word of the same tool without a stop between stays in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from verifier.control.act import OFFSET_DIGITS, split_tool
from verifier.control.instruction import whole
from verifier.control.units import Layout, Unit, layout
from verifier.machines import Machine
from verifier.syntax import Block, Program


@dataclass(frozen=True, slots=True)
class Sequence:
    """Blocks `first` up to `end`; `entry` is the block an operator would start at; `called` the block of its T word (-1: none).

    `label` is its search number as written ("N3") or its tool word; `note` the operator note at its head.
    """

    index: int
    first: int
    end: int
    entry: int
    called: int
    tool: int | None
    offset: int | None
    label: str
    note: str


_STOPS = (0, 1, 2, 30, 99)
_DEEPEST = 10
"""Deeper calls are no longer followed, here as in a run."""


def sequences(program: Program, machine: Machine) -> tuple[Sequence, ...]:
    """The sequences of a file's main program, in order; one for a program that calls no tool."""
    plan = layout(program)
    unit = plan.units[0]
    blocks = [program.blocks[k] for k in range(unit.first, unit.end)]
    if not blocks:
        return ()
    calls = _calls(blocks, machine)
    work = _Work(program, plan)
    starts = [unit.first] + [
        unit.first + _head(blocks, at, calls[k][0], work) for k, (at, _, _) in enumerate(calls[1:])
    ]
    starts = starts[: max(1, len(calls))]
    ends = [*starts[1:], unit.end]
    notes = _notes(program)
    found = []
    for index, (first, end) in enumerate(zip(starts, ends, strict=True)):
        called, tool, offset = calls[index] if calls else (-1, None, None)
        found.append(_sequence(program, notes, index, (first, end), unit.first + called if calls else -1, tool, offset))
    return tuple(found)


def _calls(blocks: list[Block], machine: Machine) -> list[tuple[int, int | None, int | None]]:
    """Position, tool and offset of each T word that opens a sequence."""
    size = OFFSET_DIGITS[machine.choice("tool-word")]
    found: list[tuple[int, int | None, int | None]] = []
    stopped = True
    for k, block in enumerate(blocks):
        for word in block.words:
            if word.letter == "T" and word.number is not None and word.number.mantissa > 0 and not word.number.pointed:
                with_m06 = any(w.letter == "M" and whole(w) == 6 for w in block.words)
                tool, offset = split_tool(word.number.text, with_m06=with_m06, digits_of_offset=size)
                cancels = offset == 0 and bool(found) and found[-1][1] == tool
                if tool and not cancels and (stopped or not found or found[-1][1] != tool):
                    found.append((k, tool, offset))
                    stopped = False
        stopped = stopped or _is_stop(block)
    return found


def _is_stop(block: Block) -> bool:
    return any(word.letter == "M" and whole(word) in _STOPS for word in block.words)


def _head(blocks: list[Block], at: int, before: int, work: _Work) -> int:
    """Where the sequence called at `at` begins, not before the one called at `before`."""
    for k in range(at - 1, before, -1):
        if _is_stop(blocks[k]):
            return k + 1
    k = at
    while k - 1 > before and not work.of(blocks[k - 1]):
        k -= 1
    return k


@dataclass(slots=True)
class _Work:
    """What is work: of blocks, and of the programs of the same file that they call (each is looked at once)."""

    program: Program
    plan: Layout
    known: dict[Unit, bool] = field(default_factory=dict)

    def of(self, block: Block, deep: int = 0) -> bool:
        """Whether a block still belongs to the work of the sequence before: it moves, or puts spindle or coolant off.

        A call belongs to it where what it calls does so; of a program outside the file it is not known here.
        """
        if any(word.letter in "XZUW" or (word.letter == "M" and whole(word) in (5, 9)) for word in block.words):
            return True
        called = _called(self.plan, block)
        if called is None or deep >= _DEEPEST:
            return False
        if called not in self.known:
            self.known[called] = False  # a program that calls itself moves nothing by that
            self.known[called] = any(self.of(self.program.blocks[k], deep + 1) for k in range(called.first, called.end))
        return self.known[called]


def _called(plan: Layout, block: Block) -> Unit | None:
    """The program of the same file that a block calls (M98 P; leading digits of P may be the repeats)."""
    if not any(word.letter == "M" and whole(word) == 98 for word in block.words):
        return None
    number = next((whole(word) for word in block.words if word.letter == "P"), None)
    if number is None:
        return None
    return next((unit for name in (number, number % 10_000) if (unit := plan.unit(name)) is not None), None)


def _notes(program: Program) -> dict[int, str]:
    notes: dict[int, str] = {}
    for comment in program.comments:
        notes.setdefault(comment.line, comment.text.strip())
    return notes


def _sequence(
    program: Program,
    notes: dict[int, str],
    index: int,
    span: tuple[int, int],
    called: int,
    tool: int | None,
    offset: int | None,
) -> Sequence:
    first, end = span
    entry, label = first, ""
    head_end = called if called >= 0 else min(first, end - 1)
    named = [(k, w) for k in range(first, head_end + 1) for w in program.blocks[k].words if w.letter == "N"]
    if named:  # by habit the search number is the tool's; a block of the program's head may have a number of its own
        entry, word = next(((k, w) for k, w in named if tool is not None and whole(w) == tool), named[0])
        label = word.text.replace(" ", "").upper()
    if not label and called >= 0:
        label = next((w.text.replace(" ", "").upper() for w in program.blocks[called].words if w.letter == "T"), "")
    top = program.blocks[first - 1].line + 1 if first else 1
    bottom = program.blocks[head_end].line
    note = next((notes[line] for line in range(top, bottom + 1) if notes.get(line)), "")
    return Sequence(index, first, end, entry, called, tool, offset, label or f"sequence {index + 1}", note)
