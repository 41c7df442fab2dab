"""Takes bytes; gives lines with their exact bytes, encodings, problems and digest; never interprets a word."""

from __future__ import annotations

from verifier.source.errors import (
    ActRefused,
    MachineError,
    SourceRefused,
    StoreError,
    VerifierError,
)
from verifier.source.problem import Problem, Span

__all__ = [
    "ActRefused",
    "MachineError",
    "Problem",
    "SourceRefused",
    "Span",
    "StoreError",
    "VerifierError",
]
