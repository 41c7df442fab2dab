"""Whether a text reads as a program at all: other texts, and bytes at random, hold no block that a control would run."""

from __future__ import annotations

import numpy as np

from verifier.source import Problem, Source, SourceRefused, Span
from verifier.syntax.program import Program, parse
from verifier.syntax.words import Block

_SAYS_LITTLE = "NO"
"""Letters of words that are numbers only: a block needs more to be one that does something."""
_CODES = "GMT"


def parse_program(source: Source) -> Program:
    """Reads a program that somebody hands in. Raises SourceRefused where it holds blocks and none that a control would run.

    A text in which few blocks read, by chance and without a code, is none either. Notes in brackets alone are a program without a block, and
    told as one.
    """
    program = parse(source)
    reason = _no_program(program)
    if reason is not None:
        raise SourceRefused([reason])
    return program


def _no_program(program: Program) -> Problem | None:
    columns = program.columns
    count, plain = len(columns.line), int(columns.plain.sum())
    if not count:
        return None if any(note.kind == "bracket" for note in program.comments) else _problem(1, some=False)
    if 2 * plain > count:
        return None  # most of its lines hold words with numbers and nothing else
    flawed, sound, codes = 0, 0, 0
    for index in range(count):
        block = program.blocks[index]
        flawed += bool(block.flaws)
        sound += _does_something(block)
        codes += _does_something(block) and _has_code(block)
        if codes or (sound and sound > count // 2):
            return None
    if not flawed or sound > flawed:
        return None
    return _problem(int(columns.line[int(np.argmin(columns.plain))]), some=sound > 0)


def _problem(line: int, *, some: bool) -> Problem:
    what = "next to none of its lines is a block" if some else "none of its lines is a block"
    return Problem(
        "no-program",
        Span(line, 1),
        f"this does not read as a program: {what} that a control would run",
        expected="blocks of words, each an address letter and a number",
        hint="is it the right file?",
    )


def _does_something(block: Block) -> bool:
    words = any(word.letter not in _SAYS_LITTLE for word in block.words)
    return not block.flaws and (words or bool(block.macros))


def _has_code(block: Block) -> bool:
    return bool(block.macros) or any(word.letter in _CODES for word in block.words)
