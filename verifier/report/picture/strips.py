"""Strips along time: spindle speed, feed and power of base and revision, over the same clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from verifier.compare import Side
from verifier.control import Kind, Trace
from verifier.geometry import power_at_cut, turns
from verifier.report.picture import paper
from verifier.report.picture.paper import element, line, paths, plain, rectangle, text

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
Amounts = TypeVar("Amounts", float, Floats)
HEIGHT, _GAP = 74.0, 44.0
_POWER = 2
"""The place of the power among the strips."""
_MOST = 4000
"""So many steps of a strip are drawn at most; of more, each column of the page keeps its lowest and highest."""


@dataclass(frozen=True, slots=True)
class Course:
    """One side along time: for each move when it begins and ends (s), and speed (rev/min), feed (mm/min) and power at the cut (kW) at both
    ends; NaN: not known. `limit` is the most power that the spindle brings to the cut (None: not known).
    """

    begin: Floats
    end: Floats
    speed: Floats
    feed: Floats
    power: Floats
    limit: float | None
    total: float
    starts: tuple[tuple[str, float], ...]
    """Label and beginning of each sequence."""


def course_of(side: Side) -> Course:
    """The first pass of a side along time."""
    trace = side.trace
    clock = side.times()
    count = trace.first_pass
    waits = np.zeros(count + 1)
    last = next((k for k, event in enumerate(trace.events) if event.kind == "repeat"), len(trace.events))
    for k, event in enumerate(trace.events[:last]):
        waits[min(event.at, count)] += clock.events[k]
    for wait in clock.waits:
        waits[min(wait.at, count)] += wait.seconds
    end = np.cumsum(clock.moves[:count] + waits[:count])
    begin = end - clock.moves[:count]
    moves, speed = trace.moves, turns(trace, side.machine).ends[:count]
    feed = _by_minute(trace, speed)
    feed[moves.kind[:count] == Kind.RAPID] = np.nan
    load = side.load()
    power = load.power[:count] if load is not None else np.full((count, 2), np.nan)
    return Course(begin, end, speed, feed, power, _limit(side), clock.total, _starts(side, begin))


def _limit(side: Side) -> float | None:
    """The power at the spindle's greatest speed: below its base speed, or by its torque, it has less."""
    most = float(power_at_cut(side.machine.spindle, np.array([float(side.machine.spindle.max_rpm)]))[0])
    return None if np.isnan(most) else most


def _by_minute(trace: Trace, speed: Floats) -> Floats:
    """Feed in mm/min at both ends of these moves, from the feed in force and the speed there."""
    at = trace.moves.state[: len(speed)]
    amounts = [float(state.feed) if isinstance(state.feed, Fraction) else np.nan for state in trace.states]
    turning = np.array([state.feed_mode != "per-minute" for state in trace.states], np.bool_)[at]
    amount = np.array(amounts, np.float64)[at]
    return np.asarray(amount[:, None] * np.where(turning[:, None], speed, 1.0), np.float64)


def _starts(side: Side, begin: Floats) -> tuple[tuple[str, float], ...]:
    blocks = side.trace.moves.block[: len(begin)]
    found = []
    for sequence in side.sequences:
        rows = np.flatnonzero((blocks >= sequence.first) & (blocks < sequence.end))
        if len(rows):
            found.append((sequence.label, float(begin[rows[0]])))
    return tuple(found)


Values = Callable[[Course], Floats]


def strips(old: Course | None, new: Course, units: str, left: float, top: float, width: float) -> tuple[str, float]:
    """The strips as elements, and the lower edge of the last one. Power only where some of it is known and not nothing."""
    total = max(new.total, old.total if old else 0.0, 1e-3)
    inch = units == "inch"
    shown: tuple[tuple[str, Values], ...] = (
        ("Spindle speed, rev/min", lambda c: c.speed),
        (f"Feed, {'in' if inch else 'mm'}/min (cuts)", lambda c: c.feed / (25.4 if inch else 1.0)),
    )
    if has_power(old, new):
        shown += (("Power at the cut, kW", lambda c: c.power),)
    found: list[str] = []
    for k, (name, values) in enumerate(shown):
        place = _Strip(left, top + k * (HEIGHT + _GAP), width, total, _greatest([values(c) for c in (old, new) if c]))
        found += place.frame(name, new.starts if not k else ())
        alike = _alike(old, new, values)
        if old is not None:
            found.append(
                place.drawn(old, values(old), ~alike[0], stroke=paper.OLD, stroke_width=3.5, stroke_dasharray="1.1 2.6")
            )
        found.append(place.drawn(new, values(new), ~alike[1], stroke=paper.NEW, stroke_width=2))
        found.append(place.drawn(new, values(new), alike[1], stroke=paper.INK, stroke_width=0.9))
        if k == _POWER and new.limit is not None and new.limit <= 1.08 * place.greatest:
            found += place.limit(new.limit)
    return "".join(found), top + len(shown) * (HEIGHT + _GAP) - _GAP


def differ(old: Course | None, new: Course) -> bool:
    """Whether anything of the two stands otherwise along time."""
    if old is None:
        return False
    pairs = ((getattr(old, name), getattr(new, name)) for name in ("begin", "end", "speed", "feed", "power"))
    return any(a.shape != b.shape or not np.allclose(a, b, rtol=0, atol=0.005, equal_nan=True) for a, b in pairs)


def has_power(old: Course | None, new: Course) -> bool:
    """Whether there is power to be drawn."""
    return any(bool((np.nan_to_num(course.power) > 0).any()) for course in (old, new) if course is not None)


def _alike(old: Course | None, new: Course, values: Values) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each move of both sides whether the other has the same values at the same time. Alone, a program is alike to itself."""
    if old is None:
        return np.zeros(0, np.bool_), np.ones(len(new.begin), np.bool_)
    keys = []
    for one in (old, new):
        shown = np.column_stack((one.begin, one.end, values(one)))
        rounded = np.round(np.nan_to_num(shown, nan=-1.0), 2) + 0.0  # no row of zeros has two signs
        rows, size = rounded.tobytes(), rounded.shape[1] * rounded.itemsize
        keys.append([rows[k : k + size] for k in range(0, len(rows), size)])
    there, here = set(keys[0]), set(keys[1])
    return np.array([key in here for key in keys[0]], np.bool_), np.array([key in there for key in keys[1]], np.bool_)


def _greatest(values: list[Floats]) -> float:
    known = [float(np.nanmax(v)) for v in values if v.size and not np.isnan(v).all()]
    return max([*known, 1e-9])


@dataclass(frozen=True, slots=True)
class _Strip:
    left: float
    top: float
    width: float
    total: float
    greatest: float

    def at(self, seconds: float, value: float) -> tuple[float, float]:
        return self._across(seconds), self._down(value)

    def _across(self, seconds: Amounts) -> Amounts:
        return self.left + self.width * seconds / self.total

    def _down(self, value: Amounts) -> Amounts:
        return self.top + HEIGHT * (1 - value / (1.08 * self.greatest))

    def frame(self, name: str, starts: tuple[tuple[str, float], ...]) -> Iterator[str]:
        bottom = self.top + HEIGHT
        yield rectangle(self.left, self.top, self.width, HEIGHT, fill=paper.PAPER, stroke=paper.FAINT, stroke_width=0.6)
        for seconds in paper.ticks(0, self.total, 10):
            x, _ = self.at(seconds, 0)
            yield line((x, bottom), (x, bottom + 4), stroke=paper.INK, stroke_width=0.7)
            yield text((x, bottom + 15), plain(seconds), size=10, anchor="middle")
        for value in paper.ticks(0, self.greatest, 3):
            _, y = self.at(0, value)
            yield line((self.left - 4, y), (self.left, y), stroke=paper.INK, stroke_width=0.7)
            yield text((self.left - 7, y + 3.5), plain(value), size=10, anchor="end")
        yield text((self.left, self.top - 6), name, size=11, weight="bold")
        yield text((self.left + self.width, bottom + 27), "s", size=10, anchor="end", fill=paper.ZONE)
        beyond = 0.0
        for label, seconds in starts:
            x, _ = self.at(seconds, 0)
            yield line((x, self.top), (x, bottom), stroke=paper.FAINT, stroke_width=0.6, stroke_dasharray="2 2")
            if x > beyond and x > self.left + 190:
                yield text((x + 3, self.top - 5), label, size=10, fill=paper.ZONE)
                beyond = x + 8 + 7 * len(label)

    def limit(self, value: float) -> Iterator[str]:
        """A line across at what the machine has, and its name."""
        x, y = self.at(self.total, value)
        yield line((self.left, y), (x, y), stroke=paper.INK, stroke_width=1.2, stroke_dasharray="9 3 2 3")
        yield text((x - 4, y - 4), f"spindle {plain(value)} kW", size=10, anchor="end", weight="bold")

    def drawn(self, course: Course, values: Floats, wanted: NDArray[np.bool_], **look: object) -> str:
        """The values of the wanted moves as a line with gaps where none is known; very many are thinned to what the page can show."""
        rows = np.flatnonzero(wanted & ~np.isnan(values).any(axis=1) & (course.end > course.begin))
        rows = _thinned(rows, course.begin, values, self.total)
        if not len(rows):
            return ""
        seconds = np.stack((course.begin[rows], course.end[rows]), 1)
        points = np.stack((self._across(seconds), self._down(values[rows])), 2).reshape(-1, 2).tolist()
        gaps = np.flatnonzero(np.diff(rows) > 1) + 1
        parts = [points[2 * first : 2 * last] for first, last in pairwise((0, *gaps.tolist(), len(rows)))]
        return element("path", d="".join(paths(parts)), fill="none", stroke_linejoin="round", **look)


def _thinned(
    rows: Rows,
    begin: Floats,
    values: Floats,
    total: float,
) -> Rows:
    if len(rows) <= _MOST:
        return rows
    column = (begin[rows] / total * (_MOST // 2)).astype(np.int64)
    order = np.lexsort((values[rows, 0], column))
    edges = np.flatnonzero(np.diff(column[order]))
    keep = np.concatenate((order[:1], order[edges], order[edges + 1], order[-1:]))
    return rows[np.unique(keep)]
