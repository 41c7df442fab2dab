"""Characters that look like a letter, digit, sign, point or blank and are not, or that are not seen at all."""

from __future__ import annotations

import re
import unicodedata

# Ranges of code points and what they are to a reader. Unicode names and categories: Python's unicodedata.
_RANGES: tuple[tuple[int, int, str], ...] = (
    (0x00A0, 0x00A0, "a no-break space"),
    (0x00AD, 0x00AD, "a soft hyphen, which is not seen"),
    (0x00B7, 0x00B7, "a raised point"),
    (0x0130, 0x0131, "a letter i of another alphabet"),
    (0x017F, 0x017F, "a long s"),
    (0x0370, 0x03FF, "a Greek letter"),
    (0x0400, 0x052F, "a Cyrillic letter"),
    (0x0531, 0x058F, "an Armenian letter"),
    (0x060C, 0x060C, "a comma of another script"),
    (0x061C, 0x061C, "a control that turns the direction of text"),
    (0x066B, 0x066C, "a decimal mark of another script"),
    (0x13A0, 0x13FF, "a Cherokee letter"),
    (0x1680, 0x1680, "a blank of another script"),
    (0x180E, 0x180E, "a character without width"),
    (0x2000, 0x200A, "a blank of special width"),
    (0x200B, 0x200D, "a character without width"),
    (0x200E, 0x200F, "a control that turns the direction of text"),
    (0x2010, 0x2015, "a dash"),
    (0x2024, 0x2024, "a dot leader"),
    (0x2028, 0x2029, "a separator that ends no block"),
    (0x202A, 0x202E, "a control that turns the direction of text"),
    (0x202F, 0x202F, "a no-break space"),
    (0x2043, 0x2044, "a mark that is not the sign"),
    (0x205F, 0x205F, "a blank of special width"),
    (0x2060, 0x2065, "a character without width"),
    (0x2066, 0x2069, "a control that turns the direction of text"),
    (0x206A, 0x206F, "a character without width"),
    (0x2100, 0x214F, "a letter-like symbol"),
    (0x2160, 0x2188, "a Roman numeral character"),
    (0x2212, 0x2212, "a mathematical minus sign"),
    (0x2215, 0x2219, "a mathematical sign"),
    (0x2795, 0x2797, "a heavy sign"),
    (0x3000, 0x3000, "a full-width space"),
    (0x3002, 0x3002, "a full stop of another script"),
    (0xFE50, 0xFE6F, "a small form of a sign"),
    (0xFEFF, 0xFEFF, "a byte order mark inside the text"),
    (0xFF01, 0xFF60, "a full-width character"),
    (0xFFA0, 0xFFA0, "a blank of special width"),
    (0xFFE0, 0xFFE6, "a full-width sign"),
    (0xFFF9, 0xFFFB, "a character without width"),
    (0x1D400, 0x1D7FF, "a mathematical letter or digit"),
    (0xE0000, 0xE007F, "a character without width"),
)
_DASHES = range(0x2010, 0x2016)
_NOT_ASCII = re.compile(r"[^\x00-\x7f]")


def suspect(character: str, in_comment: bool = False) -> str | None:
    """What a look-alike character is, in words; None where it can't be taken for a character of a program.

    A dash between words of a comment is ordinary typing, so there it is none.
    """
    code = ord(character)
    if code < 0x80 or (in_comment and code in _DASHES):
        return None
    for low, high, what in _RANGES:
        if low <= code <= high:
            return what
    if unicodedata.category(character) == "Nd":
        return "a digit of another script"
    return "a character that is not seen" if unicodedata.category(character) == "Cf" else None


def suspects(text: str, in_comment: bool = False) -> list[tuple[int, str, str]]:
    """Runs of look-alike characters in `text`: (position from 0, the run, what its first character is)."""
    runs: list[tuple[int, str, str]] = []
    for match in _NOT_ASCII.finditer(text):
        what = suspect(match[0], in_comment)
        if what is None:
            continue
        if runs and runs[-1][0] + len(runs[-1][1]) == match.start():
            at, run, first = runs[-1]
            runs[-1] = (at, run + match[0], first)
        else:
            runs.append((match.start(), match[0], what))
    return runs


def describe(character: str) -> str:
    """A character by number and name, safe on any terminal: `U+2212 MINUS SIGN`."""
    name = unicodedata.name(character, "")
    return f"U+{ord(character):04X} {name}".rstrip()
