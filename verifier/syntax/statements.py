"""Items of a block, put together: words and skips in order, conditional statements with what hangs on them."""

from __future__ import annotations

from typing import NamedTuple

from lark import Token

from verifier.source import Problem
from verifier.syntax.flaws import FAULTS, flaw, stray
from verifier.syntax.tree import Item, Part, Statement, WordItem
from verifier.syntax.words import Macro, Number, Skip, Word

_SIMPLE = ("goto", "do", "end")


class Found(NamedTuple):
    """The pieces of a block; columns count from 1, all on line 1."""

    words: tuple[Word, ...]
    macros: tuple[Macro, ...]
    skips: tuple[Skip, ...]
    flaws: tuple[Problem, ...]
    marks: tuple[int, ...]


class _Pieces:
    """Collects while the items are walked."""

    def __init__(self, code: str) -> None:
        self.code = code
        self.words: list[Word] = []
        self.macros: list[Macro] = []
        self.skips: list[Skip] = []
        self.flaws: list[Problem] = []
        self.marks: list[int] = []

    def cut(self, start: int, end: int) -> str:
        return self.code[start:end]

    def flaw(self, kind: str, start: int, end: int) -> None:
        self.flaws.append(flaw(kind, self.cut(start, end), 1, start + 1))


def assemble(code: str, items: list[Item]) -> Found:
    """The words, macro statements, skip marks and flaws of a block, from its items in order; `code` is their line."""
    pieces = _Pieces(code)
    _trim_marks(items, pieces)
    at = 0
    while at < len(items):
        at = _take(items, at, pieces)
    words, macros, skips = tuple(pieces.words), tuple(pieces.macros), tuple(pieces.skips)
    return Found(words, macros, skips, tuple(pieces.flaws), tuple(pieces.marks))


def _trim_marks(items: list[Item], pieces: _Pieces) -> None:
    """Takes per cent signs off both ends of the block: the marks of a tape's start and end."""
    while items and _is_mark(items[0]):
        pieces.marks.append(_place(items.pop(0))[0] + 1)
    tail = []
    while items and _is_mark(items[-1]):
        tail.append(_place(items.pop())[0] + 1)
    pieces.marks += reversed(tail)


def _is_mark(item: Item) -> bool:
    return isinstance(item, Token) and item.type == "TAPE"


def _place(item: Item) -> tuple[int, int]:
    if isinstance(item, Token):
        return item.start_pos or 0, item.end_pos or 0
    return item.start, item.end


def _take(items: list[Item], at: int, pieces: _Pieces) -> int:
    """Takes one item, with the items that belong to it; gives the position of the next one."""
    item = items[at]
    if isinstance(item, Statement):
        return _take_statement(items, at, item, pieces)
    if isinstance(item, WordItem):
        pieces.words.append(_word(item, pieces))
    else:
        _take_token(item, pieces)
    return at + 1


def _word(item: WordItem, pieces: _Pieces) -> Word:
    if item.fault:
        pieces.flaw(item.fault, item.start, item.end)
    number = item.value if isinstance(item.value, Number) else None
    expression = item.value.node if isinstance(item.value, Part) else None
    return Word(item.letter, number, expression, item.start + 1, pieces.cut(item.start, item.end))


def _take_token(token: Token, pieces: _Pieces) -> None:
    start, end = _place(token)
    text = str(token)
    if token.type == "SKIP":
        level = int(text[-1]) if text[-1] != "/" and text[-1].strip() else 0
        pieces.skips.append(Skip(level, len(pieces.words), start + 1))
    elif token.type in ("PRINT", "OTHER"):
        pieces.macros.append(Macro("output" if token.type == "PRINT" else "other", _spelled(text), start + 1))
    elif token.type in FAULTS:
        pieces.flaw(token.type, start, end)
    else:
        pieces.flaws.append(stray(text, 1, start + 1))


def _take_statement(items: list[Item], at: int, item: Statement, pieces: _Pieces) -> int:
    faults = [part for part in item.parts if part.fault]
    for part in faults:
        pieces.flaw(part.fault, part.start, part.end)
    if item.kind == "given":
        return _take_conditional(items, at, item, pieces)
    if item.kind == "loop":
        return _take_loop(items, at, item, pieces)
    text = _spelled(pieces.cut(item.start, item.end))
    if item.kind == "assign":
        target, value = item.parts
        pieces.macros.append(Macro("assign", text, item.start + 1, target=target.node, value=value.node))
    else:
        pieces.macros.append(Macro(item.kind, text, item.start + 1, target=item.parts[0].node))
    return at + 1


def _take_loop(items: list[Item], at: int, item: Statement, pieces: _Pieces) -> int:
    """WHILE [..] and the DO n behind it are one statement."""
    follower = items[at + 1] if at + 1 < len(items) else None
    if not isinstance(follower, Statement) or follower.kind != "do" or follower.parts[0].fault:
        pieces.flaw("loop", item.start, item.end)
        return at + 1
    text = _spelled(pieces.cut(item.start, follower.end))
    number = follower.parts[0].node
    pieces.macros.append(Macro("while", text, item.start + 1, target=number, condition=item.parts[0].node))
    return at + 2


def _take_conditional(items: list[Item], at: int, item: Statement, pieces: _Pieces) -> int:
    """IF [..] and all that stands behind it: a jump, one assignment, or words; anything else is not understood."""
    rest = items[at + 1 :]
    condition, start = item.parts[0].node, item.start
    text = _spelled(pieces.cut(start, _place(items[-1])[1]))
    only = rest[0] if len(rest) == 1 else None
    if rest and all(isinstance(follower, WordItem) for follower in rest):
        then = tuple(_word(follower, pieces) for follower in rest if isinstance(follower, WordItem))
        pieces.macros.append(Macro("if-then", text, start + 1, condition=condition, then=then))
    elif isinstance(only, Statement) and only.kind == "goto":
        _take_inner(only, pieces)
        pieces.macros.append(Macro("if-goto", text, start + 1, target=only.parts[0].node, condition=condition))
    elif isinstance(only, Statement) and only.kind == "assign":
        _take_inner(only, pieces)
        target, value = (part.node for part in only.parts)
        pieces.macros.append(Macro("if-then", text, start + 1, target=target, condition=condition, value=value))
    else:
        pieces.flaw("given", start, _place(items[-1])[1])
    return len(items)


def _take_inner(item: Statement, pieces: _Pieces) -> None:
    for part in item.parts:
        if part.fault:
            pieces.flaw(part.fault, part.start, part.end)


def _spelled(text: str) -> str:
    """Upper case without blanks and blanked comments: one spelling for each statement."""
    return "".join(text.replace("\x00", " ").split()).upper()
