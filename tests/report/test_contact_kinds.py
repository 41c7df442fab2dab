"""Every kind of contact has a difficult pair that shows it: what an edit makes a tool meet is told as new, with its place and its amount."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pytest

from tests.report.pairs import pairs
from verifier.compare import Side
from verifier.findings import Finding, Status
from verifier.geometry import part as kinds
from verifier.report import Reviewed


@dataclass(frozen=True)
class Shown:
    """By which pair a kind is shown: the rule that tells it, and words of its sentence."""

    pair: str
    rule: str
    words: str
    kind: str = ""
    """The kind of contact in the swept part; "" where the part has none of it."""


TABLE: dict[str, Shown] = {
    "rapid into material": Shown(
        "contact-rapid-against-the-wall-of-a-groove", "rapid-into-material", "rapid", kinds.RAPID_INTO_MATERIAL
    ),
    "feed into a keep-out": Shown("contact-jaws-at-a-feed", "keep-out-entered", "into jaws", kinds.INTO_KEEP_OUT),
    "holder or shank into material": Shown(
        "contact-shank-on-the-rest-of-a-hole", "holder-into-material", "holder or shank", kinds.BODY_INTO_MATERIAL
    ),
    "holder or shank into work-holding": Shown(
        "contact-holder-on-the-jaws", "keep-out-entered", "holder or shank of T3", kinds.BODY_INTO_KEEP_OUT
    ),
    "blade sideways deeper than its side clearance": Shown(
        "contact-blade-moved-sideways", "blade-moved-sideways", "sideways", kinds.BLADE_SIDEWAYS
    ),
    "drill past its flute": Shown(
        "contact-drill-past-its-flute", "drill-past-flute", "flute", kinds.DRILL_PAST_FLUTE
    ),
    "retract that leaves a bore sideways": Shown(
        "contact-bore-left-sideways", "bore-retract-outward", "bore", kinds.BORE_LEFT_SIDEWAYS
    ),
    "travel limit": Shown("contact-beyond-travel", "travel-limit", "travel"),
    "tool change inside the clearance zone": Shown(
        "contact-tool-change-beside-the-work", "tool-change-near-work", "from the piece", kinds.CHANGE_NEAR
    ),
    "a neighbouring station's tool": Shown(
        "contact-neighbouring-drill", "neighbour-tool-met", "T8 and jaws", kinds.NEIGHBOUR_MET
    ),
    "the swing of an index": Shown(
        "contact-swing-of-an-index", "index-swing-met", "T7 and jaws", kinds.SWING_MET
    ),
    "work cut free, nothing catches or holds it": Shown(
        "contact-work-cut-free", "work-cut-free", "catches or holds", kinds.CUT_FREE
    ),
    "anything cut after that": Shown("contact-loose-piece", "loose-piece-met", "free", kinds.LOOSE_PIECE_MET),
}  # fmt: skip
UNCHECKED = "contact-neighbours-not-checked"
"""The pair whose sheet names no turret."""
PAIRS = {pair.folder.name: pair for pair in pairs()}


@cache
def reviewed(name: str) -> Reviewed:
    return PAIRS[name].reviewed()


def fresh(name: str, rule: str) -> list[Finding]:
    return [f for f in reviewed(name).report.findings if f.rule == rule and f.status is Status.NEW]


def kinds_met(side: Side) -> set[str]:
    part = side.part()
    assert part is not None
    return {contact.kind for contact in part.contacts}


@pytest.mark.parametrize("kind", TABLE)
def test_a_pair_shows_it(kind: str) -> None:
    shown = TABLE[kind]
    found = fresh(shown.pair, shown.rule)
    assert found, "it is new"
    assert any(shown.words in f.title for f in found), [f.title for f in found]
    assert all(f.after and f.causes and f.box for f in found if shown.kind), "with a place and an amount"
    if shown.kind:
        assert shown.kind in kinds_met(reviewed(shown.pair).side)


def test_no_kind_of_contact_lacks_a_pair() -> None:
    """The names that the swept part has for what is met, read from its module."""
    named = {
        value
        for name, value in vars(kinds).items()
        if name.isupper() and isinstance(value, str) and name != "UNCHECKED"
    }
    assert named == {shown.kind for shown in TABLE.values() if shown.kind}


def test_every_pair_about_a_contact_is_in_the_table() -> None:
    named = {name for name in PAIRS if name.startswith("contact-")}
    assert named == {shown.pair for shown in TABLE.values()} | {UNCHECKED}


def test_neighbours_that_the_sheet_does_not_name_are_said_not_to_be_checked() -> None:
    """The same two programs as those of the neighbouring drill, with a sheet that has no turret."""
    for name in ("old.nc", "new.nc"):
        bytes_of = [(PAIRS[pair].folder / name).read_bytes() for pair in (UNCHECKED, "contact-neighbouring-drill")]
        assert bytes_of[0] == bytes_of[1]
    report = reviewed(UNCHECKED).report
    assert any(entry.reason.endswith("neighbours not checked") for entry in report.unchecked)
    assert not {"neighbour-tool-met", "index-swing-met"} & {f.rule for f in report.findings}


@pytest.mark.parametrize("name", ["contact-neighbouring-drill", "contact-swing-of-an-index"])
def test_a_sheet_with_holders_invents_nothing_beside_its_one_contact(name: str) -> None:
    """Every tool has its holder and the holder its width: what is met is one thing, and no holder is told to be missing."""
    report = reviewed(name).report
    contacts = {shown.rule for shown in TABLE.values() if shown.kind}
    assert {f.rule for f in report.findings} & contacts == {s.rule for s in TABLE.values() if s.pair == name}
    assert not [entry for entry in report.unchecked if "holder" in entry.reason]
