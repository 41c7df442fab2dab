"""Two profiles, or two setup sheets, key by key: where they differ, and one of them with a single key taken from the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from fractions import Fraction
from typing import Any, TypeVar

from verifier.machines import FrozenMap, Machine, Setup, content_digest, shown

_NO_KEYS = frozenset(("name", "title", "digest", "verified"))
"""What takes no part in how a machine behaves, nor in what stands on it."""
_MISSING = object()

T = TypeVar("T", Machine, Setup)


@dataclass(frozen=True, slots=True)
class Outside:
    """One key in which what lies outside the texts differs: `what` is "profile" or "setup sheet", `before` and `after` as in the file,
    None where the key is not there.
    """

    what: str
    path: tuple[str | int, ...]
    before: str | None
    after: str | None

    @property
    def key(self) -> str:
        """The key as the file has it, dotted."""
        return ".".join(map(str, self.path)) or "(whole sheet)"

    @property
    def told(self) -> str:
        """The key and its values in words."""
        return f"{self.what}, {self.values}"

    @property
    def values(self) -> str:
        """The key with its values."""
        return f"{self.key}: was {self.before or 'not there'}; now {self.after or 'not there'}"


def differing(what: str, old: Machine | Setup | None, new: Machine | Setup | None) -> tuple[Outside, ...]:
    """Every key in which two profiles or sheets differ, in the order of the model."""
    return tuple(Outside(what, path, _value(before), _value(after)) for path, before, after in _walk(old, new, ()))


def _walk(old: Any, new: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Any, Any]]:
    if old is new or old == new:
        return
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for key in sorted({*old, *new}, key=str):
            yield from _walk(old.get(key, _MISSING), new.get(key, _MISSING), (*path, key))
    elif is_dataclass(old) and type(old) is type(new):
        for field in fields(old):
            if path or field.name not in _NO_KEYS:
                yield from _walk(getattr(old, field.name), getattr(new, field.name), (*path, field.name))
    else:
        yield path, old, new


def _value(value: Any) -> str | None:
    if value is None or value is _MISSING:
        return None
    if is_dataclass(value):
        told = {f.name: getattr(value, f.name) for f in fields(value) if f.name != "digest"}
        return ", ".join(f"{name} {_value(part)}" for name, part in told.items() if part not in (None, "", ()))
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_value(part)}" for key, part in value.items()) or None
    if isinstance(value, tuple):
        return ", ".join(filter(None, map(_value, value))) or None
    if isinstance(value, Fraction | bool):
        return shown(value)
    return str(value) or None


def with_key(one: T | None, other: T | None, path: tuple[str | int, ...]) -> T | None:
    """`one` with the value that `other` has at a key. A key of `differing` always leads somewhere in one of them."""
    if not path or one is None or other is None:
        return other
    changed = _with(one, other, path)
    return replace(changed, digest=content_digest((changed, "one key changed")))  # type: ignore[no-any-return]


def _with(one: Any, other: Any, path: tuple[str | int, ...]) -> Any:
    if not path:
        return other
    key, rest = path[0], path[1:]
    if isinstance(one, Mapping):
        value = _with(one.get(key, _MISSING), other.get(key, _MISSING), rest)
        kept = {name: part for name, part in one.items() if name != key}
        if value is not _MISSING:
            kept[key] = value
        order = [*(name for name in one if name in kept), *(name for name in kept if name not in one)]
        return FrozenMap((name, kept[name]) for name in order)
    return replace(one, **{str(key): _with(getattr(one, str(key)), getattr(other, str(key)), rest)})
