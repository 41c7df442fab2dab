"""The canonical form under every digest: exact, without binary floats, and without the digest itself."""

import hashlib
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

import pytest

from verifier.machines import FrozenMap, content_digest
from verifier.machines.reading import parse_toml


@dataclass(frozen=True)
class Sample:
    length: Fraction
    when: date
    table: FrozenMap[str, int | None]
    digest: str = ""


def test_digest_is_sha_256_of_the_rfc_8785_bytes() -> None:
    # The bytes are written by hand: keys sorted, no blanks, the field named digest left out.
    sample = Sample(Fraction(1, 40), date(2026, 3, 2), FrozenMap({"b": None, "a": 1}), "anything")
    written = b'{"length":"1/40","table":{"a":1,"b":null},"when":"2026-03-02"}'
    assert content_digest(sample) == hashlib.sha256(written).hexdigest()


def test_a_float_has_no_canonical_form() -> None:
    with pytest.raises(TypeError):
        content_digest({"length": 0.1})


def test_numbers_are_read_exactly() -> None:
    assert Fraction(parse_toml(b"x = 0.1", "t")["x"]) == Fraction(1, 10)


def test_a_byte_order_mark_and_dos_line_ends_are_read() -> None:
    assert parse_toml(b"\xef\xbb\xbfx = 1\r\ny = 2\r\n", "t") == {"x": 1, "y": 2}
