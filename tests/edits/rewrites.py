"""Harmless rewrites of program text, a table of kinds: each yields the program written otherwise, with what it does left as it was.

What needs more than text (cycles written out, calls in line, units, arcs by centre) is rewritten from generated jobs; see `bench.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from random import Random

from tests.edits.edit import replaced
from tests.edits.heads import heads
from tests.edits.oracle import MULTI, Run, forward
from tests.edits.words import Line, Word

Rewriter = Callable[[Sequence[Line], Random], Iterator[str]]

_CYCLE = MULTI | {"G90", "G92", "G94", "G83", "G84", "G85", "G87", "G88", "G89", "G32", "G33", "G34"}


_NAMING = re.compile(
    "TOOL|OFFSET|CHUCK|JAW|COLLET|CLAMP|TAIL|STEADY|CENT|BAR|STOCK|BLANK|STOP|INCH|METRIC|INSERT|SOFT|HARD|FACE|FACING|LENGTH|STICK|DEPTH"
)
"""What a note may name that people set up by: such a note is more than prose."""


def _joined(texts: Iterator[str] | list[str]) -> str:
    return "\n".join(texts)


def _labels(lines: Sequence[Line]) -> set[Fraction]:
    return {w.value for line in lines for w in line.words if w.letter in "PQ" and not w.pointed}


def _renumbered(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """Every block number that nothing calls and no sequence begins with."""
    kept, first = _labels(lines), set(heads(lines))
    if any(not line.plain and "%" not in line.text for line in lines):
        return
    used = {w.value for line in lines for w in line.words if w.letter == "N"}
    number = int(max(used, default=Fraction(0))) + 1001
    made, changed = [], False
    for k, line in enumerate(lines):
        word = line.word("N")
        follows_tool = word is not None and any(j in first for j in range(k, min(k + 12, len(lines))))
        if word is None or word.value in kept or follows_tool or line.word("T"):
            made.append(line.text)
            continue
        made.append(line.with_text(word, f"N{number}"))
        number, changed = number + chance.randrange(1, 6), True
    if changed and number < 99_000:
        yield _joined(made)


def _numbered(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """A number for blocks that had none, apart from those in front of a tool word, where sequences begin."""
    if any(not line.plain and "%" not in line.text for line in lines):
        return
    first = _at_heads(lines)
    used = {w.value for line in lines for w in line.words if w.letter in "NPQO"}
    number = max(20_001, int(max(used, default=Fraction(0))) + 1)
    made, changed = [], False
    for k, line in enumerate(lines):
        if line.word("NOT") or not line.words or not line.plain or line.skip or k in first:
            made.append(line.text)
            continue
        made.append(f"N{number} {line.text.lstrip()}")
        number, changed = number + chance.randrange(1, 6), True
    if changed and number < 99_000:
        yield _joined(made)


def _at_heads(lines: Sequence[Line]) -> set[int]:
    """Lines near where a sequence begins, up to its tool word: a number there is one that people search."""
    found: set[int] = set()
    for first in heads(lines):
        called = next((k for k in range(first, len(lines)) if lines[k].word("T")), first)
        found |= set(range(first - 11, max(first + 3, called) + 1))
    return found


def _numbers_out(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    found = next(_renumbered(lines, chance), None)
    if found is not None:
        yield (
            re.sub(r"(?m)^([ \t]*/?[0-9]?[ \t]*)N(1[0-9]{3}|[2-9][0-9]{3})[ \t]*", r"\1", found)
            if "G7" not in found
            else found
        )


def _spelled(change: Callable[[Word], str], gap: str | None = None) -> Rewriter:
    """Every word of every plain line written otherwise; `gap` is put between words (None: what stands there stays)."""

    def rewrite(lines: Sequence[Line], chance: Random) -> Iterator[str]:
        made = []
        for line in lines:
            text, shift = line.text, 0
            for word in line.words if line.plain else ():
                other = change(word)
                text = text[: word.start + shift] + other + text[word.end + shift :]
                shift += len(other) - (word.end - word.start)
            made.append(text)
        if made != [line.text for line in lines]:
            yield _joined(made)

    return rewrite


def _respaced(wide: bool) -> Rewriter:
    def rewrite(lines: Sequence[Line], chance: Random) -> Iterator[str]:
        made = []
        for line in lines:
            if not line.plain or not line.words or line.notes:
                made.append(line.text)
                continue
            mark = "/" if line.skip else ""
            made.append(mark + ("  " if wide else "").join(w.letter + w.number for w in line.words))
        if made != [line.text for line in lines]:
            yield _joined(made)

    return rewrite


def _codes(width: int) -> Callable[[Word], str]:
    def change(word: Word) -> str:
        if word.letter not in "GM" or word.pointed:
            return word.letter + word.number
        return word.letter + str(int(word.value)).rjust(width, "0")

    return change


def _zeros_behind(word: Word) -> str:
    return (
        word.letter
        + word.number
        + ("0" if word.pointed and len(word.number.partition(".")[2]) < 3 and word.letter in "XZUWIKRF" else "")
    )


def _plus(word: Word) -> str:
    bare = word.letter in "XZUW" and word.number[0] not in "+-" and word.pointed
    return word.letter + ("+" if bare else "") + word.number


def _blanks(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    made: list[str] = []
    for k, line in enumerate(lines):
        if 1 < k < len(lines) - 2 and chance.random() < 0.3:
            made.append("")
        made.append(line.text)
    yield _joined(made)


def _notes(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """The wording of notes that hold no number, and new notes without one; none where the program number's own note stands, or a head's."""
    made = []
    begun = False
    for line in lines:
        text = line.text
        begun = begun or any(word.letter not in "ON" for word in line.words)
        if line.plain and not line.word("O") and begun:
            for note in line.notes:
                if re.fullmatch(r"\([A-Z ,]+\)", note) and not _NAMING.search(note):
                    text = text.replace(note, "(REWORDED)")
            if line.words and not line.notes and chance.random() < 0.1:
                text += " (SEEN)"
        made.append(text)
    if made != [line.text for line in lines]:
        yield _joined(made)


def plain_motion(lines: Sequence[Line]) -> Iterator[tuple[int, Line, str, Run]]:
    """Lines that only move by G00 or G01, outside cycles and contours, with what is in force and where the tool is in front of them."""
    run, inside = Run(lines), contours(lines)
    since: str | None = None
    goes_on: int | None = 0
    for k, line in enumerate(lines):
        if goes_on is None:
            return
        if k < goes_on:
            continue
        if not line.plain:
            since, goes_on = None, forward(k, run.block(k, line))
            continue
        moves = line.words and all(w.letter in "NXZUWFG" for w in line.words) and line.word("XZUW") and not line.skip
        codes = {w.code for w in line.words if w.letter == "G"}
        kind = next((c for c in ("G00", "G01") if c in codes), since)
        if moves and codes <= {"G00", "G01"} and kind and k not in inside and len(codes) < 2:
            yield k, line, kind, run
        if codes & _CYCLE or codes & {"G02", "G03"} or line.word("T") or line.word("M"):
            since = None if codes & _CYCLE or codes & {"G02", "G03"} or line.word("T") else kind
        elif line.words:
            since = kind
        goes_on = forward(k, run.block(k, line))


def contours(lines: Sequence[Line]) -> set[int]:
    """Lines between the labels of contour cycles."""
    found: set[int] = set()
    labels = _labels(lines)
    where = [k for k, line in enumerate(lines) if (w := line.word("N")) is not None and w.value in labels]
    if where:
        found = set(range(min(where), max(where) + 1))
    return found


def _motion_repeated(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    made = [line.text for line in lines]
    for k, line, kind, _ in plain_motion(lines):
        if not line.has("G00", "G01") and chance.random() < 0.6:
            first = next(w for w in line.words if w.letter != "N")
            made[k] = line.text[: first.start] + kind + line.text[first.start :]
    if made != [line.text for line in lines]:
        yield _joined(made)


def _motion_dropped(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """A motion code that says again what the line in front of it said already."""
    made, before = [line.text for line in lines], (-9, "")
    for k, line, kind, _ in plain_motion(lines):
        said = next((w for w in line.words if w.code in ("G00", "G01")), None)
        if said is not None and before[1] == kind and all(not one.words for one in lines[before[0] + 1 : k]):
            made[k] = line.without(said)
        before = (k, kind)
    if made != [line.text for line in lines]:
        yield _joined(made)


def _feed_repeated(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """The feed in force written again on the next cut."""
    made, feed, since = [line.text for line in lines], "", -9
    for k, line, kind, _ in plain_motion(lines):
        word = line.word("F")
        feed = feed if all(not x.words for x in lines[since + 1 : k]) else ""
        if word is None and feed and kind == "G01":
            made[k] = line.text[: line.words[-1].end] + "F" + feed + line.text[line.words[-1].end :]
        if word is not None and kind == "G01":
            feed = word.number
        since = k
    if made != [line.text for line in lines]:
        yield _joined(made)


def _words_in_another_order(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    made = [line.text for line in lines]
    for k, line, _, _ in plain_motion(lines):
        words = [w for w in line.words if w.letter != "N"]
        if len({w.letter for w in words}) == len(words) > 1 and not line.notes:
            order = chance.sample(words, len(words))
            mark = "".join(w.letter + w.number + " " for w in line.words if w.letter == "N")
            made[k] = mark + " ".join(w.letter + w.number for w in order)
    if made != [line.text for line in lines]:
        yield _joined(made)


def exact(value: Fraction, decimals: int = 4) -> str | None:
    """A value as a decimal with a point; None where it needs more digits."""
    scaled = value * 10**decimals
    if scaled.denominator != 1:
        return None
    text = f"{abs(scaled.numerator):0{decimals + 1}d}"
    whole, part = text[:-decimals], text[-decimals:].rstrip("0")
    return ("-" if value < 0 else "") + f"{whole}.{part}"


def known(place: object, units: str) -> Fraction | None:
    """A place in the program's own units, where it is known."""
    if place == (Fraction(0),):
        return Fraction(0)
    if isinstance(place, tuple) and len(place) == 2 and place[0] in ("mm", "?") and isinstance(place[1], Fraction):
        return place[1] / (Fraction(254, 10) if units == "G20" and place[0] == "mm" else 1)
    return None


def _incremental(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """Places written as increments, where the place in front is known."""
    made = [line.text for line in lines]
    for k, line, _, run in plain_motion(lines):
        text, shift = line.text, 0
        for word in line.words:
            here = (
                known(run.place.get(word.letter, ("?",)), str(run.state.get("units", "?")))
                if word.letter in "XZ"
                else None
            )
            if here is None or (not word.pointed and word.value) or chance.random() < 0.3 or line.word("UW"):
                continue
            step = exact(word.value - here)
            if step is not None:
                other = {"X": "U", "Z": "W"}[word.letter] + step
                text = text[: word.start + shift] + other + text[word.end + shift :]
                shift += len(other) - (word.end - word.start)
        made[k] = text
    if made != [line.text for line in lines]:
        yield _joined(made)


def _split(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """A straight cut along one axis made in two blocks."""
    for k, line, kind, run in plain_motion(lines):
        word = line.word("XZ")
        axes = [w for w in line.words if w.letter in "XZUW"]
        if (
            kind != "G01"
            or word is None
            or len(axes) != 1
            or not word.pointed
            or run.state.get("compensation", "G40") != "G40"
        ):
            continue
        here = known(run.place[word.letter], str(run.state.get("units", "?")))
        if here is None or here == word.value or line.notes:
            continue
        middle = exact((here + word.value) / 2, 3)
        if middle is not None:
            yield replaced(lines, k, line.with_number(word, middle), word.letter + word.number)


def _rapid_again(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    """A rapid to where the tool is already."""
    for k, line, kind, run in plain_motion(lines):
        words = [w for w in line.words if w.letter in "XZ" and w.pointed]
        if (
            kind == "G00"
            and words
            and not line.word("UW")
            and all(known(run.place[a], "G21") is not None for a in "XZ")
        ):
            yield replaced(lines, k, line.text, "G00 " + " ".join(w.letter + w.number for w in words))


def _line_ends(lines: Sequence[Line], chance: Random) -> Iterator[str]:
    yield "\r\n".join(line.text + "  " for line in lines)


REWRITES: dict[str, Rewriter] = {
    "blocks renumbered": _renumbered,
    "block numbers taken out": _numbers_out,
    "blocks numbered": _numbered,
    "no blanks": _respaced(wide=False),
    "two blanks between words": _respaced(wide=True),
    "lower case": _spelled(lambda w: w.letter.lower() + w.number),
    "codes of one digit": _spelled(_codes(1)),
    "codes of three digits": _spelled(_codes(3)),
    "zeros behind": _spelled(_zeros_behind),
    "plus signs": _spelled(_plus),
    "blank lines": _blanks,
    "notes reworded": _notes,
    "motion code repeated": _motion_repeated,
    "motion code dropped": _motion_dropped,
    "feed repeated": _feed_repeated,
    "words in another order": _words_in_another_order,
    "places as increments": _incremental,
    "cut made in two": _split,
    "rapid to the same place": _rapid_again,
    "line ends and blanks behind": _line_ends,
}
