"""What can't be a program is refused with a reason; what is only odd is not."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import random
import tarfile
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.source import LINE_LIMIT, SIZE_LIMIT, Source, SourceRefused, read_source

_PROGRAM = b"%\r\nO0007 (BUSH)\r\nG21 G18 G99\r\nG00 X42. Z2.\r\nM30\r\n%\r\n"


def _reason(data: bytes) -> tuple[str, int, int]:
    with pytest.raises(SourceRefused) as refusal:
        read_source(data)
    problem = refusal.value.problems[0]
    assert problem.expected
    assert problem.message in str(refusal.value)
    return problem.code, problem.span.line, problem.span.column


def _zip() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(zipfile.ZipInfo("O0007.NC"), _PROGRAM)
    return file.getvalue()


def _tar() -> bytes:
    file = io.BytesIO()
    with tarfile.open(fileobj=file, mode="w") as archive:
        archive.addfile(tarfile.TarInfo("O0007.NC"), io.BytesIO())
    return file.getvalue()


@pytest.mark.parametrize(
    ("code", "data"),
    [
        *(
            ("empty", data)
            for data in (
                b"",
                b"%",
                b"%\n%\n",
                b" \t\r\n",
                bytes(100),
                b"\x7f" * 20 + b"%\r\n" + bytes(20),
                b"\xef\xbb\xbf",
            )
        ),
        *(
            ("archive", data)
            for data in (
                _zip(),
                _tar(),
                gzip.compress(_PROGRAM, mtime=0),
                bz2.compress(_PROGRAM),
                lzma.compress(_PROGRAM),
            )
        ),
        *(
            ("document", data)
            for data in (
                b"%PDF-1.7\n%\xe2\xe3",
                b"\n%!PS-Adobe-3.0",
                b"{\\rtf1 G00}",
                b"<!DOCTYPE html><p>G00",
                b"<HTML>",
                b"<?xml version='1.0'?>",
            )
        ),
        *(
            ("document", data)
            for data in (b"\x89PNG\r\n\x1a\n\x00", b"\xff\xd8\xff\xe0\x00", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00")
        ),
        *(("binary", data) for data in (b"\x7fELF\x02\x01", b"MZ\x90\x00\x03", random.Random(1).randbytes(4000))),
        *(
            ("utf-16", _PROGRAM.decode().encode(name))
            for name in ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-be")
        ),
    ],
)
def test_bytes_that_are_no_program_are_refused_by_kind(code: str, data: bytes) -> None:
    assert _reason(data)[0] == code


def test_a_zero_byte_inside_the_text_is_refused_at_its_place() -> None:
    assert _reason(b"G00 X1.\r\nG01 \x00Z2.\r\n") == ("binary", 2, 5)


@pytest.mark.parametrize("odd", [False, True])
def test_a_raw_tape_with_parity_is_refused(odd: bool) -> None:
    data = bytes(byte | 0x80 if (byte.bit_count() & 1) ^ odd else byte for byte in _PROGRAM)
    assert _reason(data)[0] == "tape-parity"


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1))
def test_text_is_never_taken_for_a_tape_or_a_binary_file(text: str) -> None:
    source = read_source(("(" + text + ")").encode())
    assert source.line_text(1) == "(" + text + ")"


def test_a_program_at_the_size_limit_is_taken_and_one_byte_more_is_not() -> None:
    data = b"G00 X1.\n" * (SIZE_LIMIT // 8)
    assert read_source(data).line_count == SIZE_LIMIT // 8
    assert _reason(data + b"\n") == ("too-large", 1, 1)


def test_a_line_at_the_limit_is_taken_and_one_byte_more_is_not() -> None:
    line = b"(" + b"A" * (LINE_LIMIT - 2) + b")"
    assert read_source(b"G00\r\n" + line + b"\r\nM30").line_count == 3
    assert _reason(b"G00\r\n" + line + b" \r\nM30") == ("line-too-long", 2, LINE_LIMIT + 1)


def test_all_lines_that_are_too_long_are_named() -> None:
    line = b"A" * (LINE_LIMIT + 1)
    with pytest.raises(SourceRefused) as refusal:
        read_source(line + b"\nG00\n" + line)
    assert [problem.span.line for problem in refusal.value.problems] == [1, 3]


@pytest.mark.parametrize(
    "data",
    [
        _PROGRAM,
        bytes(50) + _PROGRAM + bytes(50),
        b"\x7f\x7f" + _PROGRAM,
        b"\xef\xbb\xbf" + _PROGRAM,
        b"\x11" + _PROGRAM + b"\x13\x14",
        b"(\xb0\xd8\xfc)\n" + _PROGRAM,
        "(Größe Ø 40 ± 0,1)\n".encode() + _PROGRAM,
        b"(\x81\x8d \x88\xea\x94\xd4)\nG00",
        b"G00 X1.\x1b\x07\x08\n",
        _PROGRAM + b"\x1a",
        b"X",
        b"hello",
        b"(ONLY A NOTE)",
        b"%\nM30",
        b"<<<<<<< HEAD\nG00\n",
        b"PK 1\n",
        ("X１" * 50).encode(),
        b"3" * 40 + b"\xe1",
        b"MZ\n",
        _PROGRAM.replace(b"\r\n", b"\r\r\n"),
    ],
)
def test_what_is_only_odd_is_taken_byte_for_byte(data: bytes) -> None:
    source = read_source(data)
    assert isinstance(source, Source)
    assert source.data == data
