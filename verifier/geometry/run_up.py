"""Waiting for the spindle: before which cuts the control stands until the speed is reached, and for how long.

The spindle changes its speed evenly: in proportion to the time that the profile gives from rest to its greatest speed and back (where it gives no
time back, to the same), through rest where the sense changes. Where a cut waits (the profile's choice), it waits for what the way to it does not
cover. Only rapids under constant surface speed cover: there the speed follows the diameter while they run. A start, and another speed in rev/min,
are waited for in full.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.speeds import SpeedLaw, speed_law
from verifier.geometry.travel import Floats, millimetres_of
from verifier.machines import Machine, Spindle

CHOICE = "cut-waits-for-speed"
_SENSE = {"forward": 1, "reverse": -1, None: 0}
_LEAST = 1e-9
Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class SpindleWait:
    """The cut that is move `at`, of `block`, waits so long for the spindle."""

    at: int
    block: int
    caller: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Waits:
    """All waits of a first pass; `unknown` are moves before which a run-up is not known; `covered` whether rapids took some of it."""

    waits: tuple[SpindleWait, ...]
    unknown: tuple[int, ...]
    covered: bool


class _Speeds:
    """How fast the spindle turns at both ends of some moves: signed rev/min, NaN where it is not known, 0 where it stands."""

    def __init__(self, trace: Trace, machine: Machine) -> None:
        self._moves = trace.moves
        laws = [speed_law(state, machine) for state in trace.states]
        numbers: dict[object, int] = {}
        keys = [(law, state.sense) for law, state in zip(laws, trace.states, strict=True)]
        self.law = np.array([numbers.setdefault(key, len(numbers)) for key in keys], np.int64)
        """For each state a number of its law and sense."""
        self.sense = np.array([_SENSE.get(state.sense, 2) for state in trace.states], np.int64)
        """1 forward, -1 reverse, 0 not established, 2 standing (or turning to a position only)."""
        self.surface = np.array([isinstance(law, SpeedLaw) and law.surface is not None for law in laws], np.bool_)
        self._limit = np.array([law.limit if isinstance(law, SpeedLaw) else np.nan for law in laws])
        self._slope = np.array([law.slope if isinstance(law, SpeedLaw) else 0.0 for law in laws])

    def at(self, rows: Rows, x: Rows, base: NDArray[np.int32]) -> Floats:
        state = self._moves.state[rows]
        radius = np.abs(millimetres_of(x[rows]))
        speed = np.minimum(self._limit[state], 1 / np.maximum(self._slope[state] * radius, 1e-12))
        speed = np.where(self.surface[state] & (base[rows] != 0), np.nan, speed)
        sense = self.sense[state]
        return np.where(np.abs(sense) == 1, speed * sense, np.where(sense == 2, 0.0, np.nan))


def spindle_waits(trace: Trace, machine: Machine, seconds: Floats, events: int) -> Waits:
    """The waits of the first pass. `seconds` of every move (those of rapids are looked at), `events`: how many events the first pass has."""
    moves = trace.moves
    cuts = np.flatnonzero(moves.kind[: trace.first_pass] != Kind.RAPID)
    if machine.choice(CHOICE) != "yes" or not len(cuts):
        return Waits((), (), covered=False)
    speeds = _Speeds(trace, machine)
    need = speeds.at(cuts, moves.x0, moves.bx0)
    have = np.concatenate(([0.0], speeds.at(cuts[:-1], moves.x1, moves.bx1)))
    law = speeds.law[moves.state[cuts]]
    before = np.concatenate(([-1], cuts[:-1]))
    stood = _stood(trace, speeds, before, cuts, events)
    have = np.where(stood, 0.0, have)
    turning = np.abs(speeds.sense[moves.state[cuts]]) == 1
    other = np.concatenate(([True], law[1:] != law[:-1])) | stood | (cuts - before > 1)
    full = _change(have, need, machine.spindle)
    cover = np.where(stood, 0.0, _cover(trace, speeds, before, cuts, seconds))
    left = np.where(turning & other, np.maximum(full - cover, 0.0), 0.0)
    found = [
        SpindleWait(int(cuts[k]), int(moves.block[cuts[k]]), int(moves.caller[cuts[k]]), float(left[k]))
        for k in np.flatnonzero(left > _LEAST).tolist()
    ]
    unknown = cuts[turning & other & np.isnan(full)]
    covered = bool((turning & other & (full > _LEAST) & (cover > 0)).any())
    return Waits(tuple(found), tuple(unknown.tolist()), covered)


def _change(have: Floats, need: Floats, spindle: Spindle) -> Floats:
    """Seconds from one speed to another (signed): what is lost on the way to rest or to the lower speed, and what is gained from there."""
    up, down = (float(whole / spindle.max_rpm) for whole in (spindle.start_seconds, seconds_down(spindle)))
    same = have * need >= 0
    less = np.where(same, np.maximum(np.abs(have) - np.abs(need), 0.0), np.abs(have))
    more = np.where(same, np.maximum(np.abs(need) - np.abs(have), 0.0), np.abs(need))
    return np.asarray(less * down + more * up, np.float64)


def seconds_down(spindle: Spindle) -> Fraction:
    """Seconds from the greatest speed to rest: the profile's, else as long as speeding up takes."""
    return spindle.start_seconds if spindle.stop_seconds is None else spindle.stop_seconds


def turning_speeds(trace: Trace, machine: Machine, rows: Rows) -> Floats:
    """How fast the spindle turns at the end of moves: signed rev/min, NaN where it is not known, 0 where it stands."""
    return _Speeds(trace, machine).at(rows, trace.moves.x1, trace.moves.bx1)


def standing(trace: Trace, state: int) -> bool:
    """Whether the spindle is told to stand, in a state of the trace."""
    return _SENSE.get(trace.states[state].sense, 2) == 2


def _stood(trace: Trace, speeds: _Speeds, before: Rows, cuts: Rows, events: int) -> NDArray[np.bool_]:
    """For each cut whether the spindle stood since the cut before: at its own start the first one stood."""
    still_moves = np.abs(speeds.sense[trace.moves.state[: trace.first_pass]]) != 1
    passed = np.concatenate(([0], np.cumsum(still_moves)))
    counted = passed[cuts] - passed[before + 1]
    quiet = np.array(sorted(e.at for e in trace.events[:events] if abs(int(speeds.sense[e.state])) != 1), np.int64)
    # An event after so many moves lies in front of the move of that number.
    by_event = np.searchsorted(quiet, cuts, "right") - np.searchsorted(quiet, before, "right")
    found = (counted > 0) | (by_event > 0)
    found[0] = True
    return np.asarray(found, np.bool_)


def _cover(trace: Trace, speeds: _Speeds, before: Rows, cuts: Rows, seconds: Floats) -> Floats:
    """Seconds of the rapids since the cut before that ran under the surface speed that this cut has."""
    last = trace.first_pass
    state = trace.moves.state
    law = speeds.law[state[:last]]
    number = np.searchsorted(cuts, np.arange(last), "left")
    inside = number < len(cuts)
    of_cut = law[cuts[np.minimum(number, len(cuts) - 1)]]
    counts = inside & (trace.moves.kind[:last] == Kind.RAPID) & (law == of_cut) & speeds.surface[state[:last]]
    found = np.bincount(number[counts], seconds[:last][counts], minlength=len(cuts))[: len(cuts)]
    return np.asarray(found, np.float64)
