"""A Source keeps the bytes, and gives lines and their characters in whatever encoding they are."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.source import SourceRefused, VerifierError, read_path, read_source


@pytest.mark.parametrize(
    ("data", "encoding", "text"),
    [
        (b"(PLAIN)", "utf-8", "(PLAIN)"),
        ("(Größe)".encode(), "utf-8", "(Größe)"),
        ("\ufeff(Größe)".encode(), "utf-8-sig", "(Größe)"),
        ("(Größe – 40)".encode("cp1252"), "cp1252", "(Größe – 40)"),
        (b"(\xd8 40 \x81)", "latin-1", "(Ø 40 \x81)"),
    ],
)
def test_the_encoding_is_found_and_characters_are_right(data: bytes, encoding: str, text: str) -> None:
    source = read_source(data)
    assert (source.encoding, source.line_text(1)) == (encoding, text)


@given(st.binary(max_size=60))
def test_whatever_is_taken_is_kept_and_each_line_has_characters(data: bytes) -> None:
    try:
        source = read_source(b"(NOTE)\n" + data)
    except SourceRefused:
        return
    assert source.data == b"(NOTE)\n" + data
    assert source.sha256 == hashlib.sha256(source.data).hexdigest()
    for line in range(1, source.line_count + 1):
        assert len(source.line_text(line)) <= len(source.line_bytes(line))


def test_lines_count_from_one_and_end_with_the_last() -> None:
    source = read_source(b"G00\nM30\n")
    assert (source.line_text(1), source.line_text(2), source.line_count) == ("G00", "M30", 2)
    for number in (0, -1, 3):
        with pytest.raises(IndexError):
            source.line_text(number)


def test_blank_tape_is_told_at_its_column_in_characters() -> None:
    problems = read_source(bytes(3) + "M30 (Ø)".encode() + bytes(2)).problems
    assert [(p.code, p.span.line, p.span.column, p.span.length) for p in problems] == [
        ("tape-leader", 1, 1, 3),
        ("tape-leader", 1, 11, 2),
    ]


def test_offsets_can_not_be_changed() -> None:
    source = read_source(b"G00\nM30\n")
    with pytest.raises(ValueError, match="read-only"):
        source.starts[0] = 1


def test_a_missing_file_a_folder_and_an_empty_file_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(VerifierError, match="there is no file"):
        read_path(tmp_path / "absent.nc")
    with pytest.raises(VerifierError, match="is a folder"):
        read_path(tmp_path)
    (tmp_path / "empty.nc").touch()
    with pytest.raises(SourceRefused, match="is empty"):
        read_path(tmp_path / "empty.nc")
    with pytest.raises(VerifierError, match="can't be read"):
        read_path("a\x00b")


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the administrator may read everything")
def test_a_file_that_may_not_be_read_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "locked.nc"
    path.write_bytes(b"G00")
    path.chmod(0)
    with pytest.raises(VerifierError, match="can't be read"):
        read_path(path)


def test_a_file_is_read_as_its_bytes_under_its_name(tmp_path: Path) -> None:
    path = tmp_path / "O0007.NC"
    path.write_bytes(b"G00\r\nM30")
    source = read_path(path)
    assert (source.data, source.name) == (b"G00\r\nM30", str(path))
