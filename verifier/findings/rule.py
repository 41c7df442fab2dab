"""The two kinds of rule, what a rule must say of itself, and the examples that are its tests.

A `ProgramRule` judges one executed program; the engine runs it on both sides and says what is new, still there or gone. A `ChangeRule` judges
the difference. Both are pure: they read what was computed, and never a program's text.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar

from verifier.findings.model import Weight
from verifier.findings.policy import Policy
from verifier.findings.view import ChangeView, Drawn, Hazard, ProgramView
from verifier.machines import Machine, Setup

_ID = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)+")
_NEEDED = ("id", "revision", "weight", "title", "watch", "examples")


@dataclass(frozen=True, slots=True)
class Example:
    """A case of a rule: programs before and after (`old` None: one program alone), and whether the rule must speak.

    Texts are whole programs, for the generic lathe without a setup sheet, under the built-in policy, where no other is given. `line` is the line of
    the first cause (in the new text, or in the old one for what was taken out), 0 where it does not matter.
    """

    title: str
    new: str
    fires: bool
    old: str | None = None
    line: int = 0
    machine: Machine | None = None
    setup: Setup | None = None
    policy: Policy | None = None


_known: dict[str, type[Rule]] = {}


class Rule(ABC):
    """One hazard or one kind of change: what the two kinds of rule have in common.

    The docstring of a rule is its *why it matters*: its first line says what is found, the rest why that matters.
    """

    id: ClassVar[str]
    revision: ClassVar[int]
    weight: ClassVar[Weight]
    title: ClassVar[str]
    watch: ClassVar[str]
    examples: ClassVar[tuple[Example, ...]]
    people: ClassVar[bool] = False

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        if ABC in cls.__bases__:
            return
        missing = [name for name in _NEEDED if not hasattr(cls, name)]
        if missing or not cls.__doc__:
            raise TypeError(f"{cls.__name__} lacks {', '.join(missing) or 'a docstring'}")
        if not _ID.fullmatch(cls.id):
            raise TypeError(f"{cls.__name__}: {cls.id!r} is no rule id (words joined by hyphens)")
        if cls.id in _known and _known[cls.id].__qualname__ != cls.__qualname__:
            raise TypeError(f"{cls.__name__}: the rule id {cls.id!r} is taken by {_known[cls.id].__name__}")
        _known[cls.id] = cls

    @classmethod
    def why(cls) -> str:
        """Why it matters: the docstring without its first line."""
        lines = (cls.__doc__ or "").strip().split("\n", 1)
        return re.sub(r"\s+", " ", lines[1] if len(lines) > 1 else lines[0]).strip()


class ProgramRule(Rule, ABC):
    """Judges one executed program. `house` names the habit it is about; it is silent where the policy does not ask for it.

    `settled` is False where its hazards say that something was not understood, or is carried out in a way that nobody here knows: such a
    hazard cannot be accepted, and is told in full every time.
    """

    house: ClassVar[str] = ""
    settled: ClassVar[bool] = True

    @abstractmethod
    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The hazards in this program."""

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The amount that another program has where this one has a hazard; None where the rule measures nothing, or nothing is there."""
        return None


class ChangeRule(Rule, ABC):
    """Judges a change. `mirror` is the id of the rule that says the opposite when the two programs are exchanged.

    `hazard` is the id of a program rule whose hazard this change brings or takes away: by the same edits it is not told beside it.
    """

    mirror: ClassVar[str]
    hazard: ClassVar[str] = ""
    catch_all: ClassVar[bool] = False

    @abstractmethod
    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """What this rule says of the change."""


RETIRED: dict[str, str] = {}
"""Ids that were in use once and are not any more -> what replaced them. An id is never used again."""
