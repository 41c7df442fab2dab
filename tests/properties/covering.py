"""Promise 2 as a check: every block that is not the same on both sides is covered by a finding or is listed as a wording change."""

from __future__ import annotations

from tests.properties.reviewing import lathe, program
from verifier.compare import Edits, find_edits
from verifier.control import sequences
from verifier.machines import Machine
from verifier.report import ChangeReport


def edits_between(old: bytes, new: bytes, machine: Machine | None = None) -> Edits:
    """The edits that a review of these two numbers its findings by."""
    before, after = program(old), program(new)
    machine = machine or lathe()
    return find_edits(before, after, sequences(before, machine), sequences(after, machine))


def assert_nothing_dropped(old: bytes, new: bytes, report: ChangeReport, machine: Machine | None = None) -> None:
    """Every block of both sides stands in the rows of the report once, and those that are not the same are accounted for."""
    edits = edits_between(old, new, machine)
    covered = {k for finding in report.findings for k in finding.edits}
    listed = {(p.side, p.block) for entry in report.wording for p in (entry.old, entry.new) if p is not None}
    for name, count, owner in (
        ("old", len(program(old).blocks), edits.of_old),
        ("new", len(program(new).blocks), edits.of_new),
    ):
        rows = [(getattr(row, name), row.kind) for row in report.blocks if getattr(row, name) is not None]
        assert sorted(block for block, _ in rows) == list(range(count))
        for block, kind in rows:
            if kind != "same" and (name, block) not in listed:
                assert int(owner[block]) in covered, f"{name} block {block} ({kind}) is nowhere in the report"
