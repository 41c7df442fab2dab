"""Lines end where a control ends a block, with any mix of line ends, and no byte is lost."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.source import read_source
from verifier.source.lines import find_lines


def _lines(data: bytes) -> list[bytes]:
    lines = find_lines(data)
    return [data[int(a) : int(b)] for a, b in zip(lines.starts, lines.ends, strict=True)]


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r", b"\r\r\n", b"\n\r\r", b"\n\r"])
def test_each_kind_of_line_end_ends_one_line(end: bytes) -> None:
    assert _lines(end.join([b"G00", b"X1.", b"M30"])) == [b"G00", b"X1.", b"M30"]
    assert _lines(end.join([b"G00", b"X1.", b"M30"]) + end) == [b"G00", b"X1.", b"M30"]
    if end != b"\n\r":  # two of these in a row are also LF, CR LF, CR: there the count of blank lines is a guess
        assert _lines(b"G00" + end + end + b"X1.") == [b"G00", b"", b"X1."]


@pytest.mark.parametrize(
    ("data", "count"),
    [
        (b"a\nb\r\nc\rd", 4),
        (b"a\n\r\nb", 3),
        (b"a\r\n\nb", 3),
        (b"a\r\n\r\r\nb", 3),
        (b"\n", 1),
        (b"a", 1),
        (b"\na", 2),
        (b"a\x0bb\x0cc\x85d\xe2\x80\xa8e", 1),
    ],
)
def test_mixed_line_ends_count_as_a_person_would(data: bytes, count: int) -> None:
    assert len(_lines(data)) == count


@given(st.lists(st.sampled_from([b"\n", b"\r", b"\r\n", b"X1", b"G"])).map(b"".join))
def test_lines_and_line_ends_together_are_all_the_bytes(data: bytes) -> None:
    lines = find_lines(data)
    parts = [data[int(a) : int(c)] for a, c in zip(lines.starts, lines.nexts, strict=True)]
    assert b"".join(parts) == data
    ends = [data[int(b) : int(c)] for b, c in zip(lines.ends, lines.nexts, strict=True)]
    assert all(re.fullmatch(rb"[\r\n]*", end) and len(end) <= 3 for end in ends)
    assert not any(re.search(rb"[\r\n]", line) for line in _lines(data))


@given(st.lists(st.sampled_from([b"G00", b"", b"X1.", b"M30"]), min_size=1), st.booleans())
def test_the_quick_way_through_usual_line_ends_is_the_slow_one(lines: list[bytes], last: bool) -> None:
    for end in (b"\n", b"\r\n"):
        data = end.join(lines) + (end if last else b"")
        spans = [match.span() for match in re.finditer(rb"\r?\n", data)]
        found = find_lines(data)
        assert [(int(a), int(b)) for a, b in zip(found.ends, found.nexts, strict=True) if b > a] == spans


def test_a_change_of_line_ends_is_told_once_at_the_first_odd_one() -> None:
    source = read_source(b"G00\r\nX1.\r\nZ2.\nM05\nM30\r\n")
    (problem,) = source.problems
    assert (problem.code, problem.span.line) == ("mixed-line-ends", 3)
    assert "LF" in problem.message
    assert not read_source(b"G00\r\nX1.\r\nM30").problems
