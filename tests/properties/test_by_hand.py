"""Promises 2, 3 and 4 over edits by hand: what no generated program holds (variables, conditions, per cent signs in the middle, swallowed words)."""

from __future__ import annotations

import pytest

from tests.edits.by_hand import BY_HAND, ByHand
from tests.edits.programs import own
from tests.properties.covering import assert_nothing_dropped
from tests.properties.reviewing import review
from tests.properties.test_mirror import assert_mirrored

OWN = own()


def _pair(edit: ByHand) -> tuple[bytes, bytes]:
    base = OWN[edit.program]
    for old, new in edit.before:
        base = base.replace(old, new, 1)
    edited = base
    for old, new in edit.changes:
        edited = edited.replace(old, new, 1)
    return base.encode(), edited.encode()


@pytest.mark.parametrize("edit", BY_HAND, ids=[edit.name for edit in BY_HAND])
def test_nothing_of_an_edit_by_hand_is_dropped_and_every_change_names_its_place(edit: ByHand) -> None:
    old, new = _pair(edit)
    report = review(old, new)
    assert_nothing_dropped(old, new, report)
    assert all(finding.causes for finding in report.findings if finding.status == "change")


@pytest.mark.parametrize("edit", BY_HAND[::3], ids=[edit.name for edit in BY_HAND[::3]])
def test_exchanging_the_sides_of_an_edit_by_hand_mirrors_everything(edit: ByHand) -> None:
    assert_mirrored(*_pair(edit))
