"""A problem in a program is a value, never an exception: what, where, what was expected, what to try."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one line; line and column count characters from 1."""

    line: int
    column: int
    length: int = 0


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing about a program's text that is wrong or suspicious.

    `code` is a stable id in words; `message` is lower case without a full stop; `text` quotes the offending characters.
    """

    code: str
    span: Span
    message: str
    text: str = ""
    expected: str = ""
    hint: str = ""
