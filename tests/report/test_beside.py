"""The blocks behind the cards: nothing that differs is left out, equal blocks stand once, and long programs stay quick to show."""

from __future__ import annotations

from pathlib import Path

import pytest

from verifier import review
from verifier.report import Stretch, beside, to_json
from verifier.report.beside import AROUND, MOST

PROGRAMS = Path(__file__).parents[2] / "fixtures" / "shop" / "programs"
PAIRS = sorted(file for file in PROGRAMS.glob("*/*.nc") if file.name != "base.nc")


def shown(old: bytes, new: bytes) -> tuple[tuple[Stretch, ...], int]:
    rows = to_json(review(old, new))["blocks"]
    return beside(old, new, [(row["old"], row["new"], row["kind"]) for row in rows])


@pytest.mark.parametrize("edit", PAIRS, ids=lambda file: file.stem)
def test_every_line_that_differs_is_shown_and_stands_where_it_says(edit: Path) -> None:
    old, new = edit.with_name("base.nc").read_bytes(), edit.read_bytes()
    stretches, left = shown(old, new)
    rows = [row for stretch in stretches for row in stretch.rows]
    lines = old.decode().splitlines(), new.decode().splitlines()
    for row in rows:
        for number, parts, text in ((row.old_line, row.old, lines[0]), (row.new_line, row.new, lines[1])):
            if number is not None:
                assert "".join(part for part, _ in parts) == text[number - 1].strip()
    told = [row for row in to_json(review(old, new))["blocks"] if row["kind"] not in ("same", "wording")]
    assert len([row for row in rows if row.kind not in ("same", "wording")]) == len(told) and left == 0


def test_only_what_is_near_an_edit_is_shown() -> None:
    base = (PROGRAMS / "flanged-sleeve" / "base.nc").read_bytes()
    (stretch,), left = shown(base, base.replace(b"Z-46. F0.3", b"Z-46. F0.6"))
    assert len(stretch.rows) == 2 * AROUND + 1 and left == 0 and stretch.skipped > 0
    changed = next(row for row in stretch.rows if row.kind == "changed")
    assert ("F0.3", True) in changed.old and ("F0.6", True) in changed.new
    assert shown(base, base) == ((), 0)


def test_what_is_too_much_to_show_is_counted() -> None:
    lines = [f"G01 X{k}. F0.1" for k in range(MOST + 100)]
    old = "\n".join(["%", "O1", *lines, "M30", "%"]).encode()
    pairs = [(k, k, "changed") for k in range(MOST + 100)]
    stretches, left = beside(old, old, pairs)
    assert sum(len(stretch.rows) for stretch in stretches) == MOST and left == 100
