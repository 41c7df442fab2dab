"""What a finding is: one thing worth saying, how heavy, about which words, and what it does further on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How heavy a finding is: can hurt someone or wreck the machine; can scrap the part or break the tool; worth knowing."""

    CRITICAL = "critical"
    MAJOR = "major"
    MINOR = "minor"

    @property
    def rank(self) -> int:
        """0 for the heaviest."""
        return list(Weight).index(self)


class Status(StrEnum):
    """`CHANGE` is about the difference itself; the others say of a hazard in one program whether the edit brought or removed it."""

    CHANGE = "change"
    NEW = "new"
    STANDING = "still there"
    GONE = "gone"


Box = tuple[float, float, float, float]
"""A place in the half plane in mm: Z from and to, radius from and to."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: side "old" or "new", block from 0, line and column from 1, and the sequence's label."""

    side: str
    block: int
    line: int
    column: int
    sequence: int | None
    label: str


@dataclass(frozen=True, slots=True)
class Stand:
    """What an acceptance of a standing hazard is bound to.

    `key` is a digest of the words that it points at, of what the machine does there and of all that it says; "" where no acceptance is
    possible. `words` are the blocks as written, for people. `told` says why it is told in full whatever was accepted, "" where nothing does.
    """

    key: str
    words: tuple[str, ...]
    told: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth saying.

    `title` is a sentence with the numbers in it; `before`, `after` are decimal strings with their unit. `causes` are the places that did it,
    `effects` where it shows. `edits` are indices of edits (none for a hazard that stood before), `covers` indices of effects it accounts for.
    """

    rule: str
    revision: int
    weight: Weight
    status: Status
    title: str
    why: str
    watch: str
    before: str | None
    after: str | None
    causes: tuple[Place, ...]
    effects: tuple[Place, ...]
    edits: tuple[int, ...] = ()
    covers: tuple[int, ...] = ()
    people: bool = False
    """Whether it is about people and machine (shown first) rather than tool and part."""
    extent: str = ""
    """How far it reaches, in words ("28 moves in N1, 412 mm of cut")."""
    position: str = ""
    """The switch position it needs ("" = block skips off)."""
    outside: tuple[int, ...] = ()
    """The keys of profile and setup sheet that made it, as indices into those that differ; none where the text did."""
    stand: Stand | None = None
    """Of a hazard that stood before, what an acceptance of it is bound to."""
    box: Box | None = None
    """Where something is met, for who draws it; None where nothing is, or where that place is not known."""
