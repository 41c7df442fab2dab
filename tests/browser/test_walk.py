"""From an empty folder to a confirmed, drifted, recalled program, by clicking and typing only; and what each page must be on the way."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest
from browser_look import contrast, hexed

from verifier.report import CAUTION, web_bytes, web_names

if TYPE_CHECKING:
    from conftest import Walk

STATES = 50


def test_the_whole_way_is_walked_and_every_state_is_looked_at(walked: Walk) -> None:
    assert len(walked.seen) >= STATES
    assert {one.who for one in walked.seen} == {"Administrator A", "Programmer P", "Lead L", "Operator O"}


def test_no_browser_complained_and_nothing_came_from_elsewhere(walked: Walk) -> None:
    assert walked.heard.console == []
    assert walked.heard.broken == []
    assert walked.heard.hosts == {urlsplit(walked.server.base).netloc}


def test_no_page_is_wider_than_a_phone_or_a_tablet(walked: Walk) -> None:
    wide = {one.name: one.wider for one in walked.seen if any(one.wider.values())}
    assert wide == {}


def test_every_field_has_a_label_and_every_choice_a_question(walked: Walk) -> None:
    assert {one.name: one.facts["bare"] for one in walked.seen if one.facts["bare"]} == {}
    assert {one.name: one.facts["radios"] for one in walked.seen if one.facts["radios"]} == {}
    assert {one.name: one.facts["twice"] for one in walked.seen if one.facts["twice"]} == {}


def test_headings_are_in_order(walked: Walk) -> None:
    for one in walked.seen:
        levels = [level for level, _ in one.facts["headings"]]
        assert levels[0] == 1 and levels.count(1) == 1, one.name
        assert all(after - before <= 1 for before, after in pairwise(levels)), (one.name, levels)
        assert all(text for _, text in one.facts["headings"]), one.name


def test_every_page_has_its_language_its_title_one_main_part_and_nothing_inline(walked: Walk) -> None:
    for one in walked.seen:
        assert one.facts["lang"] == "en" and one.facts["main"] == 1, one.name
        assert one.facts["title"].endswith(" · Program verification") and len(one.facts["title"]) > 25, one.name
        assert one.facts["inline"] == [], one.name


def test_all_text_can_be_read_against_what_it_stands_on(walked: Walk) -> None:
    """4.5 : 1 is what WCAG 2.2 asks of text (success criterion 1.4.3, level AA)."""
    pairs = {pair: text for one in walked.seen for pair, text in one.facts["pairs"].items()}
    assert len(pairs) >= 6
    assert {pair: (text, contrast(pair)) for pair, text in pairs.items() if contrast(pair) < 4.5} == {}


def test_every_page_with_a_verdict_shows_the_caution(walked: Walk) -> None:
    with_verdict = [one for one in walked.seen if one.facts["verdict"]]
    assert len(with_verdict) > 15
    for one in with_verdict:
        assert CAUTION in one.facts["caution"], one.name


def test_every_refusal_says_what_to_do_next(walked: Walk) -> None:
    refused = {one.state: one.facts["refused"] for one in walked.seen if one.facts["refused"]}
    assert {"first-wrong-code", "machine-files-refused", "submit-refused", "decision-wrong-pin"} <= set(refused)
    for state, boxes in refused.items():
        assert all(len(re.findall(r"[.!?](?:\s|$)", box)) >= 2 for box in boxes), (state, boxes)


def test_what_drifted_is_told_wherever_somebody_would_run_it(walked: Walk) -> None:
    for state in ("at-machine-drift", "readback-differs", "at-machine-readback-differs", "not-written"):
        assert "Do not run it." in walked.of(state)["text"], state
    for state in ("at-machine-confirmed-weak", "at-machine-confirmed-strong"):
        assert "Do not run it" not in walked.of(state)["text"], state
    assert "The file is at the machine" not in walked.of("at-machine-drift")["text"]
    assert "Edited" in walked.of("home-drift")["text"] and "Edited" in walked.of("machine-drift")["text"]
    assert "Stop: O2102 revision 2 is recalled" in walked.of("at-machine-recalled")["text"]


def test_the_report_leads_with_one_card_an_edit_and_marks_the_words(walked: Walk) -> None:
    text = walked.of("report-lead")["text"]
    heads = [head for _, head in walked.of("report-lead")["headings"]]
    first, part = heads.index("Edits"), next(k for k, head in enumerate(heads) if head.startswith("Finished part"))
    assert (
        part - first == 3
        and part < heads.index("Prove-out list")
        and "critical" in heads[first + 1]
        and "major" in heads[first + 2]
    )
    assert "Feed changed from 0.3 mm/rev to 0.6 mm/rev (doubled)" in text
    assert "Speed clamp removed: 1800 rev/min before, none now" in text


def test_a_decision_that_was_refused_keeps_what_was_typed_but_no_secret(walked: Walk) -> None:
    assert "clamp stands in the setup sheet" not in walked.of("report-lead")["text"]
    assert walked.of("decision-untick")["refused"]
    for one in walked.seen:
        for secret in ("402817", "118243", "907755", "336190", "slow feed at dawn", "two lamps and a bell"):
            assert secret not in one.facts["text"], one.name


def test_contrast_is_computed_as_the_standard_defines_it() -> None:
    """Black on white is 21 : 1 by the definition; #767676 on white is the lightest grey with 4.5 : 1 (4.54, from memory)."""
    assert contrast("rgb(0, 0, 0) on rgb(255, 255, 255)") == pytest.approx(21)
    assert contrast(f"{hexed('#767676')} on {hexed('#fff')}") == pytest.approx(4.54, abs=0.005)
    assert contrast(f"{hexed('#777777')} on {hexed('#fff')}") < 4.5


@pytest.mark.parametrize("sheet", sorted(name for name in web_names("static") if name.endswith(".css")))
def test_every_rule_that_sets_both_colours_can_be_read(sheet: str) -> None:
    """States that no walk sees, such as a button under the pointer: by the style sheet itself."""
    text = web_bytes(f"static/{sheet}").decode()
    named = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6})", web_bytes("static/site.css").decode()))
    for rule in re.findall(r"\{([^{}]*)\}", text):
        given = {
            key: named.get(value, value)
            for key, value in re.findall(r"(?<![-\w])(color|background): (?:var\(--)?(#?\w+)", rule)
        }
        colours = [given.get(key, "") for key in ("color", "background")]
        if all(colour.startswith("#") for colour in colours):
            assert contrast(f"{hexed(colours[0])} on {hexed(colours[1])}") >= 4.5, rule
