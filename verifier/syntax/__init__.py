"""Takes a Source; gives a Program: blocks, words, comments and problems of a text; never decides what a word does.

It loads grammar/, the one definition of what a block is, and is the only place that does.
"""

from __future__ import annotations

from verifier.syntax.canonical import ALPHABET, block_key, block_text, canonical_words, check_code, word_key
from verifier.syntax.columns import Columns
from verifier.syntax.likeness import plain_blocks, share_alike, sketch
from verifier.syntax.numbers import canonical_number, read_number
from verifier.syntax.program import Program, parse
from verifier.syntax.readable import parse_program
from verifier.syntax.words import (
    Binary,
    Block,
    Call,
    Comment,
    Expression,
    Literal,
    Macro,
    Number,
    Skip,
    TwoOrders,
    Unary,
    Variable,
    Word,
)

__all__ = [
    "ALPHABET",
    "Binary",
    "Block",
    "Call",
    "Columns",
    "Comment",
    "Expression",
    "Literal",
    "Macro",
    "Number",
    "Program",
    "Skip",
    "TwoOrders",
    "Unary",
    "Variable",
    "Word",
    "block_key",
    "block_text",
    "canonical_number",
    "canonical_words",
    "check_code",
    "parse",
    "parse_program",
    "plain_blocks",
    "read_number",
    "share_alike",
    "sketch",
    "word_key",
]
