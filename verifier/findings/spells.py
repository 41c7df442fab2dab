"""Cuts gathered by what is in force during them: one spell for each sequence and state, however many moves it has."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from verifier.control import FIELDS, InForce, Kind, Sequence, Trace
from verifier.machines import Tool

if TYPE_CHECKING:  # a view keeps its spells
    from verifier.findings.view import ProgramView

ARCS = (2, 3)


@dataclass(frozen=True, slots=True)
class Spell:
    """Moves of one sequence (None: outside all) in one state set by the same origins.

    `block` is the block of the main program at which the first of them is made (the calling one for a subprogram or a finished contour),
    `blocks` are the first blocks that hold them, `row` is the first move.
    """

    sequence: Sequence | None
    state: InForce
    set_by: tuple[int, ...]
    block: int
    blocks: tuple[int, ...]
    row: int


def main_blocks(trace: Trace) -> NDArray[np.int32]:
    """For each move the block of the main program that makes it: its own, or the outermost one that called it."""
    outermost = [-1]
    for block, outer in trace.callers[1:]:
        outermost.append(outermost[outer] if outermost[outer] >= 0 else block)
    found = np.array(outermost, np.int32)[trace.moves.caller]
    return np.where(found < 0, trace.moves.block, found)


def sequence_numbers(program: ProgramView, blocks: NDArray[np.int32]) -> NDArray[np.int32]:
    """For each block the index of its sequence, -1 outside all."""
    owner = np.full(max(len(program.program.blocks), 1), -1, np.int32)
    for sequence in program.sequences:
        owner[sequence.first : sequence.end] = sequence.index
    return owner[blocks]


def cutting(trace: Trace) -> NDArray[np.int64]:
    """The moves at a feed that go somewhere."""
    moves = trace.moves
    goes = (moves.x0 != moves.x1) | (moves.z0 != moves.z1) | (moves.bx0 != moves.bx1) | (moves.bz0 != moves.bz1)
    return np.flatnonzero((moves.kind > 0) & (goes | np.isin(moves.kind, ARCS)))


def spells(program: ProgramView, *, rapids: bool = False) -> tuple[Spell, ...]:
    """The spells of cuts (`rapids`: of all moves) in the order of their first move; of a program that repeats, all passes."""
    return program.spells_of_moves if rapids else program.spells_of_cuts


def gathered_spells(program: ProgramView, rows: NDArray[np.int64]) -> tuple[Spell, ...]:
    """The spells of these moves in the order of their first."""
    trace = program.trace
    moves = trace.moves
    if not len(rows):
        return ()
    home = main_blocks(trace)
    owner = sequence_numbers(program, home[rows])
    key = ((owner.astype(np.int64) + 1) * len(trace.states) + moves.state[rows]) * len(trace.set_by) + moves.set_by[
        rows
    ]
    _, first, inverse, counts = np.unique(key, return_index=True, return_inverse=True, return_counts=True)
    blocks = moves.block[rows[np.argsort(inverse.ravel(), kind="stable")]].tolist()
    starts = (np.cumsum(counts) - counts).tolist()
    found = []
    for k in np.argsort(first, kind="stable").tolist():
        row = int(rows[first[k]])
        index = int(owner[first[k]])
        own = blocks[starts[k] : starts[k] + min(int(counts[k]), 400)]
        found.append(
            Spell(
                program.sequences[index] if index >= 0 else None,
                trace.states[int(moves.state[row])],
                trace.set_by[int(moves.set_by[row])],
                int(home[row]),
                tuple(dict.fromkeys(own))[:12],
                row,
            )
        )
    return tuple(found)


def fed_per_revolution(program: ProgramView) -> Iterator[tuple[Spell, Tool, Fraction]]:
    """Cuts at a feed per revolution (no threads) with a tool that the setup sheet describes, and the feed in mm."""
    setup, moves = program.side.setup, program.trace.moves
    tools = setup.tools if setup is not None else {}
    if not tools:
        return
    fed = [_fed(state, tools) for state in program.trace.states]
    found = spells(program)
    rows = np.array([spell.row for spell in found], np.int64)
    threads = (moves.kind[rows] == Kind.THREAD).tolist()
    for spell, state, thread in zip(found, moves.state[rows].tolist(), threads, strict=True):
        by = fed[state]
        if by is not None and not thread:
            yield spell, *by


def _fed(state: InForce, tools: Mapping[int, Tool]) -> tuple[Tool, Fraction] | None:
    """The tool in force and its feed in mm per revolution; None where there is no such feed, or the sheet has no such tool."""
    tool = tools.get(state.tool) if isinstance(state.tool, int) else None
    if tool is None or state.feed_mode != "per-revolution" or not isinstance(state.feed, Fraction):
        return None
    return tool, state.feed


def setter(trace: Trace, set_by: tuple[int, ...], name: str) -> int | None:
    """The block that set a value in force; None for what was there before the program."""
    origin = set_by[FIELDS.index(name)]
    return int(trace.origins.block[origin]) if origin >= 0 else None


def unknown_m_codes(program: ProgramView) -> dict[int, list[int]]:
    """M codes that the machine profile does not know -> the blocks at which they are executed, in order."""
    found: dict[int, list[int]] = {}
    for event in program.trace.events:
        if event.kind == "machine-code":
            code = event.value.lstrip("M").rstrip(".")
            if code.isascii() and code.isdecimal() and int(code) not in program.machine.m_codes:
                found.setdefault(int(code), []).append(event.block)
    return found


def label(spell: Spell) -> str:
    """Where a spell is, for a sentence: " in N3", or nothing outside all sequences."""
    return f" in {spell.sequence.label}" if spell.sequence is not None else ""
