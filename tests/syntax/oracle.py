"""The slow way to read a program, as the oracle for the fast one: every line whole, through Lark, by itself."""

from __future__ import annotations

from typing import NamedTuple

from verifier.source import Problem, Source
from verifier.syntax import Block, Comment, Program
from verifier.syntax.grammar import Counter
from verifier.syntax.reading import moved, on_line, read_line


class Whole(NamedTuple):
    """All that reading finds in the lines of a program."""

    blocks: list[Block]
    comments: list[Comment]
    problems: list[Problem]


def read_whole(source: Source) -> Whole:
    """Reads each line by itself; nothing is shared with the fast lane but the reading of one line."""
    whole = Whole([], [], [])
    for line in range(1, source.line_count + 1):
        reading = read_line(source.line_text(line), Counter())
        if reading.is_block:
            whole.blocks.append(reading.block(len(whole.blocks), line))
        whole.comments.extend(on_line(reading.comments, line))
        whole.problems.extend(moved(reading.problems + reading.flaws, line))
    return whole


def assert_same(program: Program) -> None:
    """The program is what Lark finds line by line, and its columns say the same as its blocks."""
    whole = read_whole(program.source)
    assert list(program.blocks) == whole.blocks
    assert list(program.comments) == whole.comments
    text_only = {p for p in program.problems if p.code not in ("text-after-end", "text-before-start")} - set(
        program.source.problems
    )
    assert text_only == set(whole.problems)
    assert_columns(program)


def assert_columns(program: Program) -> None:
    """Every plain block stands in the columns, number by number; no other block has words there."""
    columns, data = program.columns, program.source.data
    assert len(columns.row) == len(program.blocks) + 1
    for index, block in enumerate(program.blocks):
        low, high = int(columns.row[index]), int(columns.row[index + 1])
        assert int(columns.line[index]) == block.line
        if not columns.plain[index]:
            assert low == high
            continue
        assert not (block.flaws or block.macros or block.skips)
        assert high - low == len(block.words)
        for k, word in zip(range(low, high), block.words, strict=True):
            offset, size = int(columns.offset[k]), int(columns.size[k])
            assert word.number is not None
            assert data[offset : offset + 1 + size].decode() == word.text
            assert chr(columns.letter[k]) == word.letter
            assert (int(columns.mantissa[k]), int(columns.decimals[k])) == (word.number.mantissa, word.number.decimals)
