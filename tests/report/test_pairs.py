"""The difficult pairs: what was written by hand about each holds, and the committed review is the one that a reader sees today."""

from __future__ import annotations

import re

import pytest

from tests.report.pairs import Pair, pairs

ALL = pairs()


def test_there_are_at_least_forty() -> None:
    assert len(ALL) >= 40


@pytest.mark.parametrize("pair", ALL, ids=[pair.folder.name for pair in ALL])
def test_a_pair_is_told_as_it_is(pair: Pair) -> None:
    report, truth = pair.report(), pair.truth
    assert report.verdict == truth["verdict"]
    if "first" in truth:
        first = report.cards[0].findings[0]
        assert report.findings[first].rule in truth["first"]
    if "cards" in truth:
        assert len(report.cards) == truth["cards"]
    shown = pair.shown(report)
    assert shown == (pair.folder / "review.txt").read_text(encoding="utf-8"), "python -m tests.report.pairs"
    assert not re.search(r"\b\d{9,11}\b", shown), "a number that nobody can read"
