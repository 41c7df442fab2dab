"""A mill's program under a lathe's profile: told first and as one, and what is milled as not checked; no turning program is taken for one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from verifier.findings import Status
from verifier.findings.mill_words import MANY_Y
from verifier.report import examine, review

MILL = b"O1000\nG00 G17 G21 G40 G49 G80 G90\nT1 M06\nS2000 M03\nG00 X0 Y0\nG43 Z5. H01\nG01 Z-2. F100\nX40. Y20.\nM30\n"
CORPUS = Path(__file__).parents[3] / "shared" / "corpus"
RULE = "written-for-a-mill"
MOST_BYTES = 3000


def test_it_stands_in_front_of_all_and_what_is_milled_is_not_checked() -> None:
    report = examine(MILL)
    assert report.findings[0].rule == RULE
    assert report.sign_off.required
    assert [entry.place.line for entry in report.unchecked if entry.what == "milled material" and entry.place] == [2]


def test_it_stands_in_a_comparison_and_is_new_where_a_turning_program_became_one() -> None:
    found = {f.rule: f for f in review(MILL, MILL.replace(b"X40.", b"X41.")).findings}
    assert found[RULE].status is Status.STANDING
    turned = b"O1000\nG21 G99 G97 S900 M03\nT0101\nG00 X62. Z2.\nG01 Z-30. F0.2\nX64.\nM05\nM30\n"
    report = review(turned, MILL)
    assert next(f for f in report.findings if f.rule == RULE).status is Status.NEW


def _short(folder: str) -> list[str]:
    """Real programs of a kind, without notes; none where the folder is absent."""
    paths = (path for path in sorted((CORPUS / folder).glob("*.nc")) if path.stat().st_size < MOST_BYTES)
    return [re.sub(r"\(.*?\)", "", path.read_text("latin-1")) for path in paths]


@pytest.mark.skipif(not CORPUS.is_dir(), reason="the folder of real programs is absent")
def test_real_programs_are_told_apart() -> None:
    """Every real turning program is left alone; every milling program that has Y on some lines is told."""
    assert not [text for text in _short("turning") if RULE in {f.rule for f in examine(text.encode()).findings}]
    mills = [text for text in _short("milling") if len(re.findall(r"^.*Y[-.\d].*$", text, re.M)) >= MANY_Y]
    assert mills
    assert all(examine(text.encode()).findings[0].rule == RULE for text in mills)
