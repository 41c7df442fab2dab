"""Promises 2 and 3: nothing is dropped, and nothing is unexplained: every effect names an edit, or the profile where the profiles differ."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.properties.covering import assert_nothing_dropped
from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.programs import corpus, machine, name_of, needs_corpus, shop_pairs, shop_programs
from tests.properties.render import Form, text
from tests.properties.reviewing import compared, lathe, review, told
from tests.properties.sizes import FACTOR, few
from tests.properties.strategies import jobs
from verifier.compare import PROFILE, Comparison
from verifier.machines import FrozenMap, Machine


def whole_units() -> Machine:
    """The generic lathe that reads a number without a point as whole units."""
    return replace(
        lathe(), choices=FrozenMap({**lathe().choices, "number-without-point": "whole-units"}), digest="whole units"
    )


def assert_explained(comparison: Comparison, *, one_profile: bool = True) -> None:
    for effect in comparison.effects:
        assert effect.causes, effect
        assert effect.differences
        for cause in effect.causes:
            assert (PROFILE if not one_profile else 0) <= cause < len(comparison.edits.edits), effect
    if not comparison.edits.edits and one_profile:
        assert comparison.effects == ()


@few(16)
@given(jobs(skips=True), st.integers(0, 2**32), st.integers(1, 4))
def test_every_effect_of_a_mutation_names_its_edits_and_no_block_is_dropped(job: Job, seed: int, count: int) -> None:
    random, other = Random(seed), job
    for _ in range(count):
        other = random.choice(list(mutations(other)))[1]
    old, new = text(job), text(other, Form(repeat_feed=0.3, redundant_rapid=0.1), seed=seed)
    assert_explained(compared(old, new))
    assert_nothing_dropped(old, new, review(old, new))


@few(10)
@given(jobs(kinds=("turn", "finish", "groove", "face")), jobs(kinds=("turn", "finish", "drill", "thread")))
def test_two_programs_that_have_nothing_to_do_with_each_other_are_explained_too(one: Job, other: Job) -> None:
    old, new = text(one), text(other)
    assert_explained(compared(old, new))
    assert_nothing_dropped(old, new, review(old, new))


@pytest.mark.parametrize(("old", "new"), shop_pairs(), ids=name_of)
def test_pairs_of_the_demo_shop_are_explained_and_leave_nothing_out(old: Path, new: Path) -> None:
    on = machine("dock-lathe" if "clamp-stud" in old.parts else "north-lathe")
    assert_explained(compared(old.read_bytes(), new.read_bytes(), on))
    report = review(old.read_bytes(), new.read_bytes(), on)
    assert_nothing_dropped(old.read_bytes(), new.read_bytes(), report, on)


def test_real_pairs_are_explained_and_leave_nothing_out() -> None:
    needs_corpus()
    pairs = [folder for folder in corpus("pairs/*") if (folder / "old.nc").stat().st_size < 12_000]
    for folder in pairs if FACTOR > 1 else pairs[3::8]:
        old, new = ((folder / name).read_bytes() for name in ("old.nc", "new.nc"))
        try:
            assert_explained(compared(old, new))
            assert_nothing_dropped(old, new, review(old, new))
        except AssertionError as error:
            raise AssertionError(str(folder)) from error


# -- the profile ------------------------------------------------------------------------------------------------------------


@few(15)
@given(jobs(kinds=("turn", "finish", "groove"), units=("mm",)), st.integers(0, 2**16))
def test_what_another_reading_of_numbers_does_is_laid_to_the_profile(job: Job, seed: int) -> None:
    data = text(job, seed=seed).replace(b". ", b" ").replace(b".\n", b"\n")
    comparison = compared(data, data, whole_units(), lathe())
    assume(comparison.effects)
    assert comparison.verdict == "changed behaviour"
    assert_explained(comparison, one_profile=False)
    assert {effect.causes for effect in comparison.effects} == {(PROFILE,)}
    assert [f for f in told(review(data, data, whole_units(), lathe())) if f.covers]


@few(15)
@given(jobs(units=("mm",)), st.integers(0, 2**16))
def test_a_program_that_writes_every_point_is_the_same_whatever_a_number_without_one_means(job: Job, seed: int) -> None:
    comparison = compared(text(job, seed=seed), text(job, seed=seed), whole_units(), lathe())
    moved = {e.field for e in comparison.effects if e.field in ("x", "z", "kind", "arc", "added", "removed", "order")}
    assert moved == set()


@pytest.mark.parametrize("path", shop_programs(), ids=lambda path: path.stem)
def test_a_job_moved_to_the_other_lathe_of_the_demo_shop_names_the_profile(path: Path) -> None:
    data = path.read_bytes()
    comparison = compared(data, data, machine("dock-lathe"), machine("north-lathe"))
    assert_explained(comparison, one_profile=False)
    assert all(effect.causes == (PROFILE,) for effect in comparison.effects)
    if path.name != "base.nc":
        return  # the report tries every key that differs: once for each part is enough
    report = review(data, data, machine("dock-lathe"), machine("north-lathe"))
    assert report.old_machine is not None
    assert report.old_machine.name == "north-lathe"
    assert {k for finding in report.findings for k in finding.covers} >= set(range(len(comparison.effects)))


def test_an_edit_elsewhere_is_not_blamed_for_what_the_profile_does() -> None:
    old = b"G21\nG99 G97 S800 M03\nT0101\nG00 X60. Z2.\nG01 Z-10. F0.2\nX62.\nG00 X100. Z50.\nG01 X40 F0.1\nG00 X100. Z50.\nM30\n"
    new = old.replace(b"F0.2", b"F0.3")
    comparison = compared(old, new, whole_units(), lathe())
    by_field = {effect.field: effect.causes for effect in comparison.effects}
    assert by_field["feed"] == (0,)
    assert PROFILE in by_field["x"]
