"""Findings and touched words of a machine of another code set: by meaning, in the machine's own codes."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from verifier.findings.examples import lathe
from verifier.machines import Machine
from verifier.report import ChangeReport, examine, review

B, C = lathe(code_set="B"), lathe(code_set="C")
BODY = """O1000 (SPACER)
N1 G00 G21 G40 G54 G90 G97 G95
T0101
G92 S2000
G96 S180 M03
G00 X62. Z2. M08
G77 X58. Z-30. F0.2
X56.
G00 X100. Z50.
M09
M05
G97
M30
"""


def report(old: str, new: str, on: Machine = B) -> ChangeReport:
    return review(old.encode(), new.encode(), machine=on)


def rules(found: ChangeReport) -> set[str]:
    return {finding.rule for finding in found.findings if finding.status == "change"}


def touched(found: ChangeReport) -> Iterable[str]:
    return [touch.text for touch in found.touched]


def in_c(text: str) -> str:
    return text.replace("G77", "G20").replace("G21", "G71")


@pytest.mark.parametrize(("on", "text"), [(B, BODY), (C, in_c(BODY))])
def test_the_clamp_of_another_set_is_a_clamp(on: Machine, text: str) -> None:
    found = report(text, text.replace("G92 S2000\n", ""), on)
    assert "speed-clamp-removed" in rules(found)
    assert "speed clamp: G92 S2000 removed" in touched(found)


@pytest.mark.parametrize(
    ("old", "new", "text", "rule"),
    [
        ("G95", "G94", "feed mode: G95 is now G94", "feed-mode-changed"),
        ("G90", "G91", "coordinates or increments: G90 is now G91", ""),
        ("G21", "G20", "units: G21 is now G20", "units-changed"),
    ],
)
def test_modes_are_touched_by_what_they_mean(old: str, new: str, text: str, rule: str) -> None:
    found = report(BODY, BODY.replace(f" {old} ", f" {new} ").replace(f" {old}\n", f" {new}\n"))
    assert text in touched(found)
    assert not rule or rule in rules(found)


def test_a_cycle_code_of_another_set_is_not_taken_for_a_mode() -> None:
    text = in_c(BODY)
    assert touched(report(text, text.replace("X56.", "G20 X56."), C)) == []


def test_units_of_set_c_are_named_as_the_machine_names_them() -> None:
    found = report(in_c(BODY), in_c(BODY).replace("G71", "G70"), C)
    (told,) = [finding.title for finding in found.findings if finding.rule == "units-changed"]
    assert "G71 became G70" in told


def test_the_same_text_on_a_machine_of_another_set_is_told() -> None:
    rules_of = {finding.rule: finding for finding in examine(BODY.encode(), machine=lathe()).findings}
    assert "another-code-set" in rules_of
    assert rules_of["another-code-set"].title.endswith("G90, G95, G92, G77 for B or C")


def test_what_is_not_established_is_named_in_the_machine_s_codes() -> None:
    found = examine(BODY.replace(" G95", "").encode(), machine=B).findings
    (title,) = [finding.title for finding in found if finding.rule == "mode-not-established"]
    assert "G94 or G95" in title


def test_one_job_in_two_sets_is_the_same_behaviour() -> None:
    """What changes if the job moves to a machine of another code set: nothing, if it is written for it."""
    found = review(BODY.encode(), in_c(BODY).encode(), old_machine=B, machine=C)
    assert found.levels["behaviour"] == "same"
