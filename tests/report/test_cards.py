"""Cards: one for each edit, the same edit in several places on one, heaviest first; nothing that is told stands on no card."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.render import text
from tests.properties.reviewing import review, told
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from verifier.findings import Status
from verifier.report import Card, ChangeReport, to_text

SEQUENCE = """({note})
N{n} G00 G40 G97 G99
T0{n}0{n}
G50 S2000
G96 S180 M03
G00 X62. Z2. M08
{cuts}
G00 X100. Z50.
M09
M05
M01
"""


def program(*cuts: str) -> bytes:
    parts = [SEQUENCE.format(note="WORK", n=k, cuts=cut) for k, cut in enumerate(cuts, start=1)]
    return ("%\nO1\nG21\n" + "".join(parts) + "M30\n%\n").encode()


def lines(card: Card) -> list[int]:
    return [place.line for place in card.places]


FIRST, SECOND = "G01 X50. F0.2\nZ-30.\nX62.", "G01 X40. F0.1\nZ-20.\nX62."


def test_edits_that_have_nothing_to_do_with_each_other_are_on_cards_of_their_own() -> None:
    new = program(FIRST.replace("F0.2", "F0.3"), SECOND.replace("X40.", "X39."))
    report = review(program(FIRST, SECOND), new)
    assert len(report.cards) == 2
    words = [[(row.old, row.new) for row in card.words] for card in report.cards]
    assert sorted(words) == [[("F0.2", "F0.3")], [("X40.", "X39.")]]
    assert all(len(card.places) == card.count == 1 for card in report.cards)


def test_a_repeat_at_the_end_stays_apart_from_another_edit_that_its_second_run_shows_again() -> None:
    old = program(FIRST, SECOND)
    new = old.replace(b"X50. F0.2", b"X48. F0.2").replace(b"M30", b"M99")
    cut, end = sorted(review(old, new).cards, key=lambda card: lines(card)[0])
    assert (cut.new, end.new) == (("G01 X48. F0.2",), ("M99",))
    assert (cut.count, end.count) == (1, 1)


def test_a_word_beside_the_one_that_sets_a_state_has_no_part_in_it() -> None:
    """The M03 that turns the spindle at the stop stood there before; what lets it turn on is the M05 that went."""
    old = program(FIRST)
    new = old.replace(b"S180 M03", b"S360 M03").replace(b"M05\n", b"")
    speed, stop = sorted(review(old, new).cards, key=lambda card: lines(card)[0])
    assert [(row.old, row.new) for row in speed.words] == [("S180", "S360")]
    assert (stop.old, stop.new) == (("M05",), ())


def test_the_same_word_changed_alike_in_several_places_is_one_card() -> None:
    """What a lead reads once: the words, and how many places."""
    report = review(program(FIRST, FIRST, FIRST), program(*[FIRST.replace("F0.2", "F0.3")] * 3))
    assert [card.count for card in report.cards] == [3]
    assert [(row.old, row.new) for row in report.cards[0].words] == [("F0.2", "F0.3")]
    assert len(lines(report.cards[0])) == 3


def test_feeds_changed_by_one_factor_are_one_card_and_by_different_ones_are_not() -> None:
    old = [FIRST.replace("F0.2", f"F{feed}") for feed in ("0.2", "0.1", "0.3")]
    alike = [FIRST.replace("F0.2", f"F{feed}") for feed in ("0.3", "0.15", "0.45")]
    apart = [FIRST.replace("F0.2", f"F{feed}") for feed in ("0.3", "0.16", "0.9")]
    assert [card.count for card in review(program(*old), program(*alike)).cards] == [3]
    assert [card.count for card in review(program(*old), program(*apart)).cards] == [1, 1, 1]


def test_a_swapped_value_is_not_joined_with_one_that_changed_the_other_way() -> None:
    report = review(program(FIRST, SECOND), program(FIRST.replace("F0.2", "F0.1"), SECOND.replace("F0.1", "F0.2")))
    assert len(report.cards) == 2


def test_people_and_machine_come_before_tool_and_part() -> None:
    old = program(FIRST)
    report = review(old, old.replace(b"F0.2", b"F0.3").replace(b"M03", b"M04"))
    first = report.findings[report.cards[0].findings[0]]
    assert (first.rule, str(first.weight)) == ("spindle-sense-changed", "critical")
    weights = [report.findings[card.findings[0]].weight.rank for card in report.cards if card.findings]
    assert weights == sorted(weights)
    assert len(weights) == 2


def test_a_hazard_stands_on_the_card_of_the_edit_that_brought_it() -> None:
    """The clamp is taken out, and in a cut behind it the feed is changed: that the clamp is missing has nothing to do with the feed."""
    old = program(FIRST)
    report = review(old, old.replace(b"F0.2", b"F0.3").replace(b"G50 S2000\n", b""))
    (card,) = [card for card in report.cards if card.words]
    assert {report.findings[k].rule for k in card.findings} == {"feed-changed"}


def test_the_first_screen_holds_at_most_seven_cards_and_counts_the_rest() -> None:
    cuts = [f"G01 X5{k}. F0.2\nZ-3{k}.\nX62." for k in range(9)]
    changed = [cut.replace("F0.2", f"F0.{k + 3}1") for k, cut in enumerate(cuts)]
    report = review(program(*cuts), program(*changed))
    assert len(report.cards) == 9
    short, everything = to_text(report), to_text(report, everything=True)
    assert "[7]" in short
    assert "[8]" not in short
    assert "... and 2 more edits" in short
    assert "[9]" in everything


@few(16)
@given(jobs(skips=True), st.integers(0, 2**16), st.integers(1, 4))
def test_everything_told_is_on_a_card_and_cards_are_in_reading_order(job: Job, seed: int, count: int) -> None:
    other = job
    for k in range(count):
        found = list(mutations(other))
        other = found[(seed * (k + 7)) % len(found)][1]
    report = review(text(job), text(other))
    assert_cards_hold_everything(report)


def assert_cards_hold_everything(report: ChangeReport) -> None:
    on_cards = {number for card in report.cards for number in card.findings}
    for number, finding in enumerate(report.findings):
        if str(finding.status) in ("change", "new"):
            assert number in on_cards, finding
        if str(finding.status) == "still there":
            assert number not in on_cards
    heads = [card.findings[0] if card.findings else len(report.findings) for card in report.cards]
    assert heads == sorted(heads)
    assert all(list(card.findings) == sorted(card.findings) for card in report.cards)
    shown = {text for card in report.cards for text in card.touched}
    assert {touch.text for touch in report.touched} <= shown
    assert report.cards or not told(report)


_HEADS = {1: "ROUGH TURN - T01", 2: "FINISH TURN - T02", 3: "GROOVE - T03", 4: "THREAD M30X2 - T04"}
_CUTS = {
    1: "G01 X50. F0.2\nZ-30.\nX62.",
    2: "G01 X48. F0.1\nZ-20.\nX62.",
    3: "Z-12.\nG01 X40. F0.08\nG04 P500\nX62.",
    4: "Z6.\nX48.\nG76 P020060 Q60 R0.04\nG76 X45.5 Z-10. P1227 Q300 F2.",
}


def in_order(*numbers: int) -> bytes:
    """The sequences in an order; a stop behind each but the last."""
    parts = [SEQUENCE.format(note=_HEADS[n], n=n, cuts=_CUTS[n]) for n in numbers]
    parts[-1] = parts[-1].replace("M01\n", "")
    return ("%\nO1\nG21\n" + "".join(parts) + "M30\n%\n").encode()


@pytest.mark.parametrize(
    "order", [(2, 1, 3, 4), (1, 3, 2, 4), (1, 2, 4, 3), (3, 2, 1, 4), (1, 4, 3, 2), (4, 2, 3, 1), (2, 3, 4, 1)]
)
def test_sequences_in_another_order_are_one_card(order: tuple[int, ...]) -> None:
    """One edit to whoever made it, whichever blocks the alignment takes for the moved ones; notes go along with their blocks."""
    for old, new in ((in_order(1, 2, 3, 4), in_order(*order)), (in_order(*order), in_order(1, 2, 3, 4))):
        report = review(old, new)
        assert len(report.cards) == 1, [card.places for card in report.cards]
        told = [report.findings[k] for k in report.cards[0].findings]
        assert next(f.title for f in told if f.rule == "order-changed").endswith("made at another place in the program")
        assert not [f for f in told if f.rule == "setup-note-changed"]


def test_a_note_changed_while_sequences_change_places_is_told() -> None:
    new = in_order(2, 1, 3, 4).replace(b"(GROOVE - T03)", b"(GROOVE - T09)")
    told = [f.title for f in review(in_order(1, 2, 3, 4), new).findings if f.rule == "setup-note-changed"]
    assert told and all("GROOVE - T0" in title for title in told)
    assert any("GROOVE - T09" in title for title in told)


def test_a_word_changed_inside_a_sequence_that_moved_is_told() -> None:
    new = in_order(1, 3, 2, 4).replace(b"G01 X48. F0.1", b"G01 X47. F0.1")
    report = review(in_order(1, 2, 3, 4), new)
    told = {finding.rule for finding in report.findings if finding.status is Status.CHANGE}
    assert told == {"order-changed", "position-changed"}
    assert [(row.old, row.new) for card in report.cards for row in card.words] == [("X48.", "X47.")]
