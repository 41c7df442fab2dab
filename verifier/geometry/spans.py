"""Stretches of Z, each away from the others."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from math import inf


class Spans:
    """A set of stretches from a lesser Z to a greater one, in mm; such as touch are one."""

    def __init__(self, stretches: Iterable[tuple[float, float]] = ()) -> None:
        self._from: list[float] = []
        self._to: list[float] = []
        for low, high in stretches:
            self.add(low, high)

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return zip(self._from, self._to, strict=True)

    def __len__(self) -> int:
        return len(self._from)

    @property
    def length(self) -> float:
        """All of them together, mm."""
        return sum(self._to) - sum(self._from)

    def add(self, low: float, high: float) -> None:
        """Take in one more stretch."""
        first, behind = bisect_left(self._to, low), bisect_right(self._from, high)
        if first < behind:
            low, high = min(low, self._from[first]), max(high, self._to[behind - 1])
        self._from[first:behind] = [low]
        self._to[first:behind] = [high]

    def touch(self, low: float, high: float) -> bool:
        """Whether one of them has a place in common with a stretch, be it an end."""
        k = bisect_left(self._to, low)
        return k < len(self._from) and self._from[k] <= high

    def common(self, other: Spans) -> Spans:
        """What of them lies in stretches of another set, too."""
        return Spans(piece for low, high in other for piece in self.within(low, high))

    def without(self, other: Spans) -> Spans:
        """What of them lies in no stretch of another set."""
        ends = [-inf, *(end for stretch in other for end in stretch), inf]
        return Spans(piece for low, high in zip(ends[::2], ends[1::2], strict=True) for piece in self.within(low, high))

    def within(self, low: float, high: float) -> Spans:
        """What of them lies between two places."""
        return Spans((max(a, low), min(b, high)) for a, b in self if a < high and b > low)
