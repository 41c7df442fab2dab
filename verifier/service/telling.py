"""How pages tell times and weights."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import cache

from flask import g, url_for

from verifier import records
from verifier.findings import Weight, all_rules
from verifier.report import MARKS, SINCE_PROVEN
from verifier.service.context import shop


def moment(us: int | None) -> str:
    """A time in microseconds since 1970 by the clock on the wall where the service runs, to the minute, with its distance from UTC."""
    if us is None:
        return "–"
    there = datetime.fromtimestamp(us / 1_000_000, tz=UTC).astimezone()
    return f"{there:%Y-%m-%d %H:%M} {_zone(there.utcoffset())}"


def _zone(away: timedelta | None) -> str:
    """How far a clock is from UTC: UTC, UTC+1, UTC-3:30."""
    minutes = int(away.total_seconds() // 60) if away else 0
    if not minutes:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '-'}{hours}" + (f":{rest:02}" if rest else "")


def day(us: int | None) -> str:
    """A time in microseconds since 1970 as a date by the clock on the wall where the service runs."""
    return moment(us)[:10]


def weight_mark(weight: str) -> str:
    """The shape of a weight, so that it is never told by colour alone."""
    return MARKS[Weight(weight)]


def sentence(text: str) -> str:
    """A message as a sentence: a capital in front, a full stop behind."""
    plain = text.strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "!", "?", ":")) else ".") if plain else ""


def full_names(logins: Iterable[str]) -> str:
    """The people of these logins by their full names."""
    if "names" not in g:
        g.names = {person.login: person.full_name for person in records.people(shop())}
    return ", ".join(g.names.get(login, login) for login in logins)


def rule_page(name: str) -> str | None:
    """The address of the page of a rule, named alone or as a reason for a sign-off; None for what is no rule of this version."""
    name = name.removeprefix(SINCE_PROVEN)
    return url_for("rules.one", name=name) if name in _rules() else None


@cache
def _rules() -> frozenset[str]:
    return frozenset(rule.id for rule in all_rules())
