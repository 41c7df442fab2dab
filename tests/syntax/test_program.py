"""A program as a whole: its blocks as a sequence, comments and problems in order, tape marks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.syntax.strategies import PROGRAMS
from verifier.source import SourceRefused, read_source
from verifier.syntax import Program, canonical_words, parse

_TEXT = b"%\nO0007 (BUSH)\n(SETUP)\n\nN10 G00 X42. ; start\n/2 M01\nGO1\n#1=2\nM30\n%\n"


def _codes(data: bytes) -> list[tuple[str, int]]:
    return [(p.code, p.span.line) for p in parse(read_source(data)).problems]


def test_blocks_count_over_lines_that_hold_something_to_run_or_something_unreadable() -> None:
    blocks = parse(read_source(_TEXT)).blocks
    assert [(block.index, block.line) for block in blocks] == [(0, 2), (1, 5), (2, 6), (3, 7), (4, 8), (5, 9)]


def test_blocks_are_a_sequence() -> None:
    blocks = parse(read_source(_TEXT)).blocks
    assert len(blocks) == 6
    assert blocks[-1] == blocks[5]
    assert list(blocks[1:3]) == [blocks[1], blocks[2]]
    assert blocks[0] in blocks
    for index in (6, -7):
        with pytest.raises(IndexError):
            blocks[index]


def test_equal_lines_share_their_words() -> None:
    blocks = parse(read_source(b"G01 X1.\nM01\nG01 X1.\n")).blocks
    assert blocks[0].words is blocks[2].words


def test_comments_come_in_order_those_of_lines_without_a_block_too() -> None:
    comments = parse(read_source(_TEXT)).comments
    assert [(c.text, c.line, c.column, c.kind) for c in comments] == [
        ("BUSH", 2, 7, "bracket"),
        ("SETUP", 3, 1, "bracket"),
        (" start", 5, 14, "semicolon"),
    ]


def test_problems_of_the_file_and_of_its_text_come_in_one_order() -> None:
    assert _codes(b"\x00G21\nGO1\nM03\r\nX1.2.3\nX\n\x7f") == [
        ("tape-leader", 1),
        ("letter-o-for-zero", 2),
        ("mixed-line-ends", 3),
        ("two-points", 4),
        ("number-without-digits", 5),
        ("tape-leader", 6),
    ]


@pytest.mark.parametrize(
    ("data", "codes"),
    [
        (b"%\nO1\nM30\n%\n", []),
        (b"%\nO1\nM30%", []),
        (b"%O1\nM30\n%%\n", []),
        (b"O1\nM30\n%\n", []),
        (b"(NOTE)\n%\nO1\nM30\n", []),
        (b"O1\nM30\n", []),
        (b"%\nO1\nM30\n%\nG00 X1.\n", [("text-after-end", 5)]),
        (b"O1\nM30\n%\nG00 X1.\n", [("text-after-end", 4)]),
        (b"G00\n%\nO1\nM30\n%\n", [("text-before-start", 1)]),
        (b"G00\n%\nO1\nM30\n%\nG00", [("text-before-start", 1), ("text-after-end", 6)]),
        (b"%\n%\n(NOTE)\n", []),
    ],
)
def test_blocks_outside_the_per_cent_signs_are_told(data: bytes, codes: list[tuple[str, int]]) -> None:
    assert _codes(data) == codes


def test_a_program_without_blocks_is_a_program() -> None:
    program = parse(read_source(b"(ONLY A NOTE)\n"))
    assert (len(program.blocks), len(program.columns.row), len(program.comments), program.problems) == (0, 1, 1, ())
    assert canonical_words(program) == b""


def test_columns_can_not_be_changed() -> None:
    columns = parse(read_source(_TEXT)).columns
    with pytest.raises(ValueError, match="read-only"):
        columns.mantissa[0] = 1


def _told(program: Program) -> str:
    return repr((list(program.blocks), program.comments, program.problems, program.lark_parses))


@given(PROGRAMS, st.integers(0, 3))
@settings(max_examples=40, deadline=None)
def test_the_order_in_which_blocks_are_asked_for_changes_nothing(text: str, start: int) -> None:
    try:
        source = read_source(text.encode())
    except SourceRefused:
        return
    program = parse(source)
    backwards = [program.blocks[i] for i in reversed(range(len(program.blocks)))]
    assert list(reversed(backwards)) == list(parse(source).blocks)
    assert _told(program) == _told(parse(source))


def test_another_process_with_another_hash_seed_reads_the_same() -> None:
    imports = "from verifier.source import read_source; from verifier.syntax import check_code, parse"
    code = f"{imports}; p = parse(read_source({_TEXT!r})); print(list(p.blocks), p.problems, check_code(p))"
    root = Path(__file__).resolve().parents[2]
    told = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert told[0] == told[1]
    assert b"letter-o-for-zero" in told[0]
