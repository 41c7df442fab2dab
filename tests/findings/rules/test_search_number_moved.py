"""Search numbers: moved, gone, and newly given are three things, and only the last is light."""

from __future__ import annotations

import pytest

from tests.findings.changes import told
from verifier.findings import Weight
from verifier.findings.examples import turning

_CUT = "G01 X58. F0.2\nX62.\nG00 X100. Z50.\nM01\n{}T0303\nG97 S800 M03\nG00 X62. Z-20.\n{}G01 X50. F0.1\nX62."


def job(head: str, inside: str = "") -> str:
    return turning(_CUT.format(head, inside))


@pytest.mark.parametrize(
    ("old", "new", "weight", "words"),
    [
        (job(""), job("N2 "), Weight.MINOR, "Search number where there was none: N2 (tool 3)"),
        (job("N2 "), job(""), Weight.MAJOR, "Search number gone: N2 (tool 3)"),
        (job("N2 "), job("N3 "), Weight.MAJOR, "Search number moved: N2 is now N3 (tool 3)"),
        (job("", "N2 "), job("N2 ", "N2 "), Weight.MAJOR, "Search number where there was none: N2 (tool 3)"),
        (job("N2\n"), job("", "N2\n"), Weight.MAJOR, "Search number moved: N2 stands behind T0303 (tool 3)"),
        (job("", "N2\n"), job("N2\n"), Weight.MAJOR, "Search number moved: N2 stands in front of T0303 (tool 3)"),
        (job("N2 ", "N2 "), job("", "N2 "), Weight.MAJOR, "Search number gone: N2 (tool 3)"),
    ],
    ids=["given", "gone", "another", "given twice", "behind the tool", "in front of the tool", "one of two gone"],
)
def test_what_happened_to_a_search_number(old: str, new: str, weight: Weight, words: str) -> None:
    (finding,) = told(old, new, "search-number-moved")
    assert (finding.weight, finding.title) == (weight, words)


def test_a_number_for_a_block_that_nobody_searches_is_no_finding() -> None:
    assert not told(job("N2 "), job("N2 ", "N90 "), "search-number-moved")


def test_a_number_that_went_behind_its_tool_is_shown_where_a_search_now_finds_it() -> None:
    """Started there the turret is not indexed: the tool word is passed over."""
    old, new = job("N2\n"), job("", "N2\n")
    (finding,) = told(old, new, "search-number-moved")
    assert [(p.side, p.line) for p in finding.causes] == [("new", new[: new.index("N2\n")].count("\n") + 1)]
    (finding,) = told(old, job(""), "search-number-moved")
    assert [(p.side, p.line) for p in finding.causes] == [("old", old[: old.index("N2\n")].count("\n") + 1)]
