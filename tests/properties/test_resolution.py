"""Positions agree within half the finer least increment, in programmed values; feeds, speeds and dwells exactly."""

from __future__ import annotations

import pytest

from tests.properties.reviewing import review, shown, told

HEAD = "O1\n{units}\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\n{start}\n"
TAIL = "\n{end}\nM05\nM30\n"


def program(block: str, units: str = "mm") -> bytes:
    start, end = ("G00 X60. Z2.", "G00 X80. Z50.") if units == "mm" else ("G00 X2.4 Z.1", "G00 X3. Z2.")
    return (HEAD.format(units="G21" if units == "mm" else "G20", start=start) + block + TAIL.format(end=end)).encode()


@pytest.mark.parametrize(
    ("old", "new", "units", "near"),
    [
        ("G01 X50. F0.2", "G01 X50.0005 F0.2", "mm", True),
        ("G01 X50. F0.2", "G01 X50.0006 F0.2", "mm", False),
        ("G01 Z-5. F0.2", "G01 Z-5.0005 F0.2", "mm", True),
        ("G01 Z-5. F0.2", "G01 Z-5.00051 F0.2", "mm", False),
        ("G01 X2. F.01", "G01 X2.00005 F.01", "inch", True),
        ("G01 X2. F.01", "G01 X2.00006 F.01", "inch", False),
        ("G01 X50. F0.2", "G01 X50. F0.2000001", "mm", False),
        ("G01 X50. F0.2\nG04 P100", "G01 X50. F0.2\nG04 P101", "mm", False),
        ("G32 Z-5. F1.5", "G32 Z-5. F1.50001", "mm", False),
        ("S801", "S800.001", "mm", False),
        ("G02 X64. Z0. R2. F0.1", "G02 X64. Z0. R2.0001 F0.1", "mm", True),
        ("G02 X64. Z0. R2. F0.1", "G02 X64. Z0. R2.01 F0.1", "mm", False),
    ],
)
def test_only_positions_within_half_an_increment_agree(old: str, new: str, units: str, near: bool) -> None:
    for before, after in ((old, new), (new, old)):
        one, other = program(before, units), program(after, units)
        report = review(one, other)
        assert (report.verdict == "same behaviour") == near, shown(one, other, report)


def test_unequal_within_the_resolution_is_a_minor_finding() -> None:
    report = review(program("G01 X50. F0.2"), program("G01 X50.0004 F0.2"))
    assert report.verdict == "same behaviour"
    assert [(f.rule, str(f.weight), str(f.status)) for f in told(report) if f.rule == "below-resolution"] == [
        ("below-resolution", "minor", "change")
    ]


def test_small_steps_do_not_add_up_unseen() -> None:
    """Ten increments of 0.0004 mm less each: every end agrees with its partner less and less, and the tenth does not agree."""
    old = program("\n".join(["G01 W-1. F0.2", *["U0.1 W-1."] * 10]))
    new = program("\n".join(["G01 W-1. F0.2", *["U0.1 W-1.0004"] * 10]))
    assert review(old, new).verdict == "changed behaviour"


def test_a_path_interrupted_elsewhere_is_a_minor_finding_of_its_own() -> None:
    old, new = program("G01 Z-10. F0.2"), program("G01 Z-4. F0.2\nZ-10.")
    report = review(old, new)
    assert report.verdict == "same behaviour"
    found = [(f.rule, str(f.weight)) for f in told(report)]
    assert found == [("stopping-points-changed", "minor")], shown(old, new, report)
