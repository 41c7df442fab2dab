"""Arcs and dwells that cannot be computed are told by their words: on one side or on both, and never with a number that nobody computed."""

from __future__ import annotations

import pytest

from tests.findings.changes import compared, findings
from verifier.findings.examples import turning

ARC = turning("G01 X50. F0.2\nZ-20.\nG02 X60. Z-25. R5.\nG01 X62.")
DWELL = turning("G01 X50. F0.1\nG04 U1.\nG00 X62.")
NEITHER, NOW, BEFORE = (
    "what the control makes of it could not be computed",
    "what the control makes of it now cannot be computed",
    "what the control made of it before could not be computed",
)


def told(old: str, new: str) -> list[tuple[str, str]]:
    return [(f.rule, f.title) for f in findings(old, new)]


def test_a_radius_that_no_arc_has_is_told_by_its_words() -> None:
    """From X 50 Z -20 to X 60 Z -25 the chord is 7.07 mm long: no smaller circle than of 3.54 mm joins its ends (Euclid III.15)."""
    off = "an arc of R2. does not reach from its start to its end"
    impossible = ARC.replace("R5.", "R2.")
    end = "Arc to X 60 mm Z -25 mm changed"
    assert told(ARC, impossible) == [("curve-changed", f"{end}: R from 5. to 2.; {NOW} ({off})")]
    assert told(impossible, ARC) == [("curve-changed", f"{end}: R from 2. to 5.; {BEFORE} ({off})")]
    assert told(ARC.replace("R5.", "R3.53"), impossible) == [
        ("curve-changed", f"{end}: R from 3.53 to 2.; {NEITHER} ({off})")
    ]
    assert told(ARC, ARC.replace("R5.", "R3.54"))[0][1].startswith("Arc radius changed from 5 mm to 3.54 mm")


@pytest.mark.parametrize(
    ("word", "rule", "title"),
    [
        (
            "R-5.",
            "sign-lost",
            f"Minus sign gained: R5. is now R-5.; {NOW} (a lathe arc by R needs a radius above zero; got R-5.)",
        ),
        (
            "R5",
            "decimal-point-lost",
            f"Decimal point lost: R5. is now R5; {NOW} (an arc of R5 does not reach from its start to its end)",
        ),
        (
            "R.5",
            "decimal-point-lost",
            f"Decimal point moved: R5. is now R.5; {NOW} (an arc of R.5 does not reach from its start to its end)",
        ),
    ],
)
def test_a_sign_or_a_point_of_a_radius_is_told_as_such(word: str, rule: str, title: str) -> None:
    assert told(ARC, ARC.replace("R5.", word)) == [(rule, title)]


def test_whether_two_arcs_that_cannot_be_differ_at_the_machine_stays_undetermined() -> None:
    assert compared(ARC.replace("R5.", "R1."), ARC.replace("R5.", "R2.")).verdict == "undetermined"
    assert compared(ARC, ARC.replace("R5.", "R2.")).verdict == "changed behaviour"


def test_an_end_that_its_arc_cannot_reach_is_a_place_and_no_other_radius() -> None:
    """The arc has no radius that could be named: only the words that were changed are told."""
    far = ARC.replace("Z-25. R5.", "Z-45. R5.")
    for old, new in ((ARC, far), (far, ARC)):
        ((rule, title),) = told(old, new)
        assert rule == "position-changed" and "radius" not in title


def test_other_words_on_an_arc_are_what_they_were() -> None:
    ((rule, _),) = told(ARC, ARC.replace("R5.", "R5. E1"))
    assert rule == "remark-changed"


@pytest.mark.parametrize(
    ("old", "new", "title"),
    [
        ("U1.", "U-1.", f"Dwell changed from 1 s to U-1.; {NOW} (a dwell below zero)"),
        ("U-1.", "U1.", f"Dwell changed from U-1. to 1 s; {BEFORE} (a dwell below zero)"),
        ("U-1.", "U-2.", f"Dwell changed from U-1. to U-2.; {NEITHER} (a dwell below zero)"),
        (" U1.", "", f"Dwell changed from 1 s to one without a time; {NOW} (G04 without P, X or U)"),
        ("G04 U1.\n", "", "Dwell removed: 1 s, at the end of a cut"),
    ],
)
def test_a_dwell_that_has_no_time_is_told_by_its_word(old: str, new: str, title: str) -> None:
    base = DWELL.replace("U1.", "U-1.") if "U-1." in old else DWELL
    assert told(base, base.replace(old, new)) == [("dwell-changed", title)]
