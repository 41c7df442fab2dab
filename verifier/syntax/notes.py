"""Notes to people: cuts a line's comments out of its code, without moving any column."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from lark import Token

from verifier.source import Problem, suspects
from verifier.syntax.flaws import flaw, look_alike_in_note
from verifier.syntax.words import Comment

FILLER = "\x00"
_MARKS = re.compile(r"[();]")
_CODE_LIKE = re.compile(r"(?<![A-Za-z])[A-Za-z][ \t]*[-+]?[0-9.#\[]|[#=%/]")
_RUNNABLE = re.compile(r"(?:[ \t]*[A-Za-z][ \t]*[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))+[ \t]*;?[ \t]*")


class Notes(NamedTuple):
    """The code of a line with its notes blanked by FILLER, the notes, and what is wrong: flaws make it unreadable."""

    code: str
    comments: tuple[Comment, ...] = ()
    problems: tuple[Problem, ...] = ()
    flaws: tuple[Problem, ...] = ()


def may_have_notes(text: str) -> bool:
    """Whether the line must be cut at all."""
    return _MARKS.search(text) is not None


def cut(text: str, pieces: Sequence[Token], line: int) -> Notes:
    """The notes of a line from the grammar's pieces of it."""
    code, comments, problems, flaws = [], [], [], []
    at = 0
    for piece in pieces:
        piece_text = str(piece)
        if piece.type in ("CODE", "PRINT", "CLOSING"):
            code.append(piece_text)
        else:
            code.append(FILLER * len(piece_text))
            if piece.type != "END_OF_BLOCK":
                comment = _comment(piece, line, at + 1)
                comments.append(comment)
                problems += note_problems(comment)
                if piece.type == "SEMICOLON_NOTE" and _RUNNABLE.fullmatch(comment.text) and _has_code(code[:-1]):
                    problems.append(flaw("SEMICOLON_NOTE", piece_text, line, at + 1))
            if piece.type == "UNCLOSED":
                flaws.append(flaw("UNCLOSED", piece_text, line, at + 1))
            elif piece.type == "NESTED":
                harmless = _harmless(piece_text)
                kind = "nested-harmless" if harmless else "nested"
                (problems if harmless else flaws).append(flaw(kind, piece_text, line, at + 1))
        at += len(piece_text)
    return Notes("".join(code), tuple(comments), tuple(problems), tuple(flaws))


def note_problems(comment: Comment) -> list[Problem]:
    """Characters in a comment that are not what they look like, or that a control may not take."""
    if comment.text.isascii():
        return []
    found = suspects(comment.text, in_comment=True)
    return [look_alike_in_note(run, what, comment.line, comment.column + 1 + at) for at, run, what in found]


def _comment(piece: Token, line: int, column: int) -> Comment:
    text = str(piece)
    if piece.type == "SEMICOLON_NOTE":
        return Comment(text[1:], line, column, "semicolon")
    return Comment(text[1:] if piece.type == "UNCLOSED" else text[1:-1], line, column)


def _harmless(nested: str) -> bool:
    """Whether it doesn't matter where a nested comment ends: nothing behind its first closing bracket could be run.

    A control that ends it there reads the rest up to the next opening bracket as code.
    """
    behind = re.sub(r"\([^()]*\)", " ", nested[nested.index(")") + 1 :])
    return _CODE_LIKE.search(behind) is None


def _has_code(pieces: list[str]) -> bool:
    return any(piece.strip(FILLER + " \t") for piece in pieces)
