"""Hazardous edits, a table of kinds: each maker yields every place where its kind can be made, and what the program is then.

They are what hands do to programs: a point lost, a digit swapped, a line deleted, a copy pasted twice. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from tests.edits.edit import Maker, replaced
from tests.edits.hazards_flow import FLOW
from tests.edits.heads import heads
from tests.edits.words import Line, Word

Lines = Sequence[Line]
LENGTHS = "XZUWIKR"
CYCLES = ("G70", "G71", "G72", "G73", "G74", "G75", "G76")
_SINGLE = ("G90", "G92", "G94")


def plain(lines: Lines) -> Iterator[tuple[int, Line]]:
    return ((k, line) for k, line in enumerate(lines) if line.plain and line.words)


def each_word(
    letters: str, change: Callable[[Line, Word], str | None], *, only: Callable[[Line], bool] = lambda _: True
) -> Maker:
    """A maker that changes one word with one of these letters; `change` gives the word's new text, or None."""

    def make(lines: Lines) -> Iterator[str]:
        for k, line in plain(lines):
            if not only(line):
                continue
            for word in line.words:
                text = change(line, word) if word.letter in letters else None
                if text is not None:
                    yield replaced(lines, k, line.with_text(word, text))

    return make


def each_code(codes: dict[str, str], *, only: Callable[[Line], bool] = lambda _: True) -> Maker:
    """A maker that replaces one code by another ("" takes it away)."""

    def make(lines: Lines) -> Iterator[str]:
        for k, line in plain(lines):
            for word in line.words:
                if word.letter in "GM" and word.code in codes and only(line):
                    yield replaced(lines, k, line.with_text(word, codes[word.code]))

    return make


def _cancel_gone(lines: Lines) -> Iterator[str]:
    """Each G40 behind a G41 or G42 taken away; where there is none, every G40."""
    on, found = False, list[str]()
    for k, line in plain(lines):
        for word in line.words:
            if word.letter == "G" and word.code == "G40":
                if on:
                    found.append(replaced(lines, k, line.with_text(word, "")))
                on = False
            elif word.letter == "G" and word.code in ("G41", "G42"):
                on = True
    yield from found or each_code({"G40": ""})(lines)


def scaled(number: str, factor: int) -> str:
    """A number ten times larger or smaller by its point alone: 25.4 -> 254. or 2.54."""
    sign = number[:1] if number[:1] in "+-" else ""
    whole, _, part = number.lstrip("+-").partition(".")
    digits = whole + part
    point = len(whole) + factor
    digits = digits.rjust(len(digits) - min(point, 0), "0").ljust(max(point, 0), "0")
    point = max(point, 0)
    return f"{sign}{digits[:point]}.{digits[point:]}"


def times(word: Word, factor: str) -> str:
    """A word's number times 2, 10 or half, written in the same manner."""
    value = word.value * {"2": 2, "10": 10, "0.5": 1}[factor] / (2 if factor == "0.5" else 1)
    if not word.pointed:
        return f"{word.letter}{int(value)}"
    text = f"{float(value):.6f}".rstrip("0")
    return word.letter + text


def whole(word: Word, by: int) -> str:
    return f"{word.letter}{int(word.value) + by}"


def _swapped(word: Word) -> str | None:
    digits = list(word.number)
    for k in range(len(digits) - 1):
        if digits[k].isdigit() and digits[k + 1].isdigit() and digits[k] != digits[k + 1]:
            digits[k], digits[k + 1] = digits[k + 1], digits[k]
            return word.letter + "".join(digits)
    return None


def _dropped(word: Word) -> str | None:
    for k, sign in enumerate(word.number):
        if sign.isdigit() and sign != "0" and sum(c.isdigit() for c in word.number) > 1:
            return word.letter + word.number[:k] + word.number[k + 1 :]
    return None


def _other_place(word: Word) -> str:
    return {"X": "U", "U": "X", "Z": "W", "W": "Z"}[word.letter] + word.number


def lines_gone(wanted: Callable[[Line], bool]) -> Maker:
    def make(lines: Lines) -> Iterator[str]:
        for k, line in plain(lines):
            if wanted(line):
                yield replaced(lines, k)

    return make


def _is_cut(line: Line) -> bool:
    return line.word(LENGTHS) is not None


def _clamp_behind_speed(lines: Lines) -> Iterator[str]:
    for k, line in plain(lines):
        if line.has("G50") and line.word("S") and not line.word("XZUW"):
            for j in range(k + 1, min(k + 5, len(lines))):
                if lines[j].plain and lines[j].has("G96"):
                    moved = [one.text for one in lines[k + 1 : j + 1]]
                    yield replaced(lines, k, *moved, line.text, count=j - k + 1)
                    break


def _exchanged(lines: Lines) -> Iterator[str]:
    found = [k for k, line in plain(lines) if line.words and not line.word("O")]
    for k, j in pairwise(found):
        yield replaced(lines, k, lines[j].text, *(one.text for one in lines[k + 1 : j]), lines[k].text, count=j - k + 1)


def _repeated(lines: Lines) -> Iterator[str]:
    for k, line in plain(lines):
        counts = line.word("UW") or line.has("G04", "M00", "M01", "M98", "G02", "G03", "G32", "G34", *CYCLES, *_SINGLE)
        if counts and not line.word("NO"):
            yield replaced(lines, k, line.text, line.text)


def _stop_moved(lines: Lines) -> Iterator[str]:
    for k, line in plain(lines):
        if line.has("M00", "M01") and len(line.words) == 1:
            for j in range(k + 2, min(k + 8, len(lines))):
                if lines[j].plain and lines[j].word("XZ"):
                    yield replaced(lines, k, *(x.text for x in lines[k + 1 : j + 1]), line.text, count=j - k + 1)
                    break


def _note_number(lines: Lines) -> Iterator[str]:
    for k, line in enumerate(lines):
        for note in line.notes:
            at = next((i for i, sign in enumerate(note) if sign.isdigit()), None)
            if at is not None and note.startswith("("):
                other = note[:at] + str((int(note[at]) + 1) % 10) + note[at + 1 :]
                yield replaced(lines, k, line.text.replace(note, other, 1))


def _head_word_gone(lines: Lines) -> Iterator[str]:
    for first in heads(lines):
        for k in range(first, min(first + 5, len(lines))):
            for word in lines[k].words:
                if (
                    lines[k].plain
                    and word.letter == "G"
                    and word.code in ("G96", "G97", "G98", "G99", "G00", "G01", "G20", "G21", "G40")
                ):
                    yield replaced(lines, k, lines[k].without(word))


def _safety_block_gone(lines: Lines) -> Iterator[str]:
    for k, line in plain(lines):
        if sum(
            line.has(code) for code in ("G40", "G97", "G99", "G98", "G18", "G20", "G21", "G80")
        ) >= 3 and not line.word("XZUWTS"):
            yield replaced(lines, k)


def _label_renumbered(lines: Lines) -> Iterator[str]:
    named = {
        w.value
        for _, line in plain(lines)
        if line.has("G70", "G71", "G72", "G73")
        for w in line.words
        if w.letter in "PQ"
    }
    for k, line in plain(lines):
        word = line.word("N")
        if word is not None and word.value in named:
            yield replaced(lines, k, line.with_text(word, f"N{int(word.value) + 1003}"))


def _home_elsewhere(lines: Lines) -> Iterator[str]:
    for k, line in plain(lines):
        word = line.word("UW") if line.has("G28", "G30") else None
        if word is not None and not word.value:
            yield replaced(lines, k, line.with_text(word, f"{word.letter}-1."))


def _approach_shortened(lines: Lines) -> Iterator[str]:
    """The last rapid in front of a cut ends a little nearer."""
    kind = ""
    places: list[tuple[int, Word, str]] = []
    for k, line in plain(lines):
        before = kind
        for code in ("G00", "G01", "G02", "G03"):
            kind = code if line.has(code) else kind
        if line.has(*CYCLES, *_SINGLE, "G32"):
            kind = "cycle"
        word = line.word("Z")
        places.append((k, word, kind) if word else (k, Word("Z", "0", 0, 0), kind))
        if kind == "G01" and before == "G00" and len(places) > 1:
            at, last, was = places[-2]
            if was == "G00" and last.end and last.pointed and last.value > 0:
                yield replaced(lines, at, lines[at].with_text(last, times(last, "0.5")))


def _multi(line: Line) -> bool:
    return line.has(*CYCLES)


def _thread(line: Line) -> bool:
    return line.has("G32", "G33", "G92", "G76")


def _flip(word: Word) -> str | None:
    if not word.value:
        return None
    return word.letter + (word.number[1:] if word.value < 0 else "-" + word.number.lstrip("+"))


def _tenfold(word: Word) -> str | None:
    return times(word, "10") if word.value else None


def _tenfold_whole(word: Word) -> str | None:
    return None if word.pointed else _tenfold(word)


def _peck(line: Line) -> bool:
    return line.has("G74", "G75") and line.word("XZUW") is not None


def _thread_cycle(line: Line) -> bool:
    return line.has("G76") and line.word("XZUW") is not None


def _contour(line: Line) -> bool:
    return line.has("G71", "G72", "G73") and line.word("P") is not None


def _labelled(line: Line) -> bool:
    return line.has("G70", "G71", "G72", "G73") and line.word("P") is not None


def _no_code(line: Line) -> bool:
    return not line.has("G04", "G10", "G28", "G30", "G50", "G53", *CYCLES)


def _first_line_of_thread(line: Line) -> bool:
    return line.has("G76") and not line.word("XZUW") and line.word("P") is not None


def _thread_code(at: int) -> Callable[[Line, Word], str | None]:
    """One more in two digits of P of the first line: finish passes (0), pull-out (1), angle (2)."""

    def change(line: Line, word: Word) -> str | None:
        digits = str(int(word.value)).rjust(6, "0")
        part = digits[2 * at : 2 * at + 2]
        return f"P{digits[: 2 * at]}{(int(part) + 1) % 100:02d}{digits[2 * at + 2 :]}"

    return change


KINDS: dict[str, Maker] = {
    "point lost": each_word(LENGTHS, lambda _, w: f"{w.letter}{w.number.replace('.', '')}" if w.pointed and w.value else None),
    "point moved left": each_word(LENGTHS, lambda _, w: w.letter + scaled(w.number, -1) if w.pointed and w.value else None),
    "point moved right": each_word(LENGTHS, lambda _, w: w.letter + scaled(w.number, 1) if w.pointed and w.value else None),
    "point gained": each_word("XZUW", lambda _, w: f"{w.letter}{w.number}." if not w.pointed and w.value else None),
    "sign lost": each_word(LENGTHS, lambda _, w: w.letter + w.number[1:] if w.value < 0 else None),
    "sign gained": each_word("XZUW", lambda _, w: f"{w.letter}-{w.number.lstrip('+')}" if w.value > 0 else None),
    "digit dropped": each_word("XZUWIKRFS", lambda _, w: _dropped(w)),
    "digits swapped": each_word("XZUWIKRFS", lambda _, w: _swapped(w)),
    "place and increment exchanged": each_word("XZUW", lambda _, w: _other_place(w), only=_no_code),
    "feed doubled": each_word("F", lambda _, w: times(w, "2") if w.value else None),
    "feed ten times": each_word("F", lambda _, w: times(w, "10") if w.value else None),
    "feed halved": each_word("F", lambda _, w: times(w, "0.5") if w.value else None),
    "feed deleted": each_word("F", lambda _, w: ""),
    "clamp deleted": lines_gone(lambda line: line.has("G50") and line.word("S") is not None and line.word("XZUW") is None),
    "clamp raised": each_word("S", lambda _, w: times(w, "2"), only=lambda line: line.has("G50")),
    "clamp behind the speed word": _clamp_behind_speed,
    "speed mode exchanged": each_code({"G96": "G97", "G97": "G96"}),
    "speed doubled": each_word("S", lambda _, w: times(w, "2") if w.value else None, only=lambda line: not line.has("G50")),
    "spindle sense exchanged": each_code({"M03": "M04", "M04": "M03"}),
    "spindle start deleted": each_code({"M03": "", "M04": ""}),
    "rapid became feed": each_code({"G00": "G01"}, only=_is_cut),
    "feed became rapid": each_code({"G01": "G00"}, only=_is_cut),
    "arc sense exchanged": each_code({"G02": "G03", "G03": "G02"}, only=_is_cut),
    "arc centre changed": each_word("IKR", lambda _, w: times(w, "2") if w.value and w.pointed else None, only=lambda line: line.has("G02", "G03")),
    "compensation side exchanged": each_code({"G41": "G42", "G42": "G41"}),
    "compensation cancel deleted": _cancel_gone,
    "compensation deleted": each_code({"G41": "", "G42": ""}),
    "tool changed": each_word("T", lambda _, w: f"T{int(w.value) + 100:04d}" if w.value >= 100 else None),
    "offset changed": each_word("T", lambda _, w: f"T{int(w.value) + 1:04d}" if w.value >= 100 else None),
    "work offset changed": each_code({"G54": "G55", "G55": "G56", "G56": "G55"}),
    "units exchanged": each_code({"G20": "G21", "G21": "G20"}),
    "feed mode exchanged": each_code({"G98": "G99", "G99": "G98"}),
    "approach shortened": _approach_shortened,
    "safety block deleted": _safety_block_gone,
    "coolant deleted": each_code({"M08": "", "M07": ""}),
    "coolant off deleted": each_code({"M09": ""}),
    "spindle stop deleted": each_code({"M05": ""}),
    "dwell deleted": lines_gone(lambda line: line.has("G04")),
    "dwell ten times": each_word("PXU", lambda _, w: times(w, "10") if w.value else None, only=lambda line: line.has("G04")),
    "optional stop deleted": each_code({"M01": "", "M00": ""}),
    "optional became program stop": each_code({"M01": "M00", "M00": "M01"}),
    "slash added": lambda lines: (replaced(lines, k, "/" + line.text) for k, line in plain(lines) if not line.skip and not line.word("O")),
    "program end deleted": each_code({"M30": "", "M02": ""}),
    "program end became repeat": each_code({"M30": "M99", "M02": "M99"}),
    "peck ten times": each_word("PQ", lambda _, w: _tenfold_whole(w), only=_peck),
    "thread depth ten times": each_word("PQ", lambda _, w: _tenfold_whole(w), only=_thread_cycle),
    "allowance sign": each_word("UW", lambda _, w: _flip(w), only=_contour),
    "cycle amount ten times": each_word("UWRD", lambda _, w: _tenfold(w), only=_multi),
    "label renumbered alone": _label_renumbered,
    "cycle label changed": each_word("PQ", lambda _, w: whole(w, 1), only=_labelled),
    "thread lead changed": each_word("F", lambda _, w: times(w, "2") if w.value else None, only=_thread),
    "infeed angle changed": each_word("P", _thread_code(2), only=_first_line_of_thread),
    "finish passes changed": each_word("P", _thread_code(0), only=_first_line_of_thread),
    "pull-out changed": each_word("P", _thread_code(1), only=_first_line_of_thread),
    "repeat count changed": each_word("L", lambda _, w: whole(w, 1), only=lambda line: line.has("M98")),
    "another subprogram": each_word("P", lambda _, w: whole(w, 1), only=lambda line: line.has("M98")),
    "blocks exchanged": _exchanged,
    "block repeated": _repeated,
    "block deleted": lines_gone(lambda line: line.word(LENGTHS) is not None),
    "home through another point": _home_elsewhere,
    "preset changed": each_word("XZ", lambda _, w: times(w, "2") if w.value and w.pointed else None, only=lambda line: line.has("G50")),
    "word gone at a sequence's head": _head_word_gone,
    "stop moved": _stop_moved,
    "number in a note": _note_number,
} | FLOW  # fmt: skip
"""Kind -> where and how. A kind that a program has no place for yields nothing there."""
