"""Shows a place in a program as text: where it is, the line, a caret below, a hint; safe on any terminal."""

from __future__ import annotations

import unicodedata

from verifier.source.problem import Problem, Span
from verifier.source.reading import Source

WIDTH = 100
"""Characters of a long line that are shown around the place."""
_ELLIPSIS = "..."


def visible(text: str) -> str:
    r"""The text, with characters that a terminal obeys or hides written out: `\x1b`, `\u202e`; a tab is one blank."""
    return "".join(_visible(character) for character in text)


def excerpt(source: Source, span: Span, message: str = "", hint: str = "") -> str:
    """Four lines at most, without a line end behind the last: place and message, the line, the carets, the hint.

    A span beyond the file gives the place alone.
    """
    head = f"{visible(source.name)}:{span.line}:{span.column}" + (f": {visible(message)}" if message else "")
    rows = [head]
    if 1 <= span.line <= source.line_count:
        rows += _line_and_carets(source.line_text(span.line), span)
    if hint:
        rows.append(f"  hint: {visible(hint)}")
    return "\n".join(rows)


def excerpt_problem(source: Source, problem: Problem) -> str:
    """The excerpt of a problem: its message with its code, and its hint with what was expected."""
    expected = f"expected {problem.expected}" if problem.expected else ""
    hint = "; ".join(part for part in (expected, problem.hint) if part)
    return excerpt(source, problem.span, f"{problem.message} [{problem.code}]", hint)


def _line_and_carets(text: str, span: Span) -> list[str]:
    start = max(span.column - 1, 0)
    low = max(0, min(start - WIDTH // 2, len(text) - WIDTH))
    high = min(len(text), low + WIDTH)
    lead = _ELLIPSIS if low else ""
    shown = lead + visible(text[low:high]) + (_ELLIPSIS if high < len(text) else "")
    indent = len(lead) + sum(map(_width, text[low:start]))
    marked = text[start : min(start + max(span.length, 1), high)]
    carets = max(sum(map(_width, marked)), 1)
    return [f"  {shown}", f"  {' ' * indent}{'^' * carets}"]


def _visible(character: str) -> str:
    if character == "\t":
        return " "
    category = unicodedata.category(character)
    hidden = category in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") or (category == "Zs" and character != " ")
    if not hidden and not (ord(character) > 0x7F and category.startswith("M")):
        return character
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _width(character: str) -> int:
    """Columns that a character takes on a terminal, in the form `visible` gives it."""
    shown = _visible(character)
    return len(shown) if len(shown) > 1 else 1 + (unicodedata.east_asian_width(shown) in ("W", "F"))
