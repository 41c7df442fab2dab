"""Promise 4, second half: exchanging the two programs exchanges added and removed, new and gone, before and after; a digest is a digest."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.programs import ROOT, corpus, machine, name_of, needs_corpus, shop_pairs
from tests.properties.render import Form, text
from tests.properties.reviewing import compared, lathe, review
from tests.properties.sizes import FACTOR, few
from tests.properties.strategies import jobs
from verifier.compare import Comparison
from verifier.findings.registry import rule
from verifier.findings.rule import ChangeRule
from verifier.machines import Machine
from verifier.report import ChangeReport

_SIDES = {"added": "removed", "removed": "added"}


def assert_mirrored(old: bytes, new: bytes, on: Machine | None = None) -> None:
    forth, back = compared(old, new, on), compared(new, old, on)
    assert (forth.verdict, forth.position, forth.tolerance) == (back.verdict, back.position, back.tolerance)
    assert _differences(forth) == _differences(back, exchanged=True)
    there, here = review(old, new, on), review(new, old, on)
    assert there.verdict == here.verdict
    assert _rows(there) == _rows(here, exchanged=True)
    assert _changes(there) == _changes(here, exchanged=True)
    assert _hazards(there) == _hazards(here, exchanged=True)


def _differences(comparison: Comparison, *, exchanged: bool = False) -> Counter[object]:
    found: Counter[object] = Counter()
    for effect in comparison.effects:
        causes = [comparison.edit(k) if k >= 0 else None for k in effect.causes]
        blocks = sorted((("new", e.new), ("old", e.old)) if e else () for e in causes)
        for difference in effect.differences:
            before, after, field = difference.before, difference.after, difference.field
            where = tuple(tuple(entry) for entry in blocks)
            if exchanged:
                before, after, field = after, before, _SIDES.get(field, field)
                where = tuple(sorted((("new", e.old), ("old", e.new)) if e else () for e in causes))
            found[(field, repr(before), repr(after), effect.left, effect.position, effect.certain, where)] += 1
    return found


def _rows(report: ChangeReport, *, exchanged: bool = False) -> Counter[object]:
    if exchanged:
        return Counter((row.new, row.old, _SIDES.get(row.kind, row.kind)) for row in report.blocks)
    return Counter((row.old, row.new, row.kind) for row in report.blocks)


def _changes(report: ChangeReport, *, exchanged: bool = False) -> Counter[object]:
    """Findings about the difference: rule (of the exchanged one its mirror), before and after."""
    found: Counter[object] = Counter()
    for finding in report.findings:
        kind = rule(finding.rule)
        if isinstance(kind, ChangeRule):
            if exchanged:
                found[(kind.mirror, finding.after, finding.before, finding.position)] += 1
            else:
                found[(finding.rule, finding.before, finding.after, finding.position)] += 1
    return found


def _hazards(report: ChangeReport, *, exchanged: bool = False) -> Counter[object]:
    """Hazards: rule, status (of the exchanged one the other way round), and how often."""
    other = {"new": "gone", "gone": "new"} if exchanged else {}
    return Counter(
        (finding.rule, other.get(str(finding.status), str(finding.status)))
        for finding in report.findings
        if not isinstance(rule(finding.rule), ChangeRule)
    )


@few(24)
@given(jobs(skips=True), st.integers(0, 2**32), st.integers(1, 3))
def test_exchanging_a_generated_pair_mirrors_everything(job: Job, seed: int, count: int) -> None:
    random, other = Random(seed), job
    for _ in range(count):
        other = random.choice(list(mutations(other)))[1]
    assert_mirrored(text(job), text(other, Form(repeat_motion=0.2, incremental=0.1), seed=seed))


@pytest.mark.parametrize(("old", "new"), shop_pairs(), ids=name_of)
def test_exchanging_a_pair_of_the_demo_shop_mirrors_everything(old: Path, new: Path) -> None:
    on = machine("dock-lathe" if "clamp-stud" in old.parts else "north-lathe")
    assert_mirrored(old.read_bytes(), new.read_bytes(), on)


def test_exchanging_a_real_pair_mirrors_everything() -> None:
    needs_corpus()
    pairs = [folder for folder in corpus("pairs/*") if (folder / "old.nc").stat().st_size < 12_000]
    for folder in pairs if FACTOR > 1 else pairs[::8]:
        try:
            assert_mirrored((folder / "old.nc").read_bytes(), (folder / "new.nc").read_bytes())
        except AssertionError as error:
            raise AssertionError(str(folder)) from error


_DIGESTS = """
import sys
from pathlib import Path
from verifier import review
old, *others = [Path(name).read_bytes() for name in sys.argv[1:]]
print([review(old, new).digest for new in others])
"""


def test_the_digest_is_the_same_in_every_process() -> None:
    paths = [str(path) for path in sorted((ROOT / "fixtures/shop/programs/drive-shaft").glob("*.nc"))]
    outputs = set()
    for hash_seed in ("1", "2024"):
        done = subprocess.run(
            [sys.executable, "-c", _DIGESTS, *paths],
            cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": hash_seed}, capture_output=True, text=True, check=True,
        )  # fmt: skip
        outputs.add(done.stdout)
    assert len(outputs) == 1
    assert outputs.pop().count("'") == 2 * (len(paths) - 1)


def test_the_digest_says_nothing_of_names_and_all_of_the_rest() -> None:
    from verifier.source import read_source

    old, new = (ROOT / "fixtures/shop/programs/drive-shaft" / name for name in ("base.nc", "decimal-point-lost.nc"))
    plain = review(old.read_bytes(), new.read_bytes())
    named = review(read_source(old.read_bytes(), "one.nc"), read_source(new.read_bytes(), "two.nc"))  # type: ignore[arg-type]
    assert plain.digest == named.digest
    assert plain.digest != review(new.read_bytes(), old.read_bytes()).digest
    assert plain.digest != review(old.read_bytes(), new.read_bytes() + b"\n").digest
    assert plain.digest != review(old.read_bytes(), new.read_bytes(), machine("north-lathe")).digest
    assert lathe().digest != machine("north-lathe").digest
