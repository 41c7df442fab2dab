"""Ways out of a cut, homes and tool changes: which rule speaks, how heavy, once for each of them, and the same way backwards."""

from __future__ import annotations

import pytest

from tests.findings.changes import findings
from verifier.findings import Finding
from verifier.findings.examples import turning

_NEXT = "M01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


def loud(old: str, new: str) -> list[Finding]:
    return [f for f in findings(turning(old), turning(new)) if f.rule != "stopping-points-changed"]


GROOVE = "G00 X62. Z-20.\nG01 X50. F0.1\nG00 X62.\nZ2."
TURNED = "G01 X58. F0.2\nZ-30.\nX62.\nG00 X90.\nZ2."


@pytest.mark.parametrize(
    ("old", "new", "weight", "words"),
    [
        (GROOVE, GROOVE.replace("X62.\nZ2.", "Z2.\nX62."), "critical", "sideways"),
        (GROOVE, GROOVE.replace("G00 X62.\nZ2.", "G00 X62. Z2."), "critical", "X and Z together now, X first before"),
        (GROOVE.replace("G00 X62.\nZ2.", "G00 X62. Z2."), GROOVE, "major", "X first now, X and Z together before"),
        (TURNED, TURNED.replace("G00 X90.\nZ2.", "G00 X90. Z2."), "major", "X and Z together now"),
        (TURNED, TURNED.replace("G00 X90.\nZ2.", "G00 Z2.\nX90."), "major", "Z first now, X first before"),
    ],
)
def test_the_order_of_a_retract_is_told_once(old: str, new: str, weight: str, words: str) -> None:
    told = loud(old, new)
    assert [(f.rule, str(f.weight)) for f in told] == [("retract-order-changed", weight)]
    assert words in told[0].title
    assert [f.rule for f in loud(new, old)] == ["retract-order-changed"]


def test_a_retract_that_only_goes_farther_is_no_other_order() -> None:
    assert [f.rule for f in loud(GROOVE, GROOVE.replace("X62.\nZ2.", "X66.\nZ5."))] == ["retract-clearance-changed"] * 2


@pytest.mark.parametrize(
    ("old", "new", "weight", "words"),
    [
        ("G28 U0.\nG28 W0.\n", "", "critical", "T3 is then called from X 62 mm Z -30 mm, from X and Z at the reference point before"),
        ("G28 U0.\nG28 W0.\n", "G28 U0.\n", "critical", "T3 is then called from X at the reference point, Z -30 mm"),
        ("G28 U0.\nG28 W0.\n", "G28 U0. W0.\n", "major", "X and Z together now, X first before"),
        ("G28 U0. W0.\n", "G28 W0.\nG28 U0.\n", "major", "Z first now, X and Z together before"),
        ("G28 U0. W0.\n", "G28 U4. W0.\n", "major", "by way of X 66 mm Z -30 mm, straight there before"),
        ("G28 U0. W0.\n", "G28 X0. W0.\n", "critical", "by way of X 0 mm Z -30 mm"),
        ("G00 X100. Z50.\n", "G28 U0. W0.\n", "major", "Return home added: G28 U0. W0."),
    ],
)  # fmt: skip
def test_the_way_home_is_told_once_with_what_is_called_there(old: str, new: str, weight: str, words: str) -> None:
    cut = "G01 X58. F0.2\nZ-30.\nX62.\n"
    told = loud(f"{cut}{old}{_NEXT}", f"{cut}{new}{_NEXT}")
    assert [(f.rule, str(f.weight)) for f in told] == [("datum-return-changed", weight)], [f.title for f in told]
    assert words in told[0].title


def test_a_place_in_front_of_a_tool_call_is_where_the_tool_is_changed_and_elsewhere_it_is_a_retract() -> None:
    cut, place = "G01 X58. F0.2\nZ-30.\nX62.\n", "G00 X100. Z50.\n"
    assert [f.rule for f in loud(f"{cut}{place}{_NEXT}", f"{cut}{place.replace('100', '90')}{_NEXT}")] == [
        "tool-change-position-changed"
    ]
    assert [
        f.rule for f in loud(f"{cut}{place}T0111\nG00 Z60.", f"{cut}{place.replace('100', '90')}T0111\nG00 Z60.")
    ] == ["retract-clearance-changed"]


def test_the_end_of_a_cut_in_front_of_the_way_home_is_no_other_way_home() -> None:
    cut = "G01 X58. F0.2\nZ-30.\nX62.\nG28 U0.\nG28 W0.\n"
    assert {f.rule for f in loud(cut + _NEXT, cut.replace("Z-30.", "Z-31.") + _NEXT)} == {"position-changed"}
