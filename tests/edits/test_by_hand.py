"""The table of edits by hand: each is told as its row says, and nothing that its row forbids."""

from __future__ import annotations

import pytest

from tests.edits.by_hand import BY_HAND, ByHand
from tests.edits.programs import ROOT, own
from verifier.findings import Status
from verifier.machines import Machine, Setup, load_machine, load_setup
from verifier.report import ChangeReport, review

SHOP = ROOT / "fixtures" / "shop"
OWN = own()


def shop(program: str) -> tuple[Machine | None, Setup | None]:
    """Machine and setup sheet of a program of the demo shop; none for one of the bench's."""
    sheet = SHOP / "setups" / f"{program}.toml"
    if not sheet.is_file():
        return None, None
    return load_machine(SHOP / "machines" / "north-lathe.toml"), load_setup(sheet, machine=None)


def replaced(text: str, changes: tuple[tuple[str, str], ...]) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def reviewed(edit: ByHand) -> ChangeReport:
    base = replaced(OWN[edit.program], edit.before)
    machine, setup = shop(edit.program)
    return review(base.encode(), replaced(base, edit.changes).encode(), machine=machine, setup=setup)


@pytest.mark.parametrize("edit", BY_HAND, ids=[edit.name for edit in BY_HAND])
def test_an_edit_by_hand_is_told_as_it_is(edit: ByHand) -> None:
    report = reviewed(edit)
    told = [finding for finding in report.findings if finding.status in (Status.CHANGE, Status.NEW)]
    rules, titles = {finding.rule for finding in told}, " / ".join(finding.title for finding in told)
    assert report.verdict == edit.told.verdict
    assert set(edit.told.rules) <= rules
    assert not rules & set(edit.told.silent)
    assert all(words in titles for words in edit.told.words), titles
    assert not edit.told.cards or len(report.cards) == edit.told.cards, [card.places for card in report.cards]
    if edit.told.first:
        assert report.findings[report.cards[0].findings[0]].rule == edit.told.first


def test_names_are_told_apart() -> None:
    assert len({edit.name for edit in BY_HAND}) == len(BY_HAND)
