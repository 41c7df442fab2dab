"""The time estimate of a report: whole program and by sequence, before and after, rounded to 0.01 s."""

from __future__ import annotations

from collections.abc import Iterator

from verifier.compare import Side
from verifier.geometry import Times, sequence_times, times
from verifier.report.change_report import SequenceTime, TimeReport


def time_report(old: Side | None, new: Side) -> TimeReport:
    """Seconds before and after. Sequences are matched by their label, in order."""
    after = times(new.trace, new.machine)
    rows_new = list(_rows(new, after))
    if old is None:
        rows = [SequenceTime(label, None, seconds) for label, seconds in rows_new]
        return TimeReport(None, _shown(after.total), tuple(rows), _assumptions(after))
    before = times(old.trace, old.machine)
    rows_old = list(_rows(old, before))
    return TimeReport(
        _shown(before.total), _shown(after.total), tuple(_matched(rows_old, rows_new)), _assumptions(before, after)
    )


def _rows(one: Side, found: Times) -> Iterator[tuple[str, str]]:
    seconds = sequence_times(found, one.trace, one.sequences)
    for sequence, value in zip(one.sequences, seconds, strict=True):
        yield sequence.label, _shown(float(value))


def _matched(old: list[tuple[str, str]], new: list[tuple[str, str]]) -> Iterator[SequenceTime]:
    waiting: dict[str, list[str]] = {}
    for label, seconds in old:
        waiting.setdefault(label, []).append(seconds)
    for label, seconds in new:
        partners = waiting.get(label)
        yield SequenceTime(label, partners.pop(0) if partners else None, seconds)
    for label, partners in waiting.items():
        for seconds in partners:
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
