"""What the property tests ask of a review."""

from __future__ import annotations

import re
from functools import cache

from verifier.compare import Comparison, compare, levels_of, side
from verifier.control import Trace, execute
from verifier.findings import Finding, Status
from verifier.machines import Machine, generic_lathe
from verifier.report import ChangeReport
from verifier.report import review as review_them
from verifier.source import read_source
from verifier.syntax import Program, parse


@cache
def lathe() -> Machine:
    return generic_lathe()


def program(data: bytes) -> Program:
    return parse(read_source(data))


def traced(data: bytes, machine: Machine | None = None) -> Trace:
    return execute(program(data), machine or lathe())


def review(old: bytes, new: bytes, machine: Machine | None = None, old_machine: Machine | None = None) -> ChangeReport:
    return review_them(old, new, machine=machine or lathe(), old_machine=old_machine)


def compared(old: bytes, new: bytes, machine: Machine | None = None, old_machine: Machine | None = None) -> Comparison:
    before, after = program(old), program(new)
    levels = tuple(sorted({*levels_of(before), *levels_of(after)}))
    machine = machine or lathe()
    return compare(side(before, old_machine or machine, levels=levels), side(after, machine, levels=levels))


def told(report: ChangeReport) -> list[Finding]:
    """The findings about the change: all but hazards that stood before."""
    return [finding for finding in report.findings if finding.status is not Status.STANDING]


def shown(old: bytes, new: bytes, report: ChangeReport) -> str:
    """A failed case for people: the verdict, what was told, and both programs."""
    lines = [f"verdict: {report.verdict} ({report.position})"]
    lines += [f"{f.status} {f.rule}: {f.title} at {[(p.side, p.line) for p in f.causes[:4]]}" for f in told(report)]
    lines += [f"touched: {touch.text}" for touch in report.touched]
    return "\n".join(
        [*lines, "--- old", re.sub(r"\r\n?", "\n", old.decode()), "--- new", re.sub(r"\r\n?", "\n", new.decode())]
    )
