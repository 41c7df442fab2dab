"""Threads as they are cut: crest, root, height and lead, and the diameter that was turned where the thread comes to lie.

A thread cycle is read from what it did (its amounts and its moves); G92 passes to one end are one thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import TICKS_PER_MM, CycleCall, Kind, Trace
from verifier.findings.spells import cutting

_PLACES = (Fraction(1, 2), Fraction(5, 8), Fraction(3, 4))
"""Where along the thread its diameter is looked for, from its start (run-in) to its end: a short thread has its chamfer in the middle."""


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread: radius values in mm. `root` at the end of the cut, `height` None where no word gives it (G92), `first` the first pass's depth.

    `taper` is the radius at the start of the cut less that at its end; `z0`, `z1` in ticks; `outside` whether the tool stands off outward;
    `row` is its first move, `blocks` the cycle blocks, `angle` of the tool in degrees where given.
    """

    code: str
    blocks: tuple[int, ...]
    row: int
    root: Fraction
    height: Fraction | None
    first: Fraction | None
    lead: Fraction
    taper: Fraction
    angle: Fraction | None
    z0: int
    z1: int
    outside: bool

    def root_at(self, share: Fraction) -> Fraction:
        """The root radius at a share of the way from the start of the thread to its end."""
        return self.root + self.taper * (1 - share)


def threads(trace: Trace) -> list[Thread]:
    """Every thread that a cycle cut, in order."""
    found: list[Thread] = []
    for call in trace.cycles:
        if call.code == "G76" and call.moves:
            thread = _multi(trace, call)
        elif call.code == "G92" and call.moves:
            thread = _single(trace, call)
        else:
            continue
        if thread is None:
            continue
        if found and _same_thread(found[-1], thread):
            found[-1] = _joined(found[-1], thread)
        else:
            found.append(thread)
    return found


def _multi(trace: Trace, call: CycleCall) -> Thread | None:
    named = call.amounts
    if not {"thread height", "first pass", "lead"} <= named.keys():
        return None
    cut = _last_cut(trace, call)
    if cut is None:
        return None
    taper = named["taper"].value if "taper" in named else Fraction(0)
    angle = named["angle"].value if "angle" in named else None
    root, z1 = cut
    return Thread(
        call.code, call.set_by or (call.block,), call.first_move, root, named["thread height"].value, named["first pass"].value,
        named["lead"].value, taper, angle, int(trace.moves.z0[call.first_move]), z1, _outside(trace, call, root),
    )  # fmt: skip


def _single(trace: Trace, call: CycleCall) -> Thread | None:
    cut = _last_cut(trace, call)
    if cut is None or "lead" not in call.amounts:
        return None
    taper = call.amounts["taper"].value if "taper" in call.amounts else Fraction(0)
    root, z1 = cut
    z0 = int(trace.moves.z0[call.first_move])
    outside = _outside(trace, call, root)
    lead = call.amounts["lead"].value
    return Thread(call.code, (call.block,), call.first_move, root, None, None, lead, taper, None, z0, z1, outside)


def _last_cut(trace: Trace, call: CycleCall) -> tuple[Fraction, int] | None:
    """Root radius in mm and end Z in ticks of a cycle's deepest, last pass: the foot is where its first threading move goes."""
    moves = trace.moves
    rows = range(call.first_move, call.first_move + call.moves)
    thread = [k for k in rows if moves.kind[k] == Kind.THREAD]
    if not thread or any(int(column[call.first_move]) for column in (moves.bx0, moves.bz0)):
        return None
    straight = [k for k in thread if not _pulls_out(trace, k)]
    last = (straight or thread)[-1]
    return Fraction(int(moves.x1[last]), TICKS_PER_MM), int(moves.z1[thread[-1]])


def _pulls_out(trace: Trace, row: int) -> bool:
    """Whether a threading move is a pull-out: as far in X as in Z."""
    moves = trace.moves
    return (
        row > 0
        and moves.kind[row - 1] == Kind.THREAD
        and abs(int(moves.x1[row] - moves.x0[row])) == abs(int(moves.z1[row] - moves.z0[row]))
    )


def _outside(trace: Trace, call: CycleCall, root: Fraction) -> bool:
    return Fraction(int(trace.moves.x0[call.first_move]), TICKS_PER_MM) > root


def _same_thread(one: Thread, other: Thread) -> bool:
    """Whether a pass is one more of the same thread."""
    return one.code == other.code == "G92" and (one.z0, one.z1, one.lead, one.outside) == (
        other.z0,
        other.z1,
        other.lead,
        other.outside,
    )


def _joined(one: Thread, other: Thread) -> Thread:
    pick = min if one.outside else max
    return Thread(
        one.code, (*one.blocks, *other.blocks), one.row, pick(one.root, other.root), None, one.first, one.lead, one.taper, None,
        one.z0, one.z1, one.outside,
    )  # fmt: skip


def turned_radii(trace: Trace, thread: Thread) -> list[tuple[Fraction, Fraction]]:
    """Where the surface under the thread is known: share of the way along it and the turned radius there in mm.

    It is the deepest of the cuts along Z made there before the thread, from the side that the thread is cut from: a bore under an outside
    thread is none of it.
    """
    rows = cutting(trace)
    rows = rows[(rows < thread.row) & (trace.moves.kind[rows] != Kind.THREAD)]
    found = []
    for share in _PLACES:
        z = thread.z0 + round((thread.z1 - thread.z0) * share)
        radii = [
            x for row in _crossing(trace, rows, z) if (x := _surface(trace, row, z, outside=thread.outside)) is not None
        ]
        if radii:
            ticks = min(radii) if thread.outside else max(radii)
            found.append((share, Fraction(round(ticks), TICKS_PER_MM)))
    return found


def _crossing(trace: Trace, rows: NDArray[np.int64], z: int) -> Iterator[int]:
    """Cuts with known ends that pass a Z."""
    m = trace.moves
    known = (m.bx0[rows] == 0) & (m.bx1[rows] == 0) & (m.bz0[rows] == 0) & (m.bz1[rows] == 0)
    passes = (np.minimum(m.z0[rows], m.z1[rows]) < z) & (np.maximum(m.z0[rows], m.z1[rows]) > z)
    yield from rows[known & passes].tolist()


def _surface(trace: Trace, row: int, z: int, *, outside: bool) -> float | None:
    """The radius that a cut leaves at a Z, in ticks; None where it is a cut from the other side."""
    moves = trace.moves
    x0, x1, z0, z1 = (int(column[row]) for column in (moves.x0, moves.x1, moves.z0, moves.z1))
    x = x0 + (x1 - x0) * (z - z0) / (
        z1 - z0
    )  # an arc by its chord: near enough for a thread's tolerance, on a cylinder exact
    clear = _clear_of(trace, row)
    if clear is None or clear == round(x):
        return None
    return x if (clear > x) == outside else None


def _clear_of(trace: Trace, row: int) -> int | None:
    """The X at which the tool leaves the work after a cut: where its next rapid takes it, or begins where that goes along Z."""
    moves = trace.moves
    later = np.flatnonzero(moves.kind[row + 1 :] == Kind.RAPID)
    if not len(later):
        return None
    k = row + 1 + int(later[0])
    if moves.bx0[k]:
        return None
    if moves.x1[k] != moves.x0[k] and not moves.bx1[k]:
        return int(moves.x1[k])
    return int(moves.x0[k])
