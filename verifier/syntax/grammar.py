"""The only place that loads the grammar: from grammar/ of a checkout, or as it was packed beside the package."""

from __future__ import annotations

import importlib.resources
from functools import cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from lark import Lark, Transformer
from lark.exceptions import UnexpectedInput

from verifier.source import VerifierError

FILE = "block.lark"
_CHECKOUT = Path(__file__).resolve().parents[2] / "grammar"
_PACKED = "_grammar"


def grammar_text() -> str:
    """The grammar as written. Raises VerifierError where the installation has lost it."""
    packed: Traversable = importlib.resources.files("verifier") / _PACKED / FILE
    for place in (_CHECKOUT / FILE, packed):
        if place.is_file():
            return place.read_text(encoding="ascii")
    raise VerifierError(f"the grammar {FILE} is missing from this installation", "install the package again")


class Counter:
    """Counts the parses of one reading."""

    __slots__ = ("parses",)

    def __init__(self) -> None:
        self.parses = 0


class Grammar:
    """The two entry points of the grammar, with a transformer that builds results while it parses."""

    def __init__(self, transformer: Transformer[Any, Any] | None = None) -> None:
        self._lark = Lark(
            grammar_text(),
            parser="lalr",
            lexer="contextual",
            start=["notes", "block"],
            transformer=transformer,
            maybe_placeholders=False,
        )

    def notes(self, text: str, counter: Counter) -> Any:
        """Cuts a line into code and notes; never fails, whatever the characters."""
        return self._parse(text, "notes", counter)

    def block(self, text: str, counter: Counter) -> Any:
        """Reads the code of a line. Raises lark's UnexpectedInput where the grammar has no name for a fault."""
        return self._parse(text, "block", counter)

    def _parse(self, text: str, start: str, counter: Counter) -> Any:
        counter.parses += 1
        return self._lark.parse(text, start=start)


@cache
def plain_grammar() -> Grammar:
    """The grammar with lark's own trees, for tests and for printing what it sees."""
    return Grammar()


__all__ = ["FILE", "Counter", "Grammar", "UnexpectedInput", "grammar_text", "plain_grammar"]
