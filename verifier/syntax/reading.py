"""One line, read whole: the grammar's items become words, macro statements, skip marks, comments and flaws."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache

from lark import Token
from lark.exceptions import UnexpectedInput, UnexpectedToken

from verifier.source import Problem, Span
from verifier.syntax.flaws import BRACKET_LIMIT, flaw, shorten, stray
from verifier.syntax.grammar import Counter, Grammar
from verifier.syntax.notes import FILLER, Notes, cut, may_have_notes
from verifier.syntax.statements import assemble
from verifier.syntax.tree import Builder, Item
from verifier.syntax.words import Block, Comment, Macro, Skip, Word

FLAW_LIMIT = 20
"""Flaws of one block that are told one by one; the rest of the block is one more."""

_CONTROLS = re.compile(r"[\x01-\x08\x0b-\x1f\x7f]+")
_BRACKETS = re.compile(r"[\[\]]")
_EXPECTED = {
    "CLOSE": "a closing bracket ]",
    "NUMBER": "a number",
    "EQUALS": "an equals sign",
    "HASH": "a variable",
}


@dataclass(frozen=True, slots=True)
class Reading:
    """What one line of text holds, for line number 1; the same text reads the same wherever it stands.

    `problems` don't make the line unreadable; `flaws` do. `marks` are the columns of its per cent signs.
    """

    words: tuple[Word, ...] = ()
    macros: tuple[Macro, ...] = ()
    skips: tuple[Skip, ...] = ()
    comments: tuple[Comment, ...] = ()
    flaws: tuple[Problem, ...] = ()
    problems: tuple[Problem, ...] = ()
    marks: tuple[int, ...] = ()

    @property
    def is_block(self) -> bool:
        """Whether the line is a block: it holds something to execute, or something that can't be read."""
        return bool(self.words or self.macros or self.skips or self.flaws)

    @property
    def plain(self) -> bool:
        """Whether there is nothing but words with numbers (and comments): what the columns can hold."""
        return not (self.macros or self.skips or self.flaws or self.marks) and all(
            word.number is not None and len(word.letter) == 1 and word.letter != ":" for word in self.words
        )

    def block(self, index: int, line: int) -> Block:
        """The block that this text is on line `line`."""
        comments, flaws = on_line(self.comments, line), moved(self.flaws, line)
        return Block(index, line, self.words, self.macros, self.skips, comments, flaws)


def on_line(comments: tuple[Comment, ...], line: int) -> tuple[Comment, ...]:
    """The comments, as standing on line `line`."""
    return tuple(replace(comment, line=line) for comment in comments)


def moved(problems: tuple[Problem, ...], line: int) -> tuple[Problem, ...]:
    """The problems, as standing on line `line`."""
    return tuple(replace(p, span=Span(line, p.span.column, p.span.length)) for p in problems)


@cache
def _grammar() -> Grammar:
    return Grammar(Builder())


def cut_notes(text: str, counter: Counter) -> Notes:
    """The line without its comments, and the comments."""
    if not may_have_notes(text):
        return Notes(text)
    return cut(text, _grammar().notes(text, counter), 1)


def read_line(text: str, counter: Counter) -> Reading:
    """Reads one line, without its line end, whatever stands in it; nothing is raised and nothing is left out."""
    notes = cut_notes(text, counter)
    if not notes.code.strip(FILLER + " \t\x11\x12\x13\x14\x7f"):
        problems = (*notes.problems, *_controls(text, []))
        return Reading(comments=notes.comments, flaws=notes.flaws, problems=problems)
    items, failure = _items(notes.code, counter)
    found = assemble(notes.code, items)
    flaws = [*notes.flaws, *found.flaws, *failure]
    flaws.sort(key=lambda problem: problem.span.column)
    if len(flaws) > FLAW_LIMIT:
        flaws[FLAW_LIMIT:] = [_more(flaws[FLAW_LIMIT:], notes.code)]
    words, macros, skips = found.words, found.macros, found.skips
    problems = (*notes.problems, *_controls(text, flaws), *_signed_codes(words))
    return Reading(words, macros, skips, notes.comments, tuple(flaws), problems, found.marks)


def _more(flaws: list[Problem], code: str) -> Problem:
    """One flaw for the many that follow in the same block."""
    at = flaws[0].span.column - 1
    return _unreadable(at, code[at:].rstrip(FILLER + " \t"), f"{len(flaws)} more faults up to the end of the block", "")


def _items(code: str, counter: Counter) -> tuple[list[Item], list[Problem]]:
    depth = deepest = 0
    for match in _BRACKETS.finditer(code):
        depth += 1 if match[0] == "[" else -1
        deepest = max(deepest, depth)
        if deepest > BRACKET_LIMIT:
            return [], [flaw("depth", "[", 1, match.start() + 1)]
    try:
        return _grammar().block(code, counter), []
    except UnexpectedInput as error:
        return _read_before(error), [_failure(code, error)]


def _read_before(error: UnexpectedInput) -> list[Item]:
    """The items that were complete when the grammar stopped: they are the first thing on the parser's stack."""
    stack = error.interactive_parser.parser_state.value_stack
    return list(getattr(stack[0], "children", ())) if stack else []


def _failure(code: str, error: UnexpectedInput) -> Problem:
    """Where the grammar stopped, as a flaw; the end of the line is a place, too."""
    at = error.pos_in_stream
    if isinstance(error, UnexpectedToken) and isinstance(error.token, Token) and error.token.type == "$END":
        at = len(code.rstrip(FILLER + " \t"))
    at = min(at if isinstance(at, int) and at >= 0 else 0, len(code))
    wanted = getattr(error, "expected", None) or getattr(error, "allowed", None)
    expected = ", ".join(_EXPECTED[name] for name in sorted(wanted or ()) if name in _EXPECTED)
    if at >= len(code.rstrip(FILLER + " \t")):
        return _unreadable(at, "", "the block ends in the middle of a statement", expected)
    rest = code[at:].replace(FILLER, " ").rstrip()
    if rest[0] in "[]" or not " " < rest[0] < "\x7f":
        return stray(rest[0], 1, at + 1)
    if rest[0] == "<":
        return _unreadable(at, rest, "a variable called by a name, which is not read", expected)
    return _unreadable(at, rest, f"{shorten(rest, 20)} can't be read here", expected)


def _unreadable(at: int, text: str, message: str, expected: str) -> Problem:
    return Problem(
        "unreadable-block", Span(1, at + 1, len(text)), message, text, expected or "words of a letter and a number"
    )


def _signed_codes(words: tuple[Word, ...]) -> list[Problem]:
    """Codes with a sign: they are names, not amounts, and whether a control stops at `G-00` or runs `G00` is its own choice."""
    return [
        Problem(
            "sign-on-a-code",
            Span(1, word.column, len(word.text)),
            f"{word.text} is a code with a sign",
            word.text,
            f"{word.letter} and digits",
            "take the sign out; was it meant for another word?",
        )
        for word in words
        if word.letter in "GMT" and word.number is not None and word.number.text[0] in "+-"
    ]


def _controls(text: str, flaws: list[Problem]) -> list[Problem]:
    """Control characters that are no flaw: those that a reader ignores, and all in comments. Blank tape is told elsewhere."""
    told = {problem.span.column for problem in flaws}
    return [
        Problem(
            "control-character",
            Span(1, match.start() + 1, len(match[0])),
            f"control character {ord(match[0][0]):#04x} in the line",
            match[0],
            "printable characters",
            "device controls, rubouts and end marks are left over from a tape or an old system; take them out",
        )
        for match in _CONTROLS.finditer(text)
        if match.start() + 1 not in told
        and (match[0].strip("\x7f") or 0 < match.start() < len(text.rstrip("\x00\x7f")))
    ]
