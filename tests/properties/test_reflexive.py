"""Promise 4, first half: a program compared with itself has the same behaviour, no wording changes, and nothing that changed, came or went."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.look import Look
from tests.properties.model import Job
from tests.properties.programs import SHOP, corpus, machine, needs_corpus, shop_programs
from tests.properties.render import Form, text
from tests.properties.reviewing import review, shown, told
from tests.properties.sizes import FACTOR, few
from tests.properties.strategies import jobs
from verifier.machines import Machine
from verifier.source import SourceRefused

CORPUS_SHARE = 5
"""Of the real programs every so many-th is tried by default, all of them in a longer run."""


def assert_nothing_changed(data: bytes, on: Machine | None = None) -> None:
    report = review(data, data, on)
    assert report.verdict == "same behaviour", report.verdict
    assert told(report) == [], shown(data, data, report)
    assert report.wording == ()
    assert report.touched == ()
    assert report.cards == ()
    assert {row.kind for row in report.blocks} <= {"same"}
    assert report.levels == {"wording": "same", "words": "same", "behaviour": "same", "part": report.levels["part"]}
    assert not report.sign_off.required
    assert report.alike == 1 or not report.blocks


@few(16)
@given(jobs(skips=True, repeats=True), st.integers(0, 2**16), st.booleans())
def test_a_generated_program_is_the_same_as_itself(job: Job, seed: int, plain: bool) -> None:
    form = Form() if plain else Form(incremental=0.5, repeat_feed=0.3, arc_by_centre=0.5, one_block=True, shuffle=True)
    assert_nothing_changed(text(job, form, Look(notes=0.2), seed))


@pytest.mark.parametrize("path", shop_programs(), ids=lambda path: path.stem)
def test_every_program_of_the_demo_shop_is_the_same_as_itself(path) -> None:  # type: ignore[no-untyped-def]
    assert_nothing_changed(path.read_bytes(), machine("dock-lathe" if "clamp-stud" in path.parts else "north-lathe"))


def test_every_damaged_file_that_can_be_read_is_the_same_as_itself() -> None:
    tried = 0
    for path in sorted((SHOP.parent / "damaged").glob("*.nc")):
        try:
            assert_nothing_changed(path.read_bytes())
        except SourceRefused:
            continue
        tried += 1
    assert tried > 20


def test_every_real_program_is_the_same_as_itself() -> None:
    needs_corpus()
    paths = [*corpus("turning/*.nc"), *corpus("pairs/*/new.nc")]
    small = [path for path in paths if path.stat().st_size < 40_000]
    for path in small if FACTOR > 1 else small[::CORPUS_SHARE]:
        try:
            assert_nothing_changed(path.read_bytes())
        except SourceRefused:
            continue
        except AssertionError as error:
            raise AssertionError(str(path)) from error
