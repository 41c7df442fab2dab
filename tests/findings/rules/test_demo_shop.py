"""On the demo shop's jobs: the released programs are quiet, and one wrong word in them brings exactly the hazard it is."""

from __future__ import annotations

import pytest

STUD, SHAFT, SLEEVE = "O1203", "O2101", "O2102"
QUIET = {STUD: ["offset-not-established", "work-cut-free"], SHAFT: [], SLEEVE: []}
"""What is said of the released programs: the dock lathe keeps the last work offset, and the stud names none; it falls when it is parted off."""

CASES = [
    (SHAFT, ("G50 S1500\nG96 S120", "G50 S3600\nG96 S120"), "speed-above-limit", "critical", "3500 rev/min"),
    (STUD, ("G97 S600 M3", "G97 S2500 M3"), "speed-above-limit", "critical", "2400 rev/min"),
    (SHAFT, ("G50 S1500\nG96 S120 M03", "G96 S120 M03\nG50 S1500"), "speed-clamp-after-speed-word", "critical", "1500"),
    (STUD, ("G50 S1200\nG96 S350 M3", "G96 S350 M3\nG50 S1200"), "speed-clamp-after-speed-word", "critical", "1200"),
    (SHAFT, ("G97 S750 M03", "G97 S750"), "not-turning-while-cutting", "critical", "in N5"),
    (SHAFT, ("G97 S750 M03", "M10\nG97 S750 M03"), "states-must-not-meet", "critical", "Chuck open"),
    (STUD, ("G97 S600 M3", "M69\nG97 S600 M3"), "states-must-not-meet", "critical", "Chuck open"),
    (SHAFT, ("G00 X64. Z5. M08\nX34.", "G00 X64. Z5.\nX34."), "coolant-off-while-cutting", "major", "in N2"),
    (SHAFT, ("X48. Z-57.9 R1.9", "X48. Z-57.9 R0.9"), "arc-not-possible", "major", "R0.9"),
    (SHAFT, ("G71 P100", "G71 P105"), "contour-label-missing", "critical", "N105"),
    (SHAFT, ("G71 U2.5 R0.5\n", "G71 R0.5\n"), "cycle-not-possible", "critical", "depth of cut"),
    (SHAFT, ("X27. Z-26. P1500 Q2000", "X27. Z-30. P1500 Q3500"), "groove-step-wider-than-blade", "major", "3.5 mm"),
    (STUD, ("X.65 Z-1. P1000 Q560", "X.65 Z-1.2 P1000 Q1200"), "groove-step-wider-than-blade", "major", "0.12 in"),
    (SHAFT, ("P1500 Q2000", "P1.5 Q2000"), "integer-word-with-point", "critical", "P1.5"),
    (SLEEVE, ("T0707", "T0808"), "tool-not-in-setup", "minor", "Tool 8"),
    (SLEEVE, ("T0707", "T0703"), "tool-and-offset-disagree", "major", "the setup sheet has for tool 3"),
    (SLEEVE, ("N7 ", "N8 "), "search-number-and-tool-disagree", "minor", "N8 runs tool 7"),
    (SHAFT, ("X62. Z2.\nG71", "X62 Z2.\nG71"), "number-without-point", "major", "0.062 mm"),
    (
        SHAFT,
        ("X27.496 Z-23.5 P1227", "X27.496 Z-23.5 P1027"),
        "thread-depth-and-diameter-disagree",
        "major",
        "29.95 mm",
    ),
    (STUD, ("X.6714 Z-.92 P383", "X.6714 Z-.92 P303"), "thread-depth-and-diameter-disagree", "major", "0.748 in"),
    (STUD, ("P383 Q120 F.0625", "P383 Q120 F.1"), "thread-height-and-lead-disagree", "minor", "0.1 in"),
    (STUD, ("P383 Q120", "P383 Q260"), "thread-pass-too-deep", "minor", "0.026 in"),
    (SHAFT, ("G00 X66. Z5. M08", "G00 X66. Z500. M08"), "travel-limit", "critical", "beyond its travel"),
    (STUD, ("G0 X8. Z5.\n\n(T01", "G0 X8. Z50.\n\n(T01"), "travel-limit", "critical", "beyond its travel"),
    (STUD, ("Z-2.875 F.03", "Z-2.875 F3."), "feed-at-rapid-rate", "major", "3 in/rev"),
    (STUD, ("G97\nM30", "G97"), "program-end-missing", "major", ""),
    (SHAFT, ("G21\nG28", "G21\nM51\nG28"), "unknown-code", "major", "M51"),
    (SHAFT, ("G21\nG28", "G21\nG68\nG28"), "unknown-code", "major", "G68"),
    (SHAFT, ("Z-80.\nX53.531", "Z-8O.\nX53.531"), "unreadable-block", "critical", "letter O"),
    (STUD, ("(T01 ROUGH)", "G4 P100 ; M3"), "text-behind-semicolon", "major", ""),
    (SHAFT, ("G04 P500\nG00 X42.\nX80.", "G04\nG00 X42.\nX80."), "value-missing-or-wrong", "major", "dwell"),
    (
        SHAFT,
        ("G00 X64. Z5. M08\nX34.\nZ0.", "G00 X64. Z5. M08\nX34.\nZ0. Z1."),
        "contradicting-words",
        "major",
        "Z0. and Z1.",
    ),
]


@pytest.mark.parametrize("number", sorted(QUIET))
def test_the_released_programs_are_quiet(number: str, judged) -> None:  # type: ignore[no-untyped-def]
    found = judged(number)
    assert [f.rule for f in found] == QUIET[number]
    assert {f.weight for f in found} <= {"minor"}


@pytest.mark.parametrize(
    ("number", "exchange", "rule", "weight", "words"), CASES, ids=[f"{rule} in {n}" for n, _, rule, _, _ in CASES]
)
def test_one_wrong_word_is_the_hazard_it_is(number, exchange, rule, weight, words, judged) -> None:  # type: ignore[no-untyped-def]
    found = [f for f in judged(number, exchange) if f.rule == rule]
    assert found, [f"{f.rule}: {f.title}" for f in judged(number, exchange)]
    assert found[0].weight == weight
    assert words in found[0].title
