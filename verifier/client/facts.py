"""The service's JSON as the frozen facts it was made from; what does not fit is a StoreError, never a half-filled fact."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, TypeVar

from verifier.records import ChallengeWord, ReleaseFacts
from verifier.source import StoreError

F = TypeVar("F")


def fact(kind: type[F], value: Mapping[str, Any], **more: Any) -> F:
    """A dataclass from an object with the same names; lists become tuples, names that it does not know are left out."""
    known = [field.name for field in fields(kind)]  # type: ignore[arg-type]  # every kind here is a dataclass
    try:
        return kind(**{name: more[name] if name in more else _frozen(value[name]) for name in known})
    except (KeyError, TypeError) as error:
        raise StoreError(
            "the service answered in another form than this version knows", "use equal versions"
        ) from error


def release_fact(value: Mapping[str, Any]) -> ReleaseFacts:
    """A release; the words of its challenge stay with the service."""
    places = tuple(ChallengeWord(str(one["place"]), "") for one in value.get("challenge", ()))
    return fact(ReleaseFacts, value, challenge=places)


def _frozen(value: Any) -> Any:
    return tuple(_frozen(one) for one in value) if isinstance(value, list) else value
