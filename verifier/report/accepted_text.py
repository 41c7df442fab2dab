"""Accepted hazards in words: one line that counts them, and each with who accepted it, when and why."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from verifier.report.change_report import ChangeReport
from verifier.source import visible


def counted(n: int) -> str:
    """The one line: how many there are."""
    return f"{n} standing hazard{'s' if n != 1 else ''} accepted earlier"


def moment_of(at: str) -> str:
    """A time of the report for people: "2026-03-01 07:15 UTC"."""
    return f"{at[:10]} {at[11:16]} UTC"


def accepted_lines(report: ChangeReport, width: int, *, everything: bool) -> Iterable[str]:
    """Their count in one line; `everything` tells each of them."""
    if not report.accepted:
        return
    yield ""
    more = "" if everything else " (shown with --all)"
    yield f"{counted(len(report.accepted))}{more}"
    for finding, acceptance in report.accepted if everything else ():
        place = f"line {finding.causes[0].line}: " if finding.causes else ""
        by = f"acceptance {acceptance.number} by {acceptance.by}, {moment_of(acceptance.at)}: {acceptance.reason}"
        text = f"- {finding.weight}, {place}{finding.title}  <{finding.rule}>"
        yield from wrap(visible(text), width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
        yield from wrap(visible(by), width, initial_indent="    ", subsequent_indent="    ", break_on_hyphens=False)
