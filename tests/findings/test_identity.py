"""What a program says it is for: told once, never as a setup note too, and never for prose alone."""

from __future__ import annotations

import pytest

from tests.findings.changes import findings
from verifier.findings.examples import turning

BASE = turning("G01 Z-30. F0.2\nX62.").replace(
    "(SPACER)", "(SPACER)\n(DRG 4711-A)\n(JAWS 38 OUT OF THE CHUCK)\n(ROUGH AND FINISH)"
)


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("4711-A", "4711-B", [("program-identity-changed", "major")]),
        ("(DRG 4711-A)\n", "", [("program-identity-changed", "major")]),
        ("SPACER", "SPACER 2", [("program-identity-changed", "major")]),
        ("SPACER", "BUSHING", [("program-identity-changed", "minor")]),
        (" (SPACER)", "", []),
        ("JAWS 38", "JAWS 40", [("setup-note-changed", "major")]),
        ("DRG 4711-A", "DRG 4711-A JAWS 40", [("setup-note-changed", "major")]),
        ("ROUGH AND FINISH", "ROUGH THEN FINISH", []),
        ("O1000", "O1002", [("program-number-changed", "major")]),
        ("G01 Z-30.", "(PART OFF LATER)\nG01 Z-30.", []),
    ],
)
def test_notes_at_the_head(before: str, after: str, told: list[tuple[str, str]]) -> None:
    new = BASE.replace(before, after, 1)
    assert new != BASE
    assert [(f.rule, str(f.weight)) for f in findings(BASE, new)] == told
    assert [f.rule for f in findings(new, BASE)] == [rule for rule, _ in told]
