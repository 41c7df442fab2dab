"""Takes bytes; gives lines with their exact bytes, encodings, problems and digest; never interprets a word."""

from __future__ import annotations

from verifier.source.errors import (
    ActRefused,
    MachineError,
    SourceRefused,
    StoreError,
    VerifierError,
)
from verifier.source.excerpt import excerpt, excerpt_problem, visible
from verifier.source.problem import Problem, Span
from verifier.source.reading import Source, read_path, read_source
from verifier.source.refusal import LINE_LIMIT, SIZE_LIMIT
from verifier.source.suspects import describe, suspect, suspects

__all__ = [
    "LINE_LIMIT",
    "SIZE_LIMIT",
    "ActRefused",
    "MachineError",
    "Problem",
    "Source",
    "SourceRefused",
    "Span",
    "StoreError",
    "VerifierError",
    "describe",
    "excerpt",
    "excerpt_problem",
    "read_path",
    "read_source",
    "suspect",
    "suspects",
    "visible",
]
