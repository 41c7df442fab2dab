"""Hostile text: reading stays linear, and deep or long things are flaws, never a crash."""

from __future__ import annotations

import pytest

from tests.work import calls
from verifier.source import LINE_LIMIT, read_source
from verifier.syntax import canonical_words, parse
from verifier.syntax.program import PROBLEM_LIMIT
from verifier.syntax.reading import FLAW_LIMIT

_SIZE = 24_000
_HOSTILE = {
    "brackets": "[",
    "round brackets": "(",
    "closing brackets": ")",
    "pairs of round brackets": "(()",
    "comment openings with text": "(a",
    "commas": ",",
    "sequence letters": "N",
    "lone sequence letters": "N ",
    "hashes": "#",
    "signs": "-",
    "points": ".",
    "digits": "1",
    "words": "X1.5",
    "words with two points": "X1.2.3",
    "letters O": "O",
    "letters O and digits": "X1O",
    "print statements without an end": "DPRNT[",
    "unknown statements without an end": "ABC[A]B[",
    "slashes": "/",
    "conflict marks": "<",
    "semicolons": ";",
    "look-alike characters": "X１",
    "conditions": "IF[#1EQ1]",
    "assignments": "#1=1 ",
}
_STATEMENTS = {
    "a long sum": ("#1=1", "+1", ""),
    "signs in an expression": ("X[", "-", "1]"),
    "a variable of variables": ("X", "#", "1"),
    "nested brackets": ("X", "[", "1"),
    "a long logic chain": ("IF[1", "OR1", "]GOTO5"),
    "a long product": ("#1=1", "*1", ""),
}


def _repeated(unit: str, size: int) -> bytes:
    return (unit * (size // len(unit.encode()))).encode()


def _read(data: bytes) -> None:
    program = parse(read_source(data))
    canonical_words(program)
    assert len(program.blocks) <= 1


@pytest.mark.parametrize("name", _HOSTILE)
def test_a_hostile_line_takes_work_in_proportion_to_its_length(name: str) -> None:
    """Four times the length may take up to six times the calls: far from sixteen, with room for what is done once."""
    quarter, whole = (_repeated(_HOSTILE[name], size) for size in (_SIZE // 4, _SIZE))
    _read(b"X1")  # the grammar is built once in a process
    assert calls(lambda: _read(whole)) <= 6 * calls(lambda: _read(quarter))


@pytest.mark.parametrize("name", _STATEMENTS)
def test_a_statement_that_is_too_deep_is_a_flaw(name: str) -> None:
    before, unit, after = _STATEMENTS[name]
    line = before + unit * ((_SIZE - 20) // len(unit)) + after
    program = parse(read_source(line.encode()))
    (block,) = program.blocks
    assert {flaw.code for flaw in block.flaws} & {"expression-too-deep", "bracket-depth"}
    assert repr(block)  # no recursion error in whatever prints, compares or hashes it
    assert hash(block.macros) == hash(block.macros)


def test_an_expression_at_the_limit_can_be_walked() -> None:
    line = "X" + "[-" * 64 + "1" + "]" * 64
    (block,) = parse(read_source(line.encode())).blocks
    assert not block.flaws
    assert repr(block)


def test_the_longest_plain_line_is_read() -> None:
    line = b"X1Z2" * (LINE_LIMIT // 4)
    program = parse(read_source(line))
    assert len(program.blocks[0].words) == LINE_LIMIT // 2


def test_many_distinct_odd_lines_take_work_in_proportion() -> None:
    def program(lines: int) -> bytes:
        return b"".join(b"#%d=#%d+%d.5\n" % (n, n + 1, n) for n in range(lines))

    few, many = read_source(program(500)), read_source(program(2000))
    parse(few)
    assert calls(lambda: parse(many)) <= 6 * calls(lambda: parse(few))


def test_a_number_of_thousands_of_digits_is_a_flaw() -> None:
    (block,) = parse(read_source(b"X" + b"9" * 5000)).blocks
    assert [flaw.code for flaw in block.flaws] == ["number-too-long"]


def test_many_faults_in_a_block_end_in_one_that_covers_the_rest() -> None:
    (block,) = parse(read_source(b"X1" + b")" * 1000)).blocks
    assert len(block.flaws) == FLAW_LIMIT + 1
    assert block.flaws[-1].message == f"{1000 - FLAW_LIMIT} more faults up to the end of the block"
    assert block.flaws[-1].span.column + block.flaws[-1].span.length == 1003


def test_many_problems_of_a_program_end_in_one_that_counts_the_rest() -> None:
    lines = PROBLEM_LIMIT + 500
    program = parse(read_source(b"X1)\n" * lines))
    assert len(program.problems) == PROBLEM_LIMIT + 1
    assert program.problems[-1].message == "500 more problems in the lines up to this one"
    assert all(block.flaws for block in program.blocks[:: lines // 7])
