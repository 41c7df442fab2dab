"""TOML files: read exactly (no binary floats), refused with a line that names the file and what was expected."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import rfc8785

from verifier.source import MachineError

_MOST_BYTES = 1 << 20


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of one TOML file with numbers as int or Decimal; MachineError where it cannot be read or is not
    TOML.
    """
    try:
        with path.open("rb") as handle:
            data = handle.read(_MOST_BYTES + 1)
    except OSError as error:
        raise MachineError([f"{path}: got no readable file ({error.strerror}), expected a TOML file"]) from error
    return parse_toml(data, str(path))


def parse_toml(data: bytes, label: str) -> dict[str, Any]:
    """The tables of TOML bytes; `label` names the file in the mistake that MachineError carries."""
    if len(data) > _MOST_BYTES:
        raise MachineError([f"{label}: got more than {_MOST_BYTES} bytes, expected a TOML file of at most 1 MiB"])
    try:
        return tomllib.loads(data.decode("utf-8-sig"), parse_float=Decimal)
    except UnicodeDecodeError as error:
        raise MachineError([f"{label}: got bytes that are not UTF-8 at {error.start}, expected UTF-8 text"]) from error
    except (ValueError, RecursionError) as error:
        raise MachineError([f"{label}: got text that is not TOML ({error}), expected valid TOML"]) from error


def plain(value: Any) -> Any:
    """A value of the engine as JSON values: numbers that need not be whole become exact text, dataclasses and
    mappings objects.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value) if f.name != "digest"}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int):
        # RFC 8785 knows whole numbers only as far as every reader of JSON holds them exactly.
        return value if abs(value) < 2**53 else str(value)
    raise TypeError(f"no canonical form for {type(value).__name__}")


def content_digest(value: Any) -> str:
    """SHA-256, in hexadecimal, over the RFC 8785 form of a value; a field named `digest` is left out."""
    return hashlib.sha256(rfc8785.dumps(plain(value))).hexdigest()
