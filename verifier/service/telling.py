"""How pages tell times and weights."""

from __future__ import annotations

from datetime import UTC, datetime

from verifier.findings import Weight
from verifier.report import MARKS


def moment(us: int | None) -> str:
    """A time in microseconds since 1970 as date and time in UTC, to the minute."""
    if us is None:
        return "–"
    return datetime.fromtimestamp(us / 1_000_000, tz=UTC).strftime("%Y-%m-%d %H:%M UTC")


def day(us: int | None) -> str:
    """A time in microseconds since 1970 as a date in UTC."""
    return moment(us)[:10]


def weight_mark(weight: str) -> str:
    """The shape of a weight, so that it is never told by colour alone."""
    return MARKS[Weight(weight)]
