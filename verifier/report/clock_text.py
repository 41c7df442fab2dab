"""The time of a report in lines: the whole, what it is spent on, the sequences that change, and what the estimate rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap

from verifier.report.change_report import SequenceTime, Share, TimeReport

_ROWS = 8
"""So many sequences are told in lines."""


def time_lines(time: TimeReport, width: int, *, everything: bool = True) -> Iterator[str]:
    """The lines, without markup; what the estimate rests on only with `everything`, else how much that is."""
    if time.before_s is None:
        yield f"TIME about {time.after_s} s"
    else:
        yield f"TIME about {time.before_s} s before, {time.after_s} s now{_saved(time.saved_s)}"
    yield "  " + _shares(time.shares)
    rows = [row for row in time.sequences if row.before_s != row.after_s] if time.before_s is not None else []
    for row in rows[:_ROWS]:
        yield from _sequence(row)
    if len(rows) > _ROWS:
        yield f"  ... and {len(rows) - _ROWS} more sequences"
    if time.assumptions and not everything:
        yield f"  ... what it rests on: {len(time.assumptions)} points (shown with --all)"
    for text in time.assumptions if everything else ():
        yield from wrap(f"- {text}", width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)


def _sequence(row: SequenceTime) -> Iterator[str]:
    yield f"  {row.label}: {row.before_s or 'not there'} -> {row.after_s or 'not there'}{_saved(row.saved_s)}"
    if row.before_s is not None and row.after_s is not None:
        yield "    " + _shares([share for share in row.shares if share.before_s != share.after_s])


def _saved(seconds: str | None) -> str:
    if seconds is None or float(seconds) == 0:
        return ""
    return f" ({seconds.removeprefix('-')} s {'more' if seconds.startswith('-') else 'saved'})"


def _shares(shares: Iterable[Share]) -> str:
    """Shares in a line: "cutting 40.10 -> 38.00, air 12.00"."""
    told = []
    for share in shares:
        alone = share.before_s is None or share.before_s == share.after_s
        told.append(f"{share.name} {share.after_s if alone else f'{share.before_s} -> {share.after_s}'}")
    return ", ".join(told)
