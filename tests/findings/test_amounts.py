"""What a hazard measures is told with what the other side has there: new ones with the amount before, gone ones with the amount now."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from verifier import review
from verifier.findings import Status
from verifier.findings.examples import on_bar, sheet, turning
from verifier.machines import Grip, Setup, Tool, WorkHolding

CUT = "G01 Z-30. F{}\nX62."
MOST = sheet(Tool(1, "turning", feed_maximum=Fraction(2, 5)))
LEAST = sheet(Tool(1, "turning", feed_minimum=Fraction(3, 20)))
GRIP = replace(
    on_bar(),
    work_holding=WorkHolding(
        "chuck", None, "outside", "", (), Grip(Fraction(69_947), Fraction(4500), Fraction("2.668"))
    ),
)
SLOW, FAST = (turning("G01 X20. F0.2\nX62.").replace("S2000", speed) for speed in ("S1000", "S1500"))


@pytest.mark.parametrize(
    ("rule", "setup", "good", "bad", "amounts"),
    [
        ("feed-above-tool-maximum", MOST, turning(CUT.format("0.3")), turning(CUT.format("0.5")), ("0.3 mm/rev", "0.5 mm/rev")),
        ("feed-under-tool-minimum", LEAST, turning(CUT.format("0.2")), turning(CUT.format("0.1")), ("0.2 mm/rev", "0.1 mm/rev")),
        ("grip-lost-at-speed", GRIP, SLOW, FAST, ("1000 rev/min", "1500 rev/min")),
    ],
)  # fmt: skip
def test_both_amounts_are_told(rule: str, setup: Setup, good: str, bad: str, amounts: tuple[str, str]) -> None:
    (new,) = [f for f in review(good.encode(), bad.encode(), setup=setup).findings if f.rule == rule]
    assert (new.status, new.before, new.after) == (Status.NEW, *amounts)
    assert new.title.endswith(f" (before: {amounts[0]})")
    (gone,) = [f for f in review(bad.encode(), good.encode(), setup=setup).findings if f.rule == rule]
    assert (gone.status, gone.before, gone.after) == (Status.GONE, *amounts[::-1])
    assert gone.title.endswith(f" (now: {amounts[0]})")


def test_another_sequence_of_the_same_tool_is_not_what_was_there_before() -> None:
    """Its own sequence had 0.1; that another one of the tool has 0.35 plays no part."""
    first = turning(CUT.format("0.35")).replace("M30\n", "")
    rest = "N2 G00 G40 G97 G99\nT0202\nG00 X90. Z90.\nN3 G00 G40 G97 G99\nT0101\nS500 M03\nG00 X64. Z2.\nG01 Z-10. F{}\nX66.\nM05\nM30\n"
    two = first + rest
    (new,) = [
        f
        for f in review(two.format("0.1").encode(), two.format("0.5").encode(), setup=MOST).findings
        if f.rule == "feed-above-tool-maximum"
    ]
    assert (new.before, new.after) == ("0.1 mm/rev", "0.5 mm/rev")
