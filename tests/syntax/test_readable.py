"""A text that holds no block is refused where a program is handed in; a short program is one."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from verifier.source import SourceRefused, read_source
from verifier.syntax import parse_program

ROOT = Path(__file__).parents[2]
REAL = ROOT.parent / "shared" / "corpus"

_TEXTS = {
    "a grocery list": b"Milk 2 litres\nBread\n6 eggs\nButter, 250 g\n",
    "a letter": b"Dear all,\n\nthe meeting is at 9 in room 3.\n\nRegards\n",
    "a table": b"name,size,count\nbush,42.5,3\npin,10,8\n",
    "source code": Path(__file__).read_bytes(),
    "settings": (ROOT / "pyproject.toml").read_bytes(),
    "a page": (ROOT / "README.md").read_bytes(),
    "one word": b"HELLO",
    "settings with notes only": b"; nothing set here\n; size = 3\n",
}
_PROGRAMS = {
    "an end": b"%\nO1\nM30\n%\n",
    "one move": b"X10.",
    "a variable": b"#1=5\n",
    "one good block among bad ones": b"G0X-4.5.Z0.\nGO1 Z-60\nG00 Z,15\nM30\n",
    "bare notes between few blocks": b"roughing pass\nG00 X10.\nfinishing pass\nturn the bar round\nM30\n",
    "notes alone": b"%\n(SPARE)\n%\n",
}


@pytest.mark.parametrize("text", _TEXTS.values(), ids=_TEXTS)
def test_what_holds_no_block_is_refused(text: bytes) -> None:
    with pytest.raises(SourceRefused, match="does not read as a program") as refused:
        parse_program(read_source(text))
    problem = refused.value.problems[0]
    assert problem.code == "no-program" and problem.hint and problem.span.line >= 1


@pytest.mark.parametrize("text", _PROGRAMS.values(), ids=_PROGRAMS)
def test_a_short_or_a_faulty_program_is_one(text: bytes) -> None:
    assert parse_program(read_source(text)).source.data == text


def test_bytes_at_random_are_refused() -> None:
    """But for one in thousands, which happens to hold a word and a note behind it."""
    chance, taken = random.Random(20), []
    for _ in range(2000):
        try:
            taken.append(parse_program(read_source(chance.randbytes(20))).source.data)
        except SourceRefused:
            continue
    assert len(taken) <= 1, taken


@pytest.mark.skipif(not REAL.is_dir(), reason="no real programs beside the checkout")
def test_real_programs_are_taken() -> None:
    for path in sorted(REAL.glob("**/*.nc")):
        parse_program(read_source(path.read_bytes()))


def test_every_program_of_the_fixtures_is_taken() -> None:
    for path in sorted((ROOT / "fixtures").glob("**/*.nc")):
        if "refused" not in path.name:
            parse_program(read_source(path.read_bytes()))
