"""What the time of a program is spent on: cutting, moving through air, standing; as a whole and by sequence.

A move cuts where the swept part loses material to it. Without a swept part only the words tell: moves at a feed, rapids, and the rest.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from verifier.control import Kind, Sequence, Trace
from verifier.geometry.part import TurnedPart
from verifier.geometry.time import Times, first_pass_events

Mask = NDArray[np.bool_]

BY_PART = ("cutting", "air", "standing")
BY_WORDS = ("feed", "rapid", "other")
"""The names of the three shares, with a swept part and without one."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds of a program or of a sequence, in three shares that make up the whole.

    `work` are the moves that cut (without a swept part: the moves at a feed), `way` the other moves (the rapids), `rest` everything that is no
    move: dwells, tool changes, waiting for the spindle.
    """

    work: float
    way: float
    rest: float

    @property
    def total(self) -> float:
        """All three."""
        return self.work + self.way + self.rest


def cutting_moves(trace: Trace, part: TurnedPart | None) -> Mask:
    """For each move whether it cuts: takes material off, is a pass of a thread, or could not be swept, which is taken for a cut.

    Without a part: whether it is a move at a feed.
    """
    if part is None:
        return np.asarray(trace.moves.kind != Kind.RAPID, np.bool_)
    cuts = (part.area > 0) | part.unswept
    cuts[[one.move for one in part.threads]] = True
    return np.asarray(cuts, np.bool_)


def spent(times: Times, trace: Trace, cuts: Mask) -> Spent:
    """What the first pass is spent on; the shares make up `times.total`. `cuts` as of `cutting_moves`."""
    moves, cuts = times.moves[: trace.first_pass], cuts[: trace.first_pass]
    rest = [*times.events[: first_pass_events(trace)].tolist(), *(wait.seconds for wait in times.waits)]
    return Spent(fsum(moves[cuts].tolist()), fsum(moves[~cuts].tolist()), fsum(rest))


def spent_by_sequence(times: Times, trace: Trace, sequences: Iterable[Sequence], cuts: Mask) -> tuple[Spent, ...]:
    """The part of the total that each sequence has, in their order. What a called program or a contour does counts where it was called.

    What stands in front of the first sequence belongs to none, so that they may be less than the whole.
    """
    found = tuple(sequences)
    root = _roots(trace)
    place = np.full(len(trace.executed) + 1, -1, np.int64)
    for number, sequence in enumerate(found):
        place[sequence.first : sequence.end] = number
    moves, last = trace.moves, trace.first_pass
    of_move = place[np.where(root[moves.caller] >= 0, root[moves.caller], moves.block)][:last]
    rest: list[list[float]] = [[] for _ in found]
    small = [
        (e.caller, e.block, float(times.events[k])) for k, e in enumerate(trace.events[: first_pass_events(trace)])
    ]
    small += [(wait.caller, wait.block, wait.seconds) for wait in times.waits]
    for caller, block, seconds in small:
        number = int(place[root[caller] if root[caller] >= 0 else block])
        if number >= 0:
            rest[number].append(seconds)
    seconds_of, cuts = times.moves[:last], cuts[:last]
    return tuple(
        Spent(
            fsum(seconds_of[(of_move == number) & cuts].tolist()),
            fsum(seconds_of[(of_move == number) & ~cuts].tolist()),
            fsum(rest[number]),
        )
        for number in range(len(found))
    )


def _roots(trace: Trace) -> NDArray[np.int64]:
    """For each call chain the block of the program itself that began it; -1 for the program itself."""
    root = [-1]
    for block, outer in trace.callers[1:]:
        root.append(block if root[outer] < 0 else root[outer])
    return np.array(root, np.int64)
