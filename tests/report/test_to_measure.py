"""The features to measure on the first piece are those that changed or lie in changed sequences: no more, no less."""

from __future__ import annotations

import pytest

from tests.report.to_measure import Case, cases, lists_of

ALL = tuple(cases())


def test_there_are_pairs_enough() -> None:
    assert len(ALL) >= 25


@pytest.mark.parametrize("case", ALL, ids=[case.name for case in ALL])
def test_the_list_is_exactly_those_that_changed_or_lie_in_changed_sequences(case: Case) -> None:
    lists = lists_of(case)
    assert set(lists.told) == set(lists.must)
    assert lists.told == lists.must
    for name, by in lists.left_by.items():
        assert by <= lists.told[name], name
