"""The time estimate of a report: whole program and by sequence, before and after, rounded to 0.01 s."""

from __future__ import annotations

from collections.abc import Iterator

from verifier.compare import Side
from verifier.geometry import Times, sequence_times, times
from verifier.report.change_report import SequenceTime, TimeReport


def time_report(old: Side | None, new: Side) -> TimeReport:
    """Seconds before and after. Sequences are matched by tool and offset, in order."""
    after = times(new.trace, new.machine)
    rows_new = list(_rows(new, after))
    if old is None:
        rows = [SequenceTime(label, None, seconds) for _, label, seconds in rows_new]
        return TimeReport(None, _shown(after.total), tuple(rows), _assumptions(after))
    before = times(old.trace, old.machine)
    rows_old = list(_rows(old, before))
    return TimeReport(
        _shown(before.total), _shown(after.total), tuple(_matched(rows_old, rows_new)), _assumptions(before, after)
    )


Row = tuple[tuple[object, ...], str, str]
"""What a sequence is matched by (tool and offset, else its label; the first of them with the first), its label, its seconds."""


def _rows(one: Side, found: Times) -> Iterator[Row]:
    seconds = sequence_times(found, one.trace, one.sequences)
    seen: dict[tuple[object, ...], int] = {}
    for sequence, value in zip(one.sequences, seconds, strict=True):
        name = (sequence.tool, sequence.offset) if sequence.tool is not None else (sequence.label,)
        seen[name] = seen.get(name, 0) + 1
        yield (*name, seen[name]), sequence.label, _shown(float(value))


def _matched(old: list[Row], new: list[Row]) -> Iterator[SequenceTime]:
    waiting = {name: (label, seconds) for name, label, seconds in old}
    for name, label, seconds in new:
        was = waiting.pop(name, None)
        told = label if was is None or was[0] == label else f"{was[0]}, now {label}"
        yield SequenceTime(told, was[1] if was else None, seconds)
    for label, seconds in waiting.values():
        yield SequenceTime(label, seconds, None)


def _assumptions(*found: Times) -> tuple[str, ...]:
    texts: dict[str, None] = {}
    for entry in found:
        texts.update(dict.fromkeys(entry.assumptions))
        for item in entry.uncounted:
            texts[f"not counted: {item.reason}"] = None
    return tuple(texts)


def _shown(seconds: float) -> str:
    return f"{seconds:.2f}"
