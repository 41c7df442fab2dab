"""The JSON form keeps its contract field by field, its places are true, and its digest is that of its canonical form."""

from __future__ import annotations

import json
from collections import Counter
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.programs import SHOP, machine, name_of, shop_pairs, shop_programs
from tests.properties.render import text
from tests.properties.reviewing import lathe, program, review
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from tests.report.contract import CHECKED, COMPARED, REFUSED
from verifier.machines import load_setup
from verifier.report import ChangeReport, error_json, examine, to_json
from verifier.report import review as review_with
from verifier.source import SourceRefused


def as_json(report: ChangeReport) -> dict[str, Any]:
    """The form as a reader gets it: through text and back."""
    found: dict[str, Any] = json.loads(json.dumps(to_json(report), allow_nan=False))
    return found


def assert_places_are_true(form: dict[str, Any], old: bytes, new: bytes) -> None:
    """Line and block belong together; a note on a line of its own goes with a block beside it."""
    sides = {"old": program(old), "new": program(new)}
    lines = {name: side.columns.line.tolist() for name, side in sides.items()}
    notes = {name: {note.line for note in side.comments} for name, side in sides.items()}
    for place in _places(form):
        assert lines[place["side"]][place["block"]] == place["line"] or place["line"] in notes[place["side"]]
        row = sides[place["side"]].source.line_bytes(place["line"])
        assert place["column"] <= len(row) + 1


def _places(value: Any) -> list[dict[str, Any]]:
    if isinstance(value, list):
        return [place for part in value for place in _places(part)]
    if isinstance(value, dict):
        if {"side", "block", "line"} <= set(value):
            return [value]
        return [place for part in value.values() for place in _places(part)]
    return []


@pytest.mark.parametrize(("old", "new"), shop_pairs(), ids=name_of)
def test_reports_of_the_demo_shop_keep_the_contract(old: Path, new: Path) -> None:
    on = machine("dock-lathe" if "clamp-stud" in old.parts else "north-lathe")
    form = as_json(review(old.read_bytes(), new.read_bytes(), on))
    COMPARED(form, "report")
    assert_places_are_true(form, old.read_bytes(), new.read_bytes())


@few(12)
@given(jobs(skips=True), st.integers(0, 2**16))
def test_reports_of_generated_pairs_keep_the_contract(job: Job, seed: int) -> None:
    found = list(mutations(job))
    old, new = text(job), text(found[seed % len(found)][1])
    form = as_json(review(old, new))
    COMPARED(form, "report")
    assert_places_are_true(form, old, new)
    assert Counter(row["old"] is None for row in form["blocks"])[False] == form["old"]["blocks"]
    assert Counter(row["new"] is None for row in form["blocks"])[False] == form["new"]["blocks"]


@pytest.mark.parametrize("path", shop_programs(), ids=lambda path: path.stem)
def test_a_program_without_a_base_keeps_the_contract_with_its_nulls(path: Path) -> None:
    on = machine("dock-lathe" if "clamp-stud" in path.parts else "north-lathe")
    form = as_json(examine(path.read_bytes(), machine=on))
    CHECKED(form, "report")
    assert form["sign_off"]["reasons"][0] == "first submission"
    assert {finding["status"] for finding in form["findings"]} <= {"new"}
    assert_places_are_true(form, path.read_bytes(), path.read_bytes())


def test_a_refused_file_is_an_object_of_its_problems() -> None:
    tried = 0
    for path in sorted((SHOP.parent / "damaged").glob("refused-*.nc")):
        with pytest.raises(SourceRefused) as caught:
            program(path.read_bytes())
        form = json.loads(json.dumps(error_json(list(caught.value.problems))))
        REFUSED(form, path.stem)
        assert form["problems"]
        tried += 1
    assert tried >= 5


def test_the_digest_is_that_of_the_canonical_form_without_digest_names_and_caution() -> None:
    """RFC 8785 for objects of text, whole numbers, true, false and null is JSON with sorted keys and no spaces (ASCII keys)."""
    old, new = (SHOP / "programs/drive-shaft" / name for name in ("base.nc", "decimal-point-lost.nc"))
    form = as_json(review(old.read_bytes(), new.read_bytes()))
    digest = form.pop("digest")
    for name in ("schema", "caution"):
        del form[name]
    for name in ("old", "new"):
        del form[name]["name"]
    plain = json.dumps(form, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    assert sha256(plain).hexdigest() == digest


def test_the_digest_binds_the_setup_sheets_of_both_sides() -> None:
    on = machine("north-lathe")
    sheets = [load_setup(SHOP / "setups" / f"{name}.toml", on) for name in ("drive-shaft", "flanged-sleeve")]
    data = (SHOP / "programs/drive-shaft/base.nc").read_bytes()
    plain = review_with(data, data, machine=on, setup=sheets[0])
    other = review_with(data, data, machine=on, setup=sheets[0], old_setup=sheets[1])
    assert plain.old_setup is None
    assert other.old_setup is not None
    assert other.old_setup.digest == sheets[1].digest
    assert len({plain.digest, other.digest, review_with(data, data, machine=on).digest}) == 3


def test_every_number_of_the_form_is_whole_so_that_every_reader_reads_the_same() -> None:
    old, new = (SHOP / "programs/drive-shaft" / name for name in ("base.nc", "thread-depth-mistyped.nc"))

    def floats(value: Any) -> list[float]:
        if isinstance(value, float):
            return [value]
        parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        return [found for part in parts for found in floats(part)]

    assert floats(to_json(review(old.read_bytes(), new.read_bytes(), lathe()))) == []
