"""The prove-out list: which sequences are on it and why, where to restart, and numbers worked out here by hand from the program's own words."""

from __future__ import annotations

from math import pi

import pytest

from tests.report.pairs import PAIRS
from verifier import examine, review
from verifier.report import ChangeReport, to_html, to_json, to_text

SPIGOT = (PAIRS / "two-edits-in-one-sequence" / "old.nc").read_bytes()


def changed(*pairs: tuple[bytes, bytes], old: bytes = SPIGOT) -> ChangeReport:
    new = old
    for before, after in pairs:
        assert new.count(before) == 1, before
        new = new.replace(before, after)
    return review(old, new)


def labels(report: ChangeReport) -> list[str]:
    return [entry.restart.label for entry in report.prove_out]


def test_an_unaffected_program_has_no_list() -> None:
    assert review(SPIGOT, SPIGOT).prove_out == ()
    assert changed((b"(FINISH OUTSIDE)", b"(FINISHING)")).prove_out == ()


def test_a_feed_reaches_its_own_sequence_only() -> None:
    report = changed((b"G01 X26. F0.08", b"G01 X26. F0.16"))
    assert labels(report) == ["N3"]


def test_the_numbers_are_those_of_the_program() -> None:
    """N3 restarts at its search number; its first cut starts at X42. Z-25. with G96 S120 under G50 S1500: n = 1000 v / (pi D)."""
    (entry,) = changed((b"G01 X26. F0.08", b"G01 X26. F0.16")).prove_out
    lines = SPIGOT.decode().splitlines()
    assert lines[entry.restart.line - 1].startswith("N3 ")
    turns = min(1500.0, 1000 * 120 / (pi * 42))
    assert entry.reads == (
        "position X 42 mm, Z -25 mm",
        f"spindle 120 m/min, {turns:.0f} rev/min there, clamp 1500 rev/min, forward",
        "feed 0.16 mm/rev",
        "tool 3, offset 3, work offset G54",
    )
    assert "X 42 mm Z -25 mm" in entry.distance
    assert f"line {lines.index('G01 X26. F0.08') + 1}" in entry.slow[-1]


def test_numbers_of_an_inch_program_are_in_inches() -> None:
    old = (PAIRS / "compensation-on-the-other-side" / "old.nc").read_bytes()
    report = changed((b"X.9 F.008", b"X.9 F.016"), old=old)
    (entry,) = report.prove_out
    turns = 1000 * 400 * 0.3048 / (pi * 2.2 * 25.4)
    assert entry.reads[0] == "position X 2.2 in, Z 0.1 in"
    assert f"spindle 400 ft/min, {turns:.0f} rev/min there" in entry.reads[1]
    assert entry.reads[2] == "feed 0.012 in/rev"


@pytest.mark.parametrize("word", [b"G21 G55\n", b"G20\n"])
def test_everything_behind_a_changed_reference_or_unit_is_affected(word: bytes) -> None:
    assert set(labels(changed((b"G21\n", word)))) == {"N1", "N2", "N3", "N4"}


def test_a_sequence_in_front_of_a_changed_reference_is_not() -> None:
    assert "N1" not in labels(changed((b"T0202\n", b"T0202\nG55\n")))


def test_who_cuts_the_same_surface_is_affected_and_who_cuts_elsewhere_is_not() -> None:
    """Roughing ends at Z-43. instead of Z-45.: N2 finishes that shoulder; N3 cuts at Z-25., the thread ends at Z-23."""
    report = changed((b"X40.\nZ-45.\nN150", b"X40.\nZ-43.\nN150"))
    assert labels(report)[:2] == ["N1", "N2"]
    assert "N1" in next(e for e in report.prove_out if e.restart.label == "N2").why[0]


def test_the_first_approach_after_a_changed_retract_is_affected() -> None:
    report = changed((b"X61.\nG00 X150. Z100. M09\nM01\nN3", b"X61.\nG00 X70. Z20. M09\nM01\nN3"))
    third = next(e for e in report.prove_out if e.restart.label == "N3")
    assert any("retract of N2" in reason for reason in third.why)
    assert "N4" not in labels(report)


def test_a_sequence_that_cannot_be_started_alone_is_started_from_the_top() -> None:
    report = changed((b"N3 G00 G40", b"N3 G40"), (b"G00 X42. Z-25. M08", b"X42. Z-25. M08"))
    entry = next(e for e in report.prove_out if e.restart.label == "N3")
    assert "from the top" in entry.start
    lacking = SPIGOT.replace(b"N3 G00 G40", b"N3 G40").replace(b"G00 X42. Z-25. M08", b"X42. Z-25. M08")
    (stands,) = changed((b"G01 X26. F0.08", b"G01 X26. F0.16"), old=lacking).prove_out
    assert "from the top" in stands.start, "it could not be started alone before, either"


def test_a_changed_size_is_what_to_measure() -> None:
    report = changed((b"G01 X26. F0.08", b"G01 X25.5 F0.08"))
    entry = next(e for e in report.prove_out if e.restart.label == "N3")
    assert any(text.startswith("diameter 25.5 mm at Z -25 mm (line ") for text in entry.measure)


def test_of_a_first_submission_every_sequence_is_proved_out() -> None:
    assert labels(examine(SPIGOT)) == ["N1", "N2", "N3", "N4"]


def test_every_form_holds_the_list() -> None:
    report = changed((b"G01 X26. F0.08", b"G01 X26. F0.16"))
    (entry,) = report.prove_out
    (told,) = to_json(report)["prove_out"]
    assert told["restart"]["line"] == entry.restart.line
    assert told["reads"] == list(entry.reads)
    for text in (to_text(report), to_html(report)):
        assert entry.start in text
        assert "clamp 1500 rev/min" in " ".join(text.split())


def test_what_to_measure_is_the_surface_that_the_changed_block_commands() -> None:
    """Without a setup sheet: the end points of the block and of what it moves, worked out by hand from the program's words."""
    report = changed((b"X40.\nZ-45.\nX61.", b"X40.\nZ-45.5\nX61."))
    (entry,) = (entry for entry in report.prove_out if entry.restart.label == "N2")
    lines = SPIGOT.decode().splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith("N2 "))
    at = lines.index("Z-45.", first) + 1
    assert entry.measure == (
        f"diameter 40 mm from Z -25 mm to Z -45.5 mm (line {at})",
        f"face at Z -45.5 mm from diameter 40 mm to 61 mm (line {at + 1})",
    )


def test_a_lost_sign_is_measured_by_its_place_and_not_by_its_sentence() -> None:
    report = changed((b"X29.8 Z-1.9\nZ-25.\nX40.\nZ-45.\nX61.", b"X29.8 Z-1.9\nZ25.\nX40.\nZ-45.\nX61."))
    (entry,) = (entry for entry in report.prove_out if entry.restart.label == "N2")
    assert any("from Z -1.9 mm to Z 25 mm" in told for told in entry.measure)
    assert not any("Minus sign lost" in told for told in entry.measure)


def test_of_many_changed_surfaces_a_few_are_told_and_the_others_counted() -> None:
    report = changed(
        (b"G01 Z0. F0.12\nX29.8 Z-1.9\nZ-25.\nX40.\nZ-45.", b"G01 Z-1. F0.12\nX29.7 Z-2.9\nZ-26.\nX39.\nZ-46.")
    )
    (entry,) = (entry for entry in report.prove_out if entry.restart.label == "N2")
    assert len(entry.measure) == 3 and entry.measure[-1].endswith("more changed blocks cut")


def test_a_plunge_at_rapid_is_no_retract() -> None:
    report = changed((b"G01 X26. F0.08", b"G00 X26. F0.08"))
    why = {entry.restart.label: entry.why for entry in report.prove_out}
    assert "comes after N3, which makes a cut at rapid now" in why["N4"]
    assert not any("retract" in reason for reason in why["N4"])
