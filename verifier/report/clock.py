"""The time estimate of a report: whole program and by sequence, before and after, what it is spent on, rounded to 0.01 s."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from verifier.compare import Side
from verifier.geometry import (
    BY_PART,
    BY_WORDS,
    Spent,
    Times,
    TurnedPart,
    cutting_moves,
    spent,
    spent_by_sequence,
)
from verifier.report.change_report import SequenceTime, Share, TimeReport

_CENT = 100


def time_report(old: Side | None, new: Side) -> TimeReport:
    """Seconds before and after. Sequences are matched by tool and offset, in order.

    Cutting and air are told apart where both sides have a swept part, else only what the words say: feed and rapid.
    """
    part, before_part = new.part(), old.part() if old is not None else None
    if part is None or (old is not None and before_part is None):
        part = before_part = None
    names = BY_WORDS if part is None else BY_PART
    after = _Clock.of(new, part)
    before = _Clock.of(old, before_part) if old is not None else None
    rows = _alone(after, names) if before is None else _matched(before, after, names)
    whole = _row("", before.whole if before else None, after.whole, names)
    assert whole.after_s is not None
    clocks = [after] if before is None else [before, after]
    return TimeReport(
        whole.before_s, whole.after_s, whole.saved_s, whole.shares, tuple(rows), tuple(_assumptions(clocks, part))
    )


Name = tuple[object, ...]
"""What a sequence is matched by: tool and offset, else its label; the first of them with the first."""


@dataclass(frozen=True, slots=True)
class _Clock:
    """One side: its times, what they are spent on, and (name, label, what it is spent on) of each sequence; moves that count as cuts unswept."""

    times: Times
    whole: Spent
    rows: tuple[tuple[Name, str, Spent], ...]
    unswept: int

    @staticmethod
    def of(side: Side, part: TurnedPart | None) -> _Clock:
        found = side.times()
        cuts = cutting_moves(side.trace, part)
        by_sequence = spent_by_sequence(found, side.trace, side.sequences, cuts)
        seen: dict[Name, int] = {}
        rows = []
        for sequence, value in zip(side.sequences, by_sequence, strict=True):
            name: Name = (sequence.tool, sequence.offset) if sequence.tool is not None else (sequence.label,)
            seen[name] = seen.get(name, 0) + 1
            rows.append(((*name, seen[name]), sequence.label, value))
        unswept = 0 if part is None else int(np.count_nonzero(part.unswept[: side.trace.first_pass]))
        return _Clock(found, spent(found, side.trace, cuts), tuple(rows), unswept)


def _alone(after: _Clock, names: tuple[str, ...]) -> Iterator[SequenceTime]:
    for _, label, value in after.rows:
        yield _row(label, None, value, names)


def _matched(before: _Clock, after: _Clock, names: tuple[str, ...]) -> Iterator[SequenceTime]:
    nothing = Spent(0, 0, 0)
    waiting = {name: (label, value) for name, label, value in before.rows}
    for name, label, value in after.rows:
        was = waiting.pop(name, None)
        if was is None:
            row = _row(label, nothing, value, names)
            yield SequenceTime(label, None, row.after_s, row.saved_s, _half(row.shares, before=False))
        else:
            yield _row(label if was[0] == label else f"{was[0]}, now {label}", was[1], value, names)
    for label, value in waiting.values():
        row = _row(label, value, nothing, names)
        yield SequenceTime(label, row.before_s, None, row.saved_s, _half(row.shares, before=True))


def _half(shares: tuple[Share, ...], *, before: bool) -> tuple[Share, ...]:
    return tuple(Share(s.name, s.before_s if before else None, None if before else s.after_s) for s in shares)


def _row(label: str, before: Spent | None, after: Spent, names: tuple[str, ...]) -> SequenceTime:
    now = _hundredths(after)
    was = _hundredths(before) if before is not None else None
    shares = tuple(Share(name, None if was is None else _shown(was[k]), _shown(now[k])) for k, name in enumerate(names))
    if was is None:
        return SequenceTime(label, None, _shown(sum(now)), None, shares)
    return SequenceTime(label, _shown(sum(was)), _shown(sum(now)), _shown(sum(was) - sum(now)), shares)


def _hundredths(of: Spent) -> tuple[int, ...]:
    """The three shares in 0.01 s, so that they make up the rounded whole: what rounding down leaves goes where most was cut off."""
    exact = [value * _CENT for value in (of.work, of.way, of.rest)]
    whole = [int(value) for value in exact]
    short = round(of.total * _CENT) - sum(whole)
    for k in sorted(range(3), key=lambda k: (whole[k] - exact[k], k))[:short]:
        whole[k] += 1
    return tuple(whole)


def _assumptions(clocks: list[_Clock], part: TurnedPart | None) -> Iterator[str]:
    texts: dict[str, None] = {}
    if part is None:
        texts[
            "without a stock in a setup sheet only moves at a feed, rapids and the rest are told apart, not cuts and air"
        ] = None
    else:
        texts[
            "a move cuts where the swept part loses material to it, or as a pass of a thread; standing is all that is no move"
        ] = None
    unswept = max(clock.unswept for clock in clocks)
    if unswept:
        texts[
            f"{unswept} move{'s' if unswept > 1 else ''} at a feed could not be swept and count{'s' if unswept == 1 else ''} as cutting"
        ] = None
    for clock in clocks:
        texts.update(dict.fromkeys(clock.times.assumptions))
        for item in clock.times.uncounted:
            texts[f"not counted: {item.reason}"] = None
    yield from texts


def _shown(hundredths: int) -> str:
    sign, size = ("-" if hundredths < 0 else ""), abs(hundredths)
    return f"{sign}{size // _CENT}.{size % _CENT:02d}"
