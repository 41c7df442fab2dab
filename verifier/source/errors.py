"""The exceptions of this package; they are about the caller, never about a program's content.

VerifierError
  SourceRefused      bytes that are not a readable program; nothing may be stored
  MachineError       a machine profile, setup sheet or policy that is not valid; carries every mistake
  StoreError         records or floor: the act could not be carried out
    ActRefused       the act is against the rules (stale, own revision, wrong role ...)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from verifier.source.problem import Problem


class VerifierError(Exception):
    """Base of every error this package raises on purpose."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


class SourceRefused(VerifierError):
    """The bytes cannot be taken as a program; nothing may be stored. Carries the problems found."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("; ".join(p.message for p in problems))
        self.problems = tuple(problems)


class MachineError(VerifierError):
    """A profile, setup sheet or policy is not valid; `mistakes` holds all of them, one line each."""

    def __init__(self, mistakes: Sequence[str]) -> None:
        super().__init__("\n".join(mistakes))
        self.mistakes = tuple(mistakes)


class StoreError(VerifierError):
    """Records or floor could not carry out an act (busy, damaged, folder not writable)."""


class ActRefused(StoreError):
    """An act is against the rules; `code` is a stable word for programs, the message is for people."""

    def __init__(self, code: str, message: str, hint: str = "") -> None:
        super().__init__(message, hint)
        self.code = code
