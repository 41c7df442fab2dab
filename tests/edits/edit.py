"""One edit of a program's lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from tests.edits.words import Line


@dataclass(frozen=True, slots=True)
class Edit:
    """A kind of edit and the edited text."""

    kind: str
    text: str


Maker = Callable[[Sequence[Line]], Iterator[str]]


def replaced(lines: Sequence[Line], at: int, *texts: str, count: int = 1) -> str:
    """The program with `count` lines from `at` on replaced by these."""
    return "\n".join([*(line.text for line in lines[:at]), *texts, *(line.text for line in lines[at + count :])])
