"""What is not a program at all and is refused: nothing, too much, other kinds of files, other codes on the tape.

Each check gives the problem that refuses the bytes, or None. Everything else is accepted, with problems.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from verifier.source.encoding import BYTE_ORDER_MARK, find_encoding
from verifier.source.lines import Lines
from verifier.source.problem import Problem, Span

SIZE_LIMIT = 64 * 1024 * 1024
"""Bytes in one program."""
LINE_LIMIT = 64 * 1024
"""Bytes in one line, without its line end."""

_FILL = b"\x00\x7f \t\r\n"
_NOTHING = b"\x00\x7f \t\r\n%\x11\x12\x13\x14"
_ARCHIVES = (
    (b"PK\x03\x04", "a zip archive"),
    (b"PK\x05\x06", "a zip archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a rar archive"),
    (b"\x28\xb5\x2f\xfd", "a zstandard archive"),
    (b"\x04\x22\x4d\x18", "an lz4 archive"),
)
_DOCUMENTS = (
    (b"%PDF-", "a PDF document"),
    (b"%!PS", "a PostScript document"),
    (b"{\\rtf", "a rich text document"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document"),
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"SQLite format 3\x00", "a database"),
    (b"<?xml", "an XML document"),
    (b"<!doctype", "an HTML document"),
    (b"<html", "an HTML document"),
)
_EXECUTABLES = ((b"\x7fELF", "an executable"), (b"MZ\x90\x00", "an executable"), (b"\xca\xfe\xba\xbe", "an executable"))
_TAR_MARK, _TAR_AT = b"ustar", 257
_EIA_END_OF_BLOCK = 0x80  # RS-244: the one code with only hole 8


def refuse(data: bytes) -> Problem | None:
    """The reason why these bytes can't be a program, or None. The most telling reason comes first."""
    for check in _CHECKS:
        problem = check(data)
        if problem is not None:
            return problem
    return None


def too_long_lines(lines: Lines) -> list[Problem]:
    """A problem for each line over the limit."""
    over = np.flatnonzero(lines.ends - lines.starts > LINE_LIMIT)
    return [
        Problem(
            "line-too-long",
            Span(int(i) + 1, LINE_LIMIT + 1),
            f"line {int(i) + 1} has {int(lines.ends[i] - lines.starts[i])} bytes, the limit is {LINE_LIMIT}",
            expected=f"at most {LINE_LIMIT} bytes in a line",
            hint="the line ends may have been lost; save the program again from where it was written",
        )
        for i in over
    ]


def _at(data: bytes, offset: int) -> Span:
    """Line and column of a byte, for files whose lines nobody will read: bytes count as characters."""
    before = data[:offset].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return Span(before.count(b"\n") + 1, len(before) - (before.rfind(b"\n") + 1) + 1, 1)


def _too_large(data: bytes) -> Problem | None:
    if len(data) <= SIZE_LIMIT:
        return None
    return Problem(
        "too-large",
        Span(1, 1),
        f"the program has {len(data)} bytes, the limit is {SIZE_LIMIT}",
        expected=f"at most {SIZE_LIMIT} bytes",
        hint="split the program, or call its parts as subprograms",
    )


def _kind(data: bytes, code: str, table: tuple[tuple[bytes, str], ...]) -> Problem | None:
    head = data.removeprefix(BYTE_ORDER_MARK).lstrip(_FILL if code == "document" else b"")[:64]
    for mark, what in table:
        if head.startswith(mark) or (mark.islower() and head.lower().startswith(mark)):
            hint = (
                "unpack it and submit the program itself" if code == "archive" else "submit the program itself, as text"
            )
            return Problem(code, Span(1, 1, 1), f"this is {what}, not a program", expected="program text", hint=hint)
    return None


def _archive(data: bytes) -> Problem | None:
    if data[_TAR_AT : _TAR_AT + len(_TAR_MARK)] == _TAR_MARK and b"\x00" in data[:_TAR_AT]:
        return _kind(b"tar" + data, "archive", ((b"tar", "a tar archive"),))
    return _kind(data, "archive", _ARCHIVES)


def _document(data: bytes) -> Problem | None:
    return _kind(data, "document", _DOCUMENTS)


def _executable(data: bytes) -> Problem | None:
    return _kind(data, "binary", _EXECUTABLES)


def _utf_16(data: bytes) -> Problem | None:
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff"))
    body = data.strip(b"\x00") if not marked else data
    every_other = False
    if not marked and len(body) >= 3 and b"\x00" in body:
        raw = np.frombuffer(body, np.uint8)
        every_other = any(float((raw[k::2] == 0).mean()) > 0.7 for k in (0, 1))
    if not marked and not every_other:
        return None
    return Problem(
        "utf-16",
        Span(1, 1, 1),
        "the file is in UTF-16 or UTF-32, which no control reads",
        expected="ASCII, UTF-8, Latin-1 or Windows-1252",
        hint="save it as plain text in UTF-8",
    )


def _empty(data: bytes) -> Problem | None:
    if data.removeprefix(BYTE_ORDER_MARK).strip(_NOTHING):
        return None
    what = (
        "the file is empty"
        if not data
        else "the file holds nothing but blanks, line ends, tape leader or per cent signs"
    )
    return Problem(
        "empty",
        Span(1, 1),
        what,
        expected="at least one block or comment",
        hint="was it saved, and is it the right file?",
    )


def _tape_code(data: bytes) -> Problem | None:
    """ISO code with a parity hole, or EIA code: recognised by the parity that all rows share."""
    if find_encoding(data).startswith("utf-8"):  # a tape's bytes are no UTF-8, but some UTF-8 has the parity of a tape
        return None
    raw = np.frombuffer(data, np.uint8)
    rows = raw[(raw != 0) & (raw != 0x7F) & (raw != 0xFF)]
    high = rows >= 0x80
    if not len(rows) or not high.any():
        return None
    odd = (np.unpackbits(rows.reshape(-1, 1), axis=1).sum(axis=1) & 1).astype(np.bool_)
    stripped = rows & 0x7F
    printable = (stripped >= 0x20) | np.isin(stripped, (9, 10, 13, 17, 18, 19, 20))
    share = float(high.mean())
    if share > 0.1 and printable.all() and (odd.all() or not odd.any()):
        kind = "odd" if odd.all() else "even"
        return _tape_problem(f"every character carries {kind} parity in its eighth bit: a raw ISO tape")
    if odd.all() and (rows == _EIA_END_OF_BLOCK).any() and (rows < 0x20).any():
        return _tape_problem("the file is in EIA tape code")
    return None


def _tape_problem(message: str) -> Problem:
    return Problem(
        "tape-parity",
        Span(1, 1, 1),
        message,
        expected="characters without parity, in ASCII",
        hint="let the reader or transfer software convert the tape, then submit what it gives",
    )


def _binary(data: bytes) -> Problem | None:
    body = data.strip(_FILL)
    zero = body.find(b"\x00")
    if zero >= 0:
        offset = data.find(body) + zero
        return _binary_problem(_at(data, offset), "there is a zero byte inside the text")
    raw = np.frombuffer(body, np.uint8)
    odd = (raw < 0x20) & ~np.isin(raw, (9, 10, 11, 12, 13, 17, 18, 19, 20))
    count = int(odd.sum())
    if count < 4 or count * 10 < len(raw):
        return None
    offset = data.find(body) + int(np.flatnonzero(odd)[0])
    return _binary_problem(_at(data, offset), f"{count} of {len(raw)} bytes are control characters")


def _binary_problem(span: Span, message: str) -> Problem:
    hint = "is it the right file, and was it transferred as text?"
    return Problem("binary", span, f"this is not text: {message}", expected="program text", hint=hint)


_CHECKS: tuple[Callable[[bytes], Problem | None], ...] = (
    _too_large,
    _archive,
    _document,
    _executable,
    _utf_16,
    _empty,
    _tape_code,
    _binary,
)
