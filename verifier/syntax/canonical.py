"""One spelling for all that means the same to a control: for read-backs, for reports, and for the check code."""

from __future__ import annotations

import hashlib
import re

from verifier.syntax.numbers import canonical_number, read_number
from verifier.syntax.program import Program
from verifier.syntax.words import Block, Macro, Skip, Word

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""31 symbols that nobody confuses when reading aloud: without 0, O, 1, I, L."""
LENGTH = 8
_CODES = ("G", "M")
_NUMBER = re.compile(r"(?<![0-9.])(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?![0-9.])")
_OUTPUT = ("output", "other")


def word_key(word: Word) -> str:
    """The canonical spelling of a word: address and exact value with whether it had a point; G and M codes by number."""
    if word.number is not None:
        value = canonical_number(word.number)
        return word.letter + (value.removesuffix(".") if word.letter in _CODES else value)
    if word.expression is not None:
        return _statement(_squeezed(word.text))
    return _squeezed(word.text)


def block_text(block: Block) -> str:
    """A block for people: its words and statements as written, in upper case, with single blanks between; no comments.

    In a block with flaws, what can't be read stands in its place too.
    """
    shown = {piece.column: _shown(piece) for piece in _pieces(block)}
    for flaw in block.flaws:
        shown.setdefault(flaw.span.column, _squeezed(flaw.text))
    return " ".join(text for _, text in sorted(shown.items()) if text)


def block_key(program: Program, block: Block) -> str:
    """A block canonically spelled and without its number, so that neither spacing, notes nor renumbering change it.

    The number stays where the block holds nothing else: it is then all that the block says.
    """
    numbers = tuple(word for word in block.words if word.letter == "N")
    if block.flaws or len(numbers) == len(_pieces(block)):
        return _canonical(program, block)
    pieces = sorted((piece for piece in _pieces(block) if piece not in numbers), key=lambda piece: piece.column)
    return " ".join(map(_key, pieces))


def canonical_words(program: Program) -> bytes:
    """All blocks in order, a line each: skip marks, words and statements in order, canonically spelled.

    Comments, spacing, letter case and line ends leave no trace. A block that can't be read is given by its text, marked by
    a leading question mark, so that it equals nothing but itself.
    """
    return "".join(f"{_canonical(program, block)}\n" for block in program.blocks).encode("utf-8")


def check_code(program: Program) -> str:
    """Eight symbols for people to compare: the leading bits of SHA-256 over the canonical words."""
    digest = hashlib.sha256(canonical_words(program)).digest()
    value = int.from_bytes(digest, "big") * len(ALPHABET) ** LENGTH >> 256
    symbols = []
    for _ in range(LENGTH):
        value, rest = divmod(value, len(ALPHABET))
        symbols.append(ALPHABET[rest])
    return "".join(reversed(symbols))


def _canonical(program: Program, block: Block) -> str:
    if block.flaws:
        return "?" + " ".join(program.source.line_text(block.line).upper().split())
    if not (block.macros or block.skips):
        return " ".join(map(word_key, block.words))
    pieces = sorted(((piece.column, _key(piece)) for piece in _pieces(block)), key=lambda piece: piece[0])
    return " ".join(key for _, key in pieces)


def _pieces(block: Block) -> tuple[Word | Macro | Skip, ...]:
    return (*block.skips, *block.words, *block.macros)


def _key(piece: Word | Macro | Skip) -> str:
    if isinstance(piece, Word):
        return word_key(piece)
    if isinstance(piece, Macro):
        return piece.text if piece.kind in _OUTPUT else _statement(piece.text)
    return f"/{piece.level or ''}"


def _shown(piece: Word | Macro | Skip) -> str:
    if isinstance(piece, Word):
        return _squeezed(piece.text)
    return _key(piece) if isinstance(piece, Skip) else piece.text


def _statement(text: str) -> str:
    """A statement with each of its numbers spelled canonically."""
    return _NUMBER.sub(lambda match: canonical_number(read_number(match[0])), text)


def _squeezed(text: str) -> str:
    """Upper case without blanks and without blanked comments."""
    return "".join(text.replace("\x00", " ").split()).upper()
