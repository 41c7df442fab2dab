"""Bytes become a Source: the exact bytes, their digest, encoding and lines, and what is odd about them as a file."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from verifier.source.encoding import BYTE_ORDER_MARK, find_encoding
from verifier.source.errors import SourceRefused, VerifierError
from verifier.source.lines import Lines, find_lines, mixed_line_ends
from verifier.source.problem import Problem, Span
from verifier.source.refusal import SIZE_LIMIT, refuse, too_long_lines


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One program as it came in.

    `data` is never changed: it is what is stored and released. Line `n` (from 1) is `data[starts[n-1]:ends[n-1]]`,
    without its line end and without a byte order mark. `problems` are about the file; what is in the lines is for the syntax.
    """

    data: bytes
    name: str
    sha256: str
    encoding: str
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    problems: tuple[Problem, ...]

    @property
    def line_count(self) -> int:
        """Number of lines; text behind the last line end counts as one."""
        return len(self.starts)

    def line_bytes(self, number: int) -> bytes:
        """The bytes of line `number`, from 1; IndexError beyond the last."""
        if number < 1:
            raise IndexError(f"line {number}: lines count from 1")
        return self.data[int(self.starts[number - 1]) : int(self.ends[number - 1])]

    def line_text(self, number: int) -> str:
        """The characters of line `number`, from 1; IndexError beyond the last."""
        return self.decode(self.line_bytes(number))

    def decode(self, part: bytes) -> str:
        """Characters of a part of `data` that was cut at line ends or ASCII characters."""
        return part.decode("utf-8" if self.encoding == "utf-8-sig" else self.encoding)


def read_source(data: bytes, name: str = "program") -> Source:
    """Takes the bytes of a program. Raises SourceRefused where they can't be one; accepts all else."""
    reason = refuse(data)
    if reason is not None:
        raise SourceRefused([reason])
    marked = data.startswith(BYTE_ORDER_MARK)
    lines = find_lines(data, len(BYTE_ORDER_MARK) if marked else 0)
    long = too_long_lines(lines)
    if long:
        raise SourceRefused(long)
    for offsets in (lines.starts, lines.ends):
        offsets.flags.writeable = False
    encoding = find_encoding(data)
    problems = _file_problems(data, lines, marked, encoding)
    return Source(data, name, hashlib.sha256(data).hexdigest(), encoding, lines.starts, lines.ends, problems)


def read_path(path: str | os.PathLike[str]) -> Source:
    """Takes the program in a file. VerifierError where there is none to read, SourceRefused where it is no program."""
    place = Path(path)
    if place.is_dir():
        raise VerifierError(f"{place} is a folder, not a program", "give the file itself")
    try:
        with place.open("rb") as file:
            data = file.read(SIZE_LIMIT + 1)
    except FileNotFoundError as error:
        raise VerifierError(f"there is no file {place}", "check the name and the folder") from error
    except (OSError, ValueError) as error:
        raise VerifierError(f"{place} can't be read: {error}", "check the name and who may read it") from error
    return read_source(data, str(place))


def _file_problems(data: bytes, lines: Lines, marked: bool, encoding: str) -> tuple[Problem, ...]:
    found = [*_leaders(data, lines, encoding), mixed_line_ends(data, lines)]
    if marked:
        hint = "many controls stop at it or show it as odd characters; save as UTF-8 without a byte order mark"
        message = "the file starts with a byte order mark"
        found.append(Problem("byte-order-mark", Span(1, 1), message, expected="text from the first byte", hint=hint))
    if encoding in ("cp1252", "latin-1"):
        found.append(_not_utf_8(data, lines))
    kept = [problem for problem in found if problem is not None]
    return tuple(sorted(kept, key=lambda problem: (problem.span.line, problem.span.column, problem.code)))


def _leaders(data: bytes, lines: Lines, encoding: str) -> list[Problem]:
    """Blank tape (NUL, or DEL: all holes punched) before the first and behind the last character."""
    fill = b"\x00\x7f"
    head = len(data) - len(data.lstrip(fill))
    tail = len(data) - len(data.rstrip(fill))
    expected, hint = "text only", "harmless on a tape; in a file some controls stop at it"
    found = []
    if head:
        message = f"blank tape before the program: {head} rows"
        found.append(Problem("tape-leader", Span(1, 1, head), message, expected=expected, hint=hint))
    if tail:
        at = len(data) - tail
        line = int(np.searchsorted(lines.starts, at, "right")) - 1
        column = len(data[int(lines.starts[line]) : at].decode(encoding)) + 1
        message = f"blank tape behind the program: {tail} rows"
        found.append(Problem("tape-leader", Span(line + 1, column, tail), message, expected=expected, hint=hint))
    return found


def _not_utf_8(data: bytes, lines: Lines) -> Problem:
    at = int(np.flatnonzero(np.frombuffer(data, np.uint8) >= 0x80)[0])
    line = int(np.searchsorted(lines.starts, at, "right")) - 1
    return Problem(
        "not-utf-8",
        Span(line + 1, at - int(lines.starts[line]) + 1, 1),
        f"byte 0x{data[at]:02X} is not UTF-8; characters beyond ASCII are shown as Windows-1252 or Latin-1",
        expected="ASCII, or UTF-8",
        hint="what the control shows for such a character depends on the control; plain letters are safe",
    )
