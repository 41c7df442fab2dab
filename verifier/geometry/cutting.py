"""Seconds of every move of a trace, and in words why a move has none.

Each kind of move under each state is timed in columns at its programmed feed; then the cuts are taken in a row, with speeding up and slowing
down, and what holds their way up between two of them breaks the row.
"""

from __future__ import annotations

from fractions import Fraction
from math import pi

import numpy as np
from numpy.typing import NDArray

from verifier.control import InForce, Kind, Moves, Trace
from verifier.geometry.pacing import Row, row_seconds
from verifier.geometry.speeds import SpeedLaw, speed_law
from verifier.geometry.travel import Floats, Slides, along_line, millimetres_of, rapid_seconds, slides
from verifier.machines import Machine

Rows = NDArray[np.int64]
_IN_NO_TIME = ("variable", "system-read")
"""Events at which the slides do not stop."""


class MoveClock:
    """Times the moves of one trace. `seconds[k]` is 0 where `why[k]` names a reason (an index into `reasons`; 0 = counted)."""

    def __init__(self, trace: Trace, machine: Machine) -> None:
        self._trace = trace
        self._machine = machine
        self._slides = slides(machine)
        count = len(trace.moves)
        self.seconds: Floats = np.zeros(count)
        self.why: NDArray[np.int32] = np.zeros(count, np.int32)
        self.reasons: list[str] = [""]
        self.without_clamp = False
        self.beyond_rapid = False
        # Of cuts that speed up and slow down; what has no length here stands outside their rows.
        self._length: Floats = np.zeros(count)
        self._ends: Floats = np.zeros((count, 2))
        self._acceleration: Floats = np.ones(count)
        self._heading: Floats = np.zeros((count, 4))
        self._run(trace.moves)

    def paced(self, waits: Rows) -> Floats:
        """Seconds of every move with the speeding up and slowing down of the cuts; before the moves `waits` the way stands still."""
        rows = np.flatnonzero(self._length > 0)
        through = self._through(rows, waits)
        row = Row(
            self._length[rows],
            self.seconds[rows],
            self._ends[rows, 0],
            self._ends[rows, 1],
            self._acceleration[rows],
            self._heading[rows],
            through,
        )
        found = self.seconds.copy()
        found[rows] = row_seconds(row, self._slides)
        return found

    def _through(self, rows: Rows, waits: Rows) -> NDArray[np.bool_]:
        """For each cut but the last whether the way goes on to the next one: nothing between them, no exact stop, and one place."""
        moves, trace = self._trace.moves, self._trace
        one, other = rows[:-1], rows[1:]
        breaks = (moves.kind == Kind.RAPID) | (moves.kind == Kind.THREAD) | (self.why > 0)
        passed = np.concatenate(([0], np.cumsum(breaks)))
        stops = np.array(sorted(e.at for e in trace.events if e.kind not in _IN_NO_TIME), np.int64)
        stops = np.concatenate((stops, waits))
        stops.sort()
        exact = np.array([state.path_mode == "exact-stop" for state in trace.states], np.bool_)[moves.state]
        numbers: dict[object, int] = {}
        around = [(state.sense, state.coolant, state.auxiliaries) for state in trace.states]
        switched = np.array([numbers.setdefault(key, len(numbers)) for key in around], np.int64)[moves.state]
        ends, starts = ("x1", "z1", "bx1", "bz1"), ("x0", "z0", "bx0", "bz0")
        pairs = [
            getattr(moves, end)[one] == getattr(moves, start)[other] for end, start in zip(ends, starts, strict=True)
        ]
        joined = np.logical_and.reduce(pairs)
        return np.asarray(
            joined
            & (passed[one] == passed[other])
            & (np.searchsorted(stops, one, "right") == np.searchsorted(stops, other, "right"))
            & ~(exact[one] | exact[other])
            & (switched[one] == switched[other]),
            np.bool_,
        )

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
        if not (isinstance(state.feed, Fraction) and state.feed > 0 and state.feed_mode is not None):
            self._not(rows[length > 0], _no_feed(state))
            return
        found = self._fed(kind, state, moves, rows, arcs, length)
        if found is None:
            return
        moving = (length > 0) & (self.why[rows] == 0)
        rows, dx, dz, length = rows[moving], dx[moving], dz[moving], length[moving]
        seconds, ends = found[0][moving], found[1][moving]
        if kind is Kind.THREAD:
            # The slides follow the spindle: how they come up to speed is the run-in of the thread, and no time of its own.
            least = length / along_line(np.abs(dx), np.abs(dz), self._slides)[0]
            self.beyond_rapid |= bool((seconds < least).any())
            self.seconds[rows] = np.maximum(seconds, least)
        else:
            self._pace(rows, seconds, ends, length, _Way(dx, dz) if arcs is None else arcs.part(moving))

    def _fed(
        self, kind: Kind, state: InForce, moves: Moves, rows: Rows, arcs: _Arcs | None, length: Floats
    ) -> tuple[Floats, Floats] | None:
        """Seconds by the feed, and the feed at both ends in mm/s; None where the spindle speed that they rest on is not known."""
        feed = float(state.feed)  # type: ignore[arg-type]
        if state.feed_mode == "per-minute":
            return length * (60 / feed), np.full((len(rows), 2), feed / 60)
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
        ends = [law.at_radii(millimetres_of(x[rows])) * (feed / 60) for x in (moves.x0, moves.x1)]
        return np.asarray(turns * inverse * 60, np.float64), np.stack(ends, 1)

    def _pace(self, rows: Rows, seconds: Floats, ends: Floats, length: Floats, way: _Way | _Arcs) -> None:
        """No slide goes faster than its rapid, nor round an arc faster than it can be drawn from its line; the rest is for `paced`."""
        speed, acceleration = way.limits(self._slides)
        least = length / speed
        self.beyond_rapid |= bool((seconds < least).any())
        self.seconds[rows] = np.maximum(seconds, least)
        self._ends[rows] = np.minimum(ends, speed[:, None])
        self._length[rows] = length
        self._acceleration[rows] = acceleration
        self._heading[rows] = way.heading()


class _Way:
    """Straight moves, by their ways along X (radius) and Z in mm."""

    def __init__(self, dx: Floats, dz: Floats) -> None:
        self._dx, self._dz = dx, dz

    def limits(self, on: Slides) -> tuple[Floats, Floats]:
        return along_line(np.abs(self._dx), np.abs(self._dz), on)

    def heading(self) -> Floats:
        unit = np.stack((self._dx, self._dz), 1) / np.hypot(self._dx, self._dz)[:, None]
        return np.concatenate((unit, unit), axis=1)


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

    def part(self, kept: NDArray[np.bool_]) -> _Arcs:
        """Some of the arcs."""
        other = _Arcs.__new__(_Arcs)
        for name in ("centre", "radius", "first", "sweep", "length"):
            setattr(other, name, getattr(self, name)[kept])
        return other

    def limits(self, on: Slides) -> tuple[Floats, Floats]:
        """The slower slide's rapid and acceleration, taken for both; and v^2 / r may not ask for more acceleration than that."""
        acceleration = min(on.acceleration_x, on.acceleration_z)
        speed = np.minimum(np.sqrt(acceleration * self.radius), min(on.rapid_x, on.rapid_z))
        return speed, np.full_like(speed, acceleration)

    def heading(self) -> Floats:
        """The tangents: X goes by the cosine of the angle, Z by its sine."""
        sense = np.sign(self.sweep)
        angles = (self.first, self.first + self.sweep)
        return np.stack([part for a in angles for part in (-sense * np.sin(a), sense * np.cos(a))], 1)

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
