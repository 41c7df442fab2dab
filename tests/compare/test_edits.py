"""Edits: how blocks are paired, and which of them are one thing that somebody did."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.compare.pairs import FIRST_LINE, pair
from tests.properties.covering import edits_between
from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.render import text
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from verifier.compare import Comparison

CUT = "G01 X50. F0.2\nZ-10.\nX62.\nG00 X70.\nZ3."


def told(comparison: Comparison) -> list[tuple[str, tuple[int, ...], tuple[int, ...]]]:
    """Kind and blocks of each edit, counted from the first block between head and tail."""
    return [
        (e.kind, tuple(b - FIRST_LINE for b in e.old), tuple(b - FIRST_LINE for b in e.new))
        for e in comparison.edits.edits
    ]


@pytest.mark.parametrize(
    ("new", "wanted"),
    [
        (CUT.replace("Z-10.", "Z-11."), [("changed", (1,), (1,))]),
        (CUT.replace("\nX62.", ""), [("removed", (2,), ())]),
        (CUT.replace("\nX62.", "\nG04 P100\nX62."), [("added", (), (2,))]),
        (CUT.replace("Z-10.", "Z-11.").replace("Z3.", "Z4."), [("changed", (1,), (1,)), ("changed", (4,), (4,))]),
        (CUT.replace("\nZ-10.", "\n/Z-10."), [("changed", (1,), (1,))]),
        (CUT.replace("Z-10.", "Z-10.0"), []),
        (CUT.replace("\nZ-10.", "\nN50 Z-10. (EDGE)"), []),
        (CUT.lower(), []),
        (CUT.replace("Z-10.", "%\nZ-10."), [("changed", (1,), (1,))]),
    ],
)
def test_edits_are_named_by_kind_and_blocks(
    new: str, wanted: list[tuple[str, tuple[int, ...], tuple[int, ...]]]
) -> None:
    assert told(pair(CUT, new)) == wanted


def test_a_lost_point_is_a_changed_word_and_another_spelling_is_none() -> None:
    comparison = pair(CUT, CUT.replace("Z-10.", "Z-10"))
    (edit,) = comparison.edits.edits
    assert [(w.kind, w.old.text if w.old else "", w.new.text if w.new else "") for w in edit.words] == [
        ("changed", "Z-10.", "Z-10")
    ]
    kinds = {p.kind for p in pair(CUT, CUT.replace("Z-10.", "z -10.00")).edits.pairings}
    assert kinds == {"same", "wording"}


def test_what_is_taken_out_and_put_in_at_one_place_is_one_edit() -> None:
    old = CUT + "\nG04 P500"
    new = CUT + "\nS900\nF0.3"
    found = pair(old, new).edits.edits
    assert len(found) == 1
    assert found[0].kind == "replaced"


@pytest.mark.parametrize(("old", "new"), [("/Z-10.", "/1Z-10."), ("/ Z-10.", "/1 Z-10.")])
def test_a_bare_skip_mark_is_one_of_level_one(old: str, new: str) -> None:
    assert told(pair(CUT.replace("\nZ-10.", f"\n{old}"), CUT.replace("\nZ-10.", f"\n{new}"))) == []
    assert told(pair(CUT.replace("\nZ-10.", f"\n{old}"), CUT.replace("\nZ-10.", "\n/2 Z-10."))) != []


def test_macro_text_and_unreadable_text_count_as_they_stand() -> None:
    assert told(pair(CUT + "\n#500=1.", CUT + "\n#500=2.")) == [("changed", (5,), (5,))]
    assert told(pair(CUT + "\nX5.0.1", CUT + "\nX5.0.2"))


@few(16)
@given(jobs(skips=True), st.integers(0, 2**16))
def test_every_block_stands_in_one_pairing_and_in_one_edit_at_most(job: Job, seed: int) -> None:
    found = list(mutations(job))
    edits = edits_between(text(job), text(found[seed % len(found)][1]))
    for side, owner in (("old", edits.of_old), ("new", edits.of_new)):
        paired = [getattr(p, side) for p in edits.pairings if getattr(p, side) is not None]
        assert sorted(paired) == list(range(len(owner)))
        inside = [block for edit in edits.edits for block in getattr(edit, side)]
        assert len(inside) == len(set(inside))
        for edit in edits.edits:
            assert all(int(owner[block]) == edit.index for block in getattr(edit, side))
            assert edit.old or edit.new
        named = [getattr(p, side) for p in edits.pairings if p.kind not in ("same", "wording")]
        assert sorted(block for block in named if block is not None) == sorted(inside)
    assert [edit.index for edit in edits.edits] == list(range(len(edits.edits)))
