"""Seconds of every move of a trace, and in words why a move has none."""

from __future__ import annotations

from fractions import Fraction
from math import pi

import numpy as np
from numpy.typing import NDArray

from verifier.control import InForce, Kind, Moves, Trace
from verifier.geometry.speeds import SpeedLaw, speed_law
from verifier.geometry.travel import Floats, along_line, millimetres_of, rapid_seconds, rest_to_rest, slides
from verifier.machines import Machine

Rows = NDArray[np.int64]


class MoveClock:
    """Times the moves of one trace. `seconds[k]` is 0 where `why[k]` names a reason (an index into `reasons`; 0 = counted)."""

    def __init__(self, trace: Trace, machine: Machine) -> None:
        self._trace = trace
        self._machine = machine
        self._slides = slides(machine)
        self.seconds: Floats = np.zeros(len(trace.moves))
        self.why: NDArray[np.int32] = np.zeros(len(trace.moves), np.int32)
        self.reasons: list[str] = [""]
        self.without_clamp = False
        self.beyond_rapid = False
        self._run(trace.moves)

    def _run(self, moves: Moves) -> None:
        if not len(moves):
            return
        group = moves.state.astype(np.int64) * len(Kind) + moves.kind
        order = np.argsort(group, kind="stable")
        for rows in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
            first = int(rows[0])
            kind, state = Kind(int(moves.kind[first])), self._trace.states[int(moves.state[first])]
            sized = self._sized(moves, rows)
            if kind is Kind.RAPID:
                self.seconds[sized] = rapid_seconds(*self._ways(moves, sized), self._slides)
            else:
                self._cut(kind, state, moves, sized)

    def _not(self, rows: Rows, reason: str) -> None:
        if len(rows):
            if reason not in self.reasons:
                self.reasons.append(reason)
            self.why[rows] = self.reasons.index(reason)

    def _sized(self, moves: Moves, rows: Rows) -> Rows:
        """The rows whose length is known: from an unknown place only a way to the same unknown place has one."""
        unknown = (moves.bx0[rows] != moves.bx1[rows]) | (moves.bz0[rows] != moves.bz1[rows])
        self._not(rows[unknown], "its start or its end is a place that only the machine knows")
        return np.asarray(rows[~unknown], np.int64)

    @staticmethod
    def _ways(moves: Moves, rows: Rows) -> tuple[Floats, Floats]:
        return millimetres_of(moves.x1[rows] - moves.x0[rows]), millimetres_of(moves.z1[rows] - moves.z0[rows])

    def _cut(self, kind: Kind, state: InForce, moves: Moves, rows: Rows) -> None:
        if kind.arc:
            # A centre that could not be computed is recorded as 0, 0 together with the words that gave it.
            lost = (moves.cx[rows] == 0) & (moves.cz[rows] == 0) & (moves.remark[rows] > 0)
            self._not(rows[lost], "the centre of the arc is not known")
            rows = rows[~lost]
        dx, dz = self._ways(moves, rows)
        arcs = _Arcs(moves, rows, kind) if kind.arc else None
        length = arcs.length if arcs else np.hypot(dx, dz)
        moving = length > 0
        if isinstance(state.feed, Fraction) and state.feed > 0 and state.feed_mode is not None:
            seconds = self._fed(kind, state, moves, rows, arcs, length)
        else:
            self._not(rows[moving], _no_feed(state))
            return
        if seconds is None:
            return
        seconds = self._held_back(state, np.where(moving, seconds, 0.0), length, dx, dz, straight=not kind.arc)
        counted = self.why[rows] == 0
        self.seconds[rows[counted]] = seconds[counted]

    def _fed(
        self, kind: Kind, state: InForce, moves: Moves, rows: Rows, arcs: _Arcs | None, length: Floats
    ) -> Floats | None:
        """Seconds by the feed; None where the spindle speed that they rest on is not known."""
        feed = float(state.feed)  # type: ignore[arg-type]
        if state.feed_mode == "per-minute":
            return length * (60 / feed)
        law = speed_law(state, self._machine)
        if isinstance(state.lead_change, str):
            law = "by how much the lead changes is a value that only the machine knows"
        if isinstance(law, str):
            self._not(rows[length > 0], law)
            return None
        if law.surface is not None:
            unknown = (moves.bx0[rows] != 0) & (length > 0)
            self._not(rows[unknown], "the diameter, and with it the spindle speed, is known only to the machine")
            self.without_clamp |= bool((length > 0).any()) and not law.clamped
        inverse = arcs.inverse(law) if arcs else _line_inverse(law, moves, rows)
        way = length if kind is not Kind.THREAD else np.maximum(*map(np.abs, self._ways(moves, rows)))
        turns = way / feed
        if isinstance(state.lead_change, Fraction) and state.lead_change:
            # way = feed * turns + change * turns^2 / 2; a lead that falls to nothing ends where it does.
            change = float(state.lead_change)
            turns = (np.sqrt(np.maximum(feed * feed + 2 * change * way, 0.0)) - feed) / change
        return np.asarray(turns * inverse * 60, np.float64)

    def _held_back(
        self, state: InForce, seconds: Floats, length: Floats, dx: Floats, dz: Floats, *, straight: bool
    ) -> Floats:
        """No slide goes faster than its rapid; in exact stop mode every move begins and ends at rest."""
        if straight:
            speed, acceleration = along_line(np.abs(dx), np.abs(dz), self._slides)
        else:
            on = self._slides
            speed = np.full_like(length, min(on.rapid_x, on.rapid_z))
            acceleration = np.full_like(length, min(on.acceleration_x, on.acceleration_z))
        least = length / speed
        # Arcs are only held to the slower slide's rate as a rough bound, so they are not lengthened by it.
        if straight and bool((seconds < least).any()):
            self.beyond_rapid = True
            seconds = np.maximum(seconds, least)
        if state.path_mode != "exact-stop":
            return seconds
        moving = seconds > 0
        pace = np.where(moving, length, 1.0) / np.where(moving, seconds, 1.0)
        return np.where(moving, rest_to_rest(length, pace, acceleration), 0.0)


class _Arcs:
    """The circle arcs of some rows, in mm and radians; angles from +X towards +Z, which is clockwise."""

    def __init__(self, moves: Moves, rows: Rows, kind: Kind) -> None:
        self.centre = millimetres_of(moves.cx[rows])
        x0, x1 = (millimetres_of(column[rows] - moves.cx[rows]) for column in (moves.x0, moves.x1))
        z0, z1 = (millimetres_of(column[rows] - moves.cz[rows]) for column in (moves.z0, moves.z1))
        self.radius = (np.hypot(x0, z0) + np.hypot(x1, z1)) / 2
        self.first = np.arctan2(z0, x0)
        sense = 1.0 if kind is Kind.ARC_CW else -1.0
        turn = np.mod((np.arctan2(z1, x1) - self.first) * sense, 2 * pi)
        closed = (moves.x0[rows] == moves.x1[rows]) & (moves.z0[rows] == moves.z1[rows])
        self.sweep = sense * np.where(closed, 2 * pi, turn)
        self.length = self.radius * np.abs(self.sweep)

    def inverse(self, law: SpeedLaw) -> Floats:
        """The mean minutes of one revolution along each arc (0 for an arc of no length)."""
        real = self.length > 0
        radius = np.where(real, self.radius, 1.0)
        sweep = np.where(real, self.sweep, 1.0)
        return np.where(real, law.along_arc(self.centre, radius, self.first, sweep), 0.0)


def _line_inverse(law: SpeedLaw, moves: Moves, rows: Rows) -> Floats:
    return law.along_line(millimetres_of(moves.x0[rows]), millimetres_of(moves.x1[rows]))


def _no_feed(state: InForce) -> str:
    if state.feed_mode is None:
        return "no feed mode is established"
    if state.feed is None:
        return "no feed is established"
    return "the feed is a value that only the machine knows" if isinstance(state.feed, str) else "the feed is zero"
