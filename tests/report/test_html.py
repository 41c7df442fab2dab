"""The report as a page: words marked that were removed or added, both setup sheets where they differ, nothing left out that the text says."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from verifier import review
from verifier.machines import generic_lathe, load_machine, load_setup
from verifier.report import CAUTION, to_html, to_text
from verifier.report.marked import marked
from verifier.report.web import rule_words

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
SLEEVE = (SHOP / "programs" / "flanged-sleeve" / "base.nc").read_bytes()


def test_removed_words_are_struck_through_and_added_ones_underlined() -> None:
    page = to_html(review(SLEEVE, SLEEVE.replace(b"Z-46. F0.3", b"Z-46. F0.6")))
    assert "G90 X58.6 Z-46. <del>F0.3</del>" in page and "G90 X58.6 Z-46. <ins>F0.6</ins>" in page
    style = page[page.index("<style>") : page.index("</style>")]
    assert re.search(r"del \{[^}]*line-through", style) and re.search(r"ins \{[^}]*underline", style)
    assert CAUTION.replace("'", "&#39;") in page


def test_a_block_that_went_is_struck_through_whole() -> None:
    page = to_html(review(SLEEVE, SLEEVE.replace(b"G50 S1800\n", b"", 1).replace(b"G50 S1800\r\n", b"", 1)))
    assert "<del>G50 S1800</del>" in page and "taken out" in page


def test_the_setup_sheet_of_the_base_is_named_where_it_differs() -> None:
    machine = load_machine(SHOP / "machines" / "north-lathe.toml")
    sheets = [load_setup(SHOP / "setups" / name, machine) for name in ("drive-shaft.toml", "flanged-sleeve.toml")]
    report = review(SLEEVE, SLEEVE, machine=machine, setup=sheets[1], old_setup=sheets[0])
    assert report.old_setup
    assert f"(base with {report.old_setup.name})" in to_html(
        report
    ) and f"(base with {report.old_setup.name})" in to_text(report)
    assert "base with" not in to_html(review(SLEEVE, SLEEVE, machine=machine, setup=sheets[1]))


def test_the_machine_of_the_base_is_named_where_it_differs() -> None:
    north = load_machine(SHOP / "machines" / "north-lathe.toml")
    page = to_html(review(SLEEVE, SLEEVE, machine=north, old_machine=generic_lathe()))
    assert f"(base on {generic_lathe().name})" in page


def test_programs_that_may_not_belong_together_are_told_on_the_page_too() -> None:
    other = b"%\nO7\nG90 X1. Z1.\nG01 X2.1 F0.11\nX3.1\nX4.1\nX5.1\nX6.1\nM30\n%\n"
    report = review(SLEEVE, other)
    assert "may not belong together" in to_text(report) and "may not belong together" in to_html(report)
    assert "may not belong together" not in to_html(review(SLEEVE, SLEEVE))


def test_the_first_screen_holds_seven_cards_and_the_rest_follows() -> None:
    edited = SLEEVE
    for text in (
        b"X58.6",
        b"X54.2",
        b"X50.\n",
        b"X45.8",
        b"G97 S420",
        b"G50 S1800",
        b"Z-52. Q8000",
        b"X40.469",
        b"M09",
        b"T0909",
    ):
        edited = edited.replace(text, text.replace(b"5", b"6").replace(b"0", b"1").replace(b"9", b"8"), 1)
    report = review(SLEEVE, edited)
    assert len(report.cards) > 7
    page = to_html(report)
    assert f"Further edits ({len(report.cards) - 7})" in page
    assert page.index("Further edits") < page.index(f'<span class="number">{8}</span>')
    assert page.count('<section class="card') == len(report.cards)


def test_a_reason_is_told_in_words() -> None:
    assert rule_words("speed-clamp-removed") == "the speed clamp is removed"
    assert rule_words("speed clamp: G50 S1800 removed") == "speed clamp: G50 S1800 removed"


BLOCKS = st.lists(st.text(alphabet="GXZFM0123. -()AZ", max_size=24), max_size=5)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(BLOCKS, BLOCKS)
def test_marking_loses_no_letter_and_marks_nothing_that_both_share(old: list[str], new: list[str]) -> None:
    before, after = marked(old, new)
    assert ["".join(text for text, _ in parts) for parts in before] == old
    assert ["".join(text for text, _ in parts) for parts in after] == new
    if old == new:
        assert not any(differs for parts in (*before, *after) for _, differs in parts)


def test_a_very_long_block_is_marked_as_a_whole() -> None:
    long = "X1." * 5000
    (before,), (after,) = marked([long], [long + "Z2."])
    assert before == ((long, True),) and after == ((long + "Z2.", True),)
