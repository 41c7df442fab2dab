"""What can be wrong in a block: one table from the grammar's name for it to what a person is told."""

from __future__ import annotations

from typing import NamedTuple

from verifier.source import Problem, Span, describe, suspect

BRACKET_LIMIT = 64
"""Depth of square brackets in one block."""


class Told(NamedTuple):
    """How one kind of fault is told; `{text}` stands for the offending characters."""

    code: str
    message: str
    expected: str
    hint: str


_NUMBER = "a number such as 12.5"
FAULTS: dict[str, Told] = {
    "bare": Told(
        "number-without-digits",
        "{text} has no number",
        "digits after the letter and its sign",
        "complete the word, or take it out",
    ),
    "LONE_POINT": Told(
        "number-without-digits", "{text} has a point and no digits", _NUMBER, "some controls read it as zero; write 0."
    ),
    "TWO_POINTS": Told("two-points", "{text} has more than one decimal point", _NUMBER, "which point was meant?"),
    "COMMA_FOR_POINT": Told(
        "comma-for-point", "{text} has a comma in its number", _NUMBER, "a decimal point is meant, most likely"
    ),
    "LETTER_O": Told(
        "letter-o-for-zero", "{text} has the letter O in its number", "the digit 0", "replace the letter O by a zero"
    ),
    "signs": Told(
        "two-signs", "{text} has more than one sign", "at most one sign before a number", "which sign was meant?"
    ),
    "digits": Told(
        "number-too-long",
        "a number of more digits than any control reads",
        "at most 40 digits",
        "was a blank or letter lost?",
    ),
    "too-deep": Told(
        "expression-too-deep",
        "the expression is nested or chained too deeply",
        "at most 200 levels",
        "split it over blocks",
    ),
    "depth": Told(
        "bracket-depth",
        "square brackets are nested too deeply",
        f"at most {BRACKET_LIMIT} levels",
        "split it over blocks",
    ),
    "TEXT": Told(
        "stray-text", "{text} is no word of a program", "words of a letter and a number", "put notes in brackets: (...)"
    ),
    "ORPHAN": Told(
        "number-without-letter",
        "{text} stands without an address letter",
        "a letter before each number",
        "a letter was lost",
    ),
    "LONE_COMMA": Told(
        "stray-comma", "a comma that belongs to no word", "a letter after a comma", "is it meant as a decimal point?"
    ),
    "CONFLICT": Told(
        "merge-conflict",
        "a mark of an unfinished merge: {text}",
        "one version only",
        "both versions are in the file; keep one",
    ),
    "TAPE": Told(
        "stray-per-cent", "a per cent sign in the middle of a block", "% by itself, at the start or end", "take it out"
    ),
    "NAMED": Told(
        "unreadable-block", "a subprogram called by a name: {text}", "a call by number", "calls by name are not read"
    ),
    "order": Told(
        "unclear-order",
        "{text} mixes logic with other operators, and controls differ on which goes first",
        "brackets around what goes first",
        "",
    ),
    "nested": Told(
        "nested-comment",
        "a comment inside a comment, with text behind its first closing bracket that some controls run",
        "one pair of brackets",
        "many controls end a comment at the first closing bracket; take the inner brackets out",
    ),
    "nested-harmless": Told(
        "nested-comment",
        "a comment inside a comment",
        "one pair of brackets",
        "many controls end a comment at the first closing bracket and stop at the rest; take the inner brackets out",
    ),
    "SEMICOLON_NOTE": Told(
        "code-after-semicolon",
        "words behind a semicolon are read as a comment: {text}",
        "one block in a line",
        "a control that takes a semicolon as the end of a block runs them",
    ),
    "UNCLOSED": Told(
        "unclosed-comment",
        "a comment without its closing bracket",
        "a closing bracket )",
        "what stands behind it may or may not be run",
    ),
    "given": Told(
        "unreadable-block",
        "IF without a statement of its own that can be read",
        "IF [..] GOTO n, or IF [..] THEN ..",
        "",
    ),
    "loop": Told("unreadable-block", "WHILE without DO and a number right behind it", "WHILE [..] DO n", ""),
}
_BRACKET = Told(
    "stray-bracket",
    "a bracket {text} that belongs to nothing",
    "brackets in pairs, around a value",
    "take it out, or complete it",
)
_CONTROL = Told("control-character", "a control character in the block: {text}", "printable characters", "take it out")
_LOOK_ALIKE = Told(
    "look-alike-character", "{text}", "ASCII letters, digits, signs and blanks", "type it again on a plain keyboard"
)
_STRAY = Told("unreadable-block", "{text} has no meaning here", "words of a letter and a number", "")


def flaw(kind: str, text: str, line: int, column: int, length: int | None = None) -> Problem:
    """The problem for a fault of `kind` (a key of FAULTS) in `text`, which stands at `line`, `column`."""
    return _problem(FAULTS[kind], text, shorten(text), line, column, len(text) if length is None else length)


def stray(text: str, line: int, column: int) -> Problem:
    """The problem for characters that begin nothing: which one it is depends on the first of them."""
    first = text[0]
    if first in "()[]":
        return _problem(_BRACKET, text, first, line, column, 1)
    if ord(first) < 0x20:
        return _problem(_CONTROL, text, describe(first), line, column, len(text))
    what = suspect(first)
    if what is not None:
        return _problem(_LOOK_ALIKE, text, f"{what} ({describe(first)})", line, column, len(text))
    shown = describe(first) if ord(first) > 0x7F else first
    return _problem(_STRAY, text, shown, line, column, len(text))


def look_alike_in_note(text: str, what: str, line: int, column: int) -> Problem:
    """A look-alike in a comment: it changes nothing that runs, but it can mislead a reader and a search."""
    return Problem(
        "look-alike-character",
        Span(line, column, len(text)),
        f"{what} ({describe(text[0])}) in a comment",
        text,
        _LOOK_ALIKE.expected,
        "harmless to the machine, but not what it looks like",
    )


def shorten(text: str, limit: int = 40) -> str:
    """The text, cut where it is too long for a message."""
    return text if len(text) <= limit else text[: limit - 3] + "..."


def _problem(told: Told, text: str, shown: str, line: int, column: int, length: int) -> Problem:
    message = told.message.replace("{text}", shown)
    return Problem(told.code, Span(line, column, length), message, text, told.expected, told.hint)
