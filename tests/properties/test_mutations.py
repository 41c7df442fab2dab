"""Promise 5: a mutation that changes what is compared by more than the resolution is never called the same, and a finding names its block.

Whether a mutation means something else is decided from the model alone (`meaning.py`), never by the product.
"""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.properties.covering import assert_nothing_dropped, edits_between
from tests.properties.look import Look, block_text, text_of
from tests.properties.meaning import meaning
from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.render import Form, lines, text
from tests.properties.reviewing import review, shown
from tests.properties.sizes import few
from tests.properties.strategies import KINDS, job_of, jobs


def _drawn(job: Job, random: Random) -> tuple[str, Job]:
    """One mutation that means something else, kinds of mutations drawn before places, so that rare ones come up."""
    places: dict[str, list[Job]] = {}
    for name, other in mutations(job):
        places.setdefault(name, []).append(other)
    meant = meaning(job)
    for name in random.sample(sorted(places), len(places)):
        for other in random.sample(places[name], len(places[name])):
            if meaning(other) != meant:
                return name, other
    raise AssertionError("no mutation of this job means anything else")


@few(60)
@given(jobs(), st.integers(0, 2**32))
def test_a_mutation_that_means_something_else_is_never_the_same(job: Job, seed: int) -> None:
    _assert_told(job, *_drawn(job, Random(seed)))


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_mutation_of_a_sequence_is_told(kind: str) -> None:
    """A job of one kind of sequence, and of each name of mutation the first one that means something else."""
    job = job_of(20, "mm", kinds=(kind,))
    tried = set()
    for name, other in mutations(job):
        if name not in tried and meaning(other) != meaning(job):
            tried.add(name)
            _assert_told(job, name, other)
    assert len(tried) >= 20


def _assert_told(job: Job, name: str, other: Job) -> None:
    before, after = lines(job, Form()), lines(other, Form())
    old, new = text_of(before, Look()), text_of(after, Look())
    assert old != new, name
    report = review(old, new)
    told = f"{name}\n{shown(old, new, report)}"
    assert report.verdict == "changed behaviour", told
    assert report.findings, told
    texts = [[block_text(line, Look(), line.number) for line in side] for side in (before, after)]
    edits = edits_between(old, new)
    named = Counter[str]()
    for number in {k for finding in report.findings for k in finding.edits}:
        edit = edits.edits[number]
        named.update(texts[0][k] for k in edit.old)
        named.update(texts[1][k] for k in edit.new)
    assert named.keys() & _changed(*texts), told
    assert_nothing_dropped(old, new, report)


def _changed(old: list[str], new: list[str]) -> set[str]:
    """The texts of the blocks between what both programs begin with and what both end with."""
    least = min(len(old), len(new))
    head = next((k for k in range(least) if old[k] != new[k]), least)
    tail = next((k for k in range(least - head) if old[-1 - k] != new[-1 - k]), least - head)
    return {*old[head : len(old) - tail], *new[head : len(new) - tail]}


@few(15)
@given(jobs(), st.integers(0, 2**32), st.integers(2, 5))
def test_several_mutations_at_once_are_never_the_same_and_leave_nothing_out(job: Job, seed: int, count: int) -> None:
    random, other = Random(seed), job
    for _ in range(count):
        _, other = _drawn(other, random)
    assume(meaning(other) != meaning(job))
    old, new = text(job), text(other, Form(repeat_motion=0.3, repeat_feed=0.3), seed=seed)
    report = review(old, new)
    assert report.verdict == "changed behaviour", shown(old, new, report)
    assert_nothing_dropped(old, new, report)
