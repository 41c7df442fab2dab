"""Real programs of many hands: all are read, and each line that holds anything to run is a block."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.syntax.oracle import assert_same
from verifier.source import read_path
from verifier.syntax import block_text, check_code, parse

_CORPUS = Path(__file__).resolve().parents[3] / "shared" / "corpus"
_FILES = sorted(_CORPUS.rglob("*.nc"))
_NOTHING = re.compile(r"(?:\s|%|;(?:.*)|\([^()]*\)|\x00|\x1a)*")

pytestmark = pytest.mark.skipif(not _FILES, reason=f"the collection of real programs is not at {_CORPUS}")


def test_each_line_that_is_not_blank_or_a_comment_is_a_block() -> None:
    for path in _FILES[::3]:
        source = read_path(path)
        program = parse(source)
        covered = {block.line for block in program.blocks}
        texts = {n: source.line_text(n) for n in range(1, source.line_count + 1)}
        missed = {n: text for n, text in texts.items() if not _NOTHING.fullmatch(text) and n not in covered}
        assert all(
            "(" in text and any(p.span.line == n and p.code == "nested-comment" for p in program.problems)
            for n, text in missed.items()
        ), (path, missed)


def test_reading_them_by_shape_is_equal_to_lark() -> None:
    for path in _FILES[::25]:
        assert_same(parse(read_path(path)))


def test_each_has_a_check_code_and_a_text_for_each_block() -> None:
    for path in _FILES[::10]:
        program = parse(read_path(path))
        assert len(check_code(program)) == 8
        assert all(block_text(block) for block in program.blocks)
