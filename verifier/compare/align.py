"""Near-linear, stable alignment of two sequences of blocks by a ladder of keys, from strict to loose.

It knows nothing of what a block is: a rung is one 64-bit key per block on each side, and equal keys mean "alike at
this rung". At each rung, among the blocks still free: keys unique on both sides whose order changed, in long runs, are
moves; inside the windows between matched blocks equal ends are matched, then keys unique in their window on the
heaviest chain, and so on until nothing is unique; what repeats is solved exactly while small, and by a bounded edit
script or by overlapping tables where large. What finds no partner goes to the next, looser rung and at last stays free:
removed on one side, added on the other. Cost is O(n log n) sorting plus a search linear in n, whatever the input.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.compare.align_anchor import Index, Keys, runs_of
from verifier.compare.align_moves import all_moves, grow_moves, near_moves, strong_moves
from verifier.compare.align_myers import Work
from verifier.compare.align_rung import Rung, Rungs
from verifier.compare.align_sections import Sections, match_sections, sections_of
from verifier.compare.align_state import State
from verifier.compare.align_windows import settle
from verifier.source import VerifierError

__all__ = ["Alignment", "Rung", "Rungs", "align", "climb_on", "goes_second", "move_near"]

CELLS_PER_BLOCK = 16
LEAST_CELLS = 2_000_000
"""The search limit of a rung is the least number of cells plus so many per block; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """Which old block is which new block.

    `old_to_new`, `new_to_old` hold the partner's index or -1 (free: removed or added). `rung` per old block is the
    strictest rung at which the pair's keys agree, -1 where free. `moved` per old block: the pair stands off the main
    line; all other pairs rise strictly on both sides.
    """

    old_to_new: NDArray[np.int64]
    new_to_old: NDArray[np.int64]
    rung: NDArray[np.int8]
    moved: NDArray[np.bool_]

    def pairs(self) -> tuple[Index, Index]:
        """All matched pairs (old, new), rising in old."""
        old = np.flatnonzero(self.old_to_new >= 0)
        return old, self.old_to_new[old]

    def runs(self) -> Index:
        """The pairs as runs (old, new, length) of neighbours that have one rung and are all moved or all not."""
        old, new = self.pairs()
        return runs_of(old, new, (np.diff(self.rung[old]) != 0) | (np.diff(self.moved[old])))

    def state(self) -> State:
        """A state with these pairs, to go on from."""
        state = State(len(self.old_to_new), len(self.new_to_old))
        old, new = self.pairs()
        state.put(old, new, self.rung[old], self.moved[old])
        return state

    def mirrored(self) -> Alignment:
        """The alignment of the exchanged inputs."""
        new = np.flatnonzero(self.new_to_old >= 0)
        rung = np.full(len(self.new_to_old), -1, np.int8)
        moved = np.zeros(len(self.new_to_old), bool)
        rung[new], moved[new] = self.rung[self.new_to_old[new]], self.moved[self.new_to_old[new]]
        return Alignment(self.new_to_old, self.old_to_new, rung, moved)


def align(
    rungs: Sequence[Rung],
    old_sections: NDArray[np.int64] | None = None,
    new_sections: NDArray[np.int64] | None = None,
    *,
    section_keys_old: NDArray[np.uint64] | None = None,
    section_keys_new: NDArray[np.uint64] | None = None,
    work: Work | None = None,
) -> Alignment:
    """Align two sequences by these rungs, strictest first.

    `old_sections`, `new_sections` are start indices of tool sequences; identical ones are matched first. Section keys
    (one per start; 0 for none) match sections that are alike but not identical. `work`, if given, counts what the
    search cost.

    Exchanging all inputs gives exactly the mirrored result: the pair is aligned in a fixed order of its rung 0 keys.
    Raises VerifierError where arrays do not fit together.
    """
    if not rungs:
        raise VerifierError("an alignment needs at least one rung of keys")
    old_count, new_count = len(rungs[0].old), len(rungs[0].new)
    sections = None
    if old_sections is not None and new_sections is not None:
        sections = (
            sections_of(old_sections, section_keys_old, old_count),
            sections_of(new_sections, section_keys_new, new_count),
        )
    exchange = goes_second(rungs[0].old, rungs[0].new)
    if exchange:
        rungs = Rungs.mapped(Rung.exchanged, rungs)
        sections = sections and sections[::-1]
    state = _climb(rungs, sections, work or _work_for(old_count + new_count))
    _relabel(state, rungs)
    found = Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)
    return found.mirrored() if exchange else found


def climb_on(found: Alignment, rungs: Sequence[Rung], first: int, work: Work | None = None) -> Alignment:
    """Go on with an alignment at rung number `first`; its pairs stay, and get the strictest rung at which they agree."""
    if goes_second(rungs[0].old, rungs[0].new):
        return climb_on(found.mirrored(), Rungs.mapped(Rung.exchanged, rungs), first, work).mirrored()
    state = found.state()
    work = work or _work_for(len(rungs[0].old) + len(rungs[0].new))
    _steps(state, rungs, first, work)
    _relabel(state, rungs)
    return Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)


def move_near(found: Alignment, rung: Rung) -> Alignment:
    """The same alignment with blocks that are equal at this rung, still free and near their place, called moved."""
    if goes_second(rung.old, rung.new):
        return move_near(found.mirrored(), rung.exchanged()).mirrored()
    state = found.state()
    near_moves(state, 0, rung.old, rung.new)
    return Alignment(state.old_to_new, state.new_to_old, state.rung, state.moved)


def _work_for(blocks: int) -> Work:
    return Work(LEAST_CELLS + CELLS_PER_BLOCK * blocks)


def goes_second(old: Keys, new: Keys) -> bool:
    """Whether the old side stands second in a fixed order of any two sequences: by height, then by keys."""
    if len(old) != len(new):
        return len(old) > len(new)
    differs = np.flatnonzero(old != new)
    return len(differs) > 0 and bool(old[differs[0]] > new[differs[0]])


def _climb(rungs: Sequence[Rung], sections: tuple[Sections, Sections] | None, work: Work) -> State:
    """Go up the ladder while both sides have free blocks."""
    strict = rungs[0]
    state = State(len(strict.old), len(strict.new))
    if sections is not None and not np.array_equal(strict.old, strict.new):

        def inner(left: slice, right: slice) -> State:
            return _climb(Rungs.mapped(lambda rung: rung.cut(left, right), rungs), None, work)

        match_sections(state, strict.old, strict.new, *sections, inner)
    _steps(state, rungs, 0, work)
    return state


def _steps(state: State, rungs: Sequence[Rung], first: int, work: Work) -> None:
    for number in range(first, len(rungs)):
        if not all(len(free) for free in state.free()):
            break
        work.refill()
        _step(state, number, rungs[number].fits(rungs[0]), work)


def _step(state: State, number: int, rung: Rung, work: Work) -> None:
    old, new, least = rung.old, rung.new, rung.least_move_run
    if least:
        strong_moves(state, number, old, new, least)
    settle(state, number, old, new, work)
    if least and all_moves(state, number, old, new, least):
        settle(state, number, old, new, work)
    grow_moves(state, number, old, new)


def _relabel(state: State, rungs: Sequence[Rung]) -> None:
    """Give every pair the strictest rung at which its keys agree, however late it was found."""
    for number in range(min(int(state.rung.max(initial=0)), len(rungs)) - 1, -1, -1):
        later = np.flatnonzero(state.rung > number)
        equal = rungs[number].old[later] == rungs[number].new[state.old_to_new[later]]
        state.rung[later[equal]] = number
