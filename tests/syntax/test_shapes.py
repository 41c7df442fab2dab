"""Reading by line shape gives exactly what Lark gives line by line."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings

from tests.syntax.oracle import assert_same
from tests.syntax.strategies import PROGRAMS
from verifier.source import read_source
from verifier.syntax import Program, parse, shapes

# Makes every junk text a program, and control characters too few for a binary file.
_HEAD = "(" + "A NOTE THAT IS LONG ENOUGH " * 40 + ")\n"


def _read(text: str) -> Program:
    return parse(read_source((_HEAD + text).encode("utf-8")))


@given(PROGRAMS)
@settings(max_examples=400, deadline=None)
@example("1")
@example("  5")
@example("N60 (2D CHAMFER (2))")
@example("G0X1;G1X2;")
@example("X     10")
@example(".5\nX1.")
@example("X1\r\n\r\nX2\n\rX3")
def test_the_fast_lane_is_equal_to_lark(text: str) -> None:
    assert_same(_read(text))


@given(PROGRAMS)
@settings(max_examples=60, deadline=None)
def test_where_the_text_is_cut_into_stretches_changes_nothing(text: str) -> None:
    whole = _read(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shapes, "_STEP", 7)
        cut = _read(text)
    assert list(cut.blocks) == list(whole.blocks)
    assert_same(cut)


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-8-sig"])
def test_other_encodings_change_no_column_of_a_word(encoding: str) -> None:
    text = "O1 (GRÖSSE Ø 40)\nG01 (ø) X40. Z-30.\n(Ä) G02 X1.\n"
    program = parse(read_source(text.encode(encoding)))
    assert_same(program)
    assert [[word.column for word in block.words] for block in program.blocks] == [[1], [1, 9, 14], [5, 9]]


def test_each_shape_is_parsed_once_however_often_it_comes() -> None:
    once = parse(read_source(b"N1 G01 X1. Z2. F.2\n(note 1)\nM30\n"))
    often = parse(read_source(b"".join(b"N%d G01 X%d.5 Z-2. F.2\n" % (n, n) for n in range(500)) + b"(note 2)\nM30\n"))
    assert once.lark_parses == 2
    assert often.lark_parses == 2


def test_each_distinct_odd_line_is_parsed_once() -> None:
    program = parse(read_source(b"#1=#1+2.\nIF [#1 LT 50.] GOTO 10\n" * 300))
    assert program.lark_parses == 4  # two shapes, then two lines
    assert len(program.blocks) == 600
    assert not program.columns.plain.any()


def test_plain_lines_stay_plain_whatever_their_comments_and_line_end_marks() -> None:
    program = parse(read_source(b"G01 X1. (a) ;\nG01 X1. ; a\nX 1. Z\t2.;\n"))
    assert program.columns.plain.all()
    assert [comment.text for comment in program.comments] == ["a", " a"]
