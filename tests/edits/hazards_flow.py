"""Hazardous edits of what flows and what holds: variables, comparisons, calls, whole sequences, chuck and quill, stretches of retract.

The same table as in `hazards.py`, which holds the words of single blocks. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from tests.edits.edit import Maker, replaced
from tests.edits.heads import heads
from tests.edits.oracle import Run, forward
from tests.edits.words import Line, Word

Lines = Sequence[Line]
_NUMBER = re.compile(r"(?<![A-Z#0-9.])[0-9]+\.?[0-9]*|(?<![A-Z#0-9.])\.[0-9]+")
_SENSES = {"GT": "LT", "LT": "GT", "GE": "LT", "LE": "GT", "EQ": "NE", "NE": "EQ"}
_SPINDLE_OFF = ("M05",)
_HOLDING = ("M10", "M11", "M25", "M26")
"""Chuck open and closed, quill forward and back: as on the lathe that judges, and as many builders number them (common practice)."""
_JUMP = re.compile("GOTO[0-9]*|DO[0-9]|END[0-9]")


def sequences(lines: Lines) -> list[tuple[int, int]]:
    """First line and the line behind the last, of every sequence but the last (it holds the program's end)."""
    return list(pairwise(heads(lines)))


def _bare(line: Line) -> str:
    """The line with its notes blanked out, every sign at its place."""
    return re.sub(r"\([^)]*\)?|;.*", lambda found: " " * len(found.group()), line.text.upper())


def _numbers(lines: Lines, *, assigned: bool) -> Iterator[str]:
    """One number of a macro line made half as large again: in what a variable is set to, or in any other expression."""
    for k, line in enumerate(lines):
        bare = _bare(line)
        if "#" not in bare or bare.lstrip().startswith("#") is not assigned:
            continue
        jumps = {at for found in _JUMP.finditer(bare) for at in range(found.start(), found.end())}
        for found in _NUMBER.finditer(bare, bare.find("=") + 1 if assigned else bare.find("[") + 1):
            if found.start() not in jumps and Fraction(found.group()) and "[" in bare[: found.start()] + "[" * assigned:
                value = Fraction(found.group())
                point = "." in found.group()
                other = f"{float(value * 3 / 2):.4f}".rstrip("0") if point else str(int(value) + 1)
                yield replaced(lines, k, line.text[: found.start()] + other + line.text[found.end() :])


def _comparison(lines: Lines) -> Iterator[str]:
    for k, line in enumerate(lines):
        bare = _bare(line)
        for found in re.finditer("GT|LT|GE|LE|EQ|NE", bare) if re.search("IF|WHILE", bare) else ():
            yield replaced(lines, k, line.text[: found.start()] + _SENSES[found.group()] + line.text[found.end() :])


def _other_variable(lines: Lines) -> Iterator[str]:
    """A variable read in a word or an expression becomes the one beside it, where the program has one."""
    used = {int(number) for line in lines for number in re.findall(r"#([0-9]+)", _bare(line))}
    for k, line in enumerate(lines):
        bare = _bare(line)
        for found in re.finditer(r"#([0-9]+)", bare):
            number = int(found.group(1)) + 1
            if bare[: found.start()].strip() and number in used:
                yield replaced(lines, k, f"{line.text[: found.start()]}#{number}{line.text[found.end() :]}")


def _jump(lines: Lines) -> Iterator[str]:
    """A jump to the block number one further."""
    for k, line in enumerate(lines):
        found = re.search(r"GOTO([0-9]+)", _bare(line))
        if found:
            number = int(found.group(1)) + 1
            yield replaced(lines, k, f"{line.text[: found.start(1)]}{number}{line.text[found.end(1) :]}")


def _sequence_gone(lines: Lines) -> Iterator[str]:
    for first, behind in sequences(lines):
        yield replaced(lines, first, count=behind - first)


def _sequences_exchanged(lines: Lines) -> Iterator[str]:
    for (first, middle), (_, behind) in pairwise(sequences(lines)):
        one, other = lines[first:middle], lines[middle:behind]
        yield replaced(lines, first, *(x.text for x in other), *(x.text for x in one), count=behind - first)


def _sequence_twice(lines: Lines) -> Iterator[str]:
    for first, behind in sequences(lines):
        texts = [line.text for line in lines[first:behind]]
        yield replaced(lines, first, *texts, *texts, count=behind - first)


def _alone(line: Line, *codes: str) -> bool:
    return line.plain and line.has(*codes) and len([w for w in line.words if w.letter != "N"]) == 1


def _moved_behind(lines: Lines, codes: tuple[str, ...], over: tuple[str, ...], reach: int = 6) -> Iterator[str]:
    """A line with one of these codes alone, put behind the next line that holds one of `over`."""
    for k, line in enumerate(lines):
        if _alone(line, *codes):
            for j in range(k + 1, min(k + reach, len(lines))):
                if lines[j].plain and lines[j].has(*over):
                    yield replaced(lines, k, *(x.text for x in lines[k + 1 : j + 1]), line.text, count=j - k + 1)
                    break


def _chuck_before_stop(lines: Lines) -> Iterator[str]:
    """The chuck is opened, or the quill taken back, before the spindle is stopped."""
    yield from _moved_behind(lines, _SPINDLE_OFF, ("M10", "M26"))


def _quill_early(lines: Lines) -> Iterator[str]:
    """The quill goes back while the tool still cuts: its line is put in front of the sequence's last cut."""
    for k, line in enumerate(lines):
        if not _alone(line, "M26"):
            continue
        cuts = [
            j for j in range(max(k - 14, 0), k) if lines[j].plain and lines[j].has("G01", "G90") and lines[j].word("XZ")
        ]
        if cuts:
            yield replaced(lines, cuts[-1], line.text, *(x.text for x in lines[cuts[-1] : k]), count=k - cuts[-1] + 1)


def _holding_gone(lines: Lines) -> Iterator[str]:
    for k, line in enumerate(lines):
        if _alone(line, *_HOLDING):
            yield replaced(lines, k)


def _retract_shortened(lines: Lines) -> Iterator[str]:
    """The first rapid behind a cut goes half as far, where both ends are known."""
    run, kind = Run(lines), ""
    goes_on: int | None = 0
    for k, line in enumerate(lines):
        if goes_on is None or k < goes_on:
            continue
        before = kind
        kind = next((c for c in ("G00", "G01", "G02", "G03") if line.plain and line.has(c)), kind)
        kind = "" if line.plain and line.has("G90", "G92", "G94", "G32", "G70", "G71", "G72", "G73", "G28") else kind
        word = line.word("XZ") if line.plain else None
        if kind == "G00" and before == "G01" and word is not None and word.pointed and not line.word("UW"):
            nearer = _half_way(run, word)
            if nearer is not None:
                yield replaced(lines, k, line.with_number(word, nearer))
        goes_on = forward(k, run.block(k, line))


def _half_way(run: Run, word: Word) -> str | None:
    place = run.place[word.letter]
    if place == (Fraction(0),):
        here = Fraction(0)
    elif len(place) == 2 and place[0] == "mm":
        here = place[1] / (Fraction(254, 10) if run.state.get("units") == "G20" else 1)
    else:
        return None
    middle = (here + word.value) / 2
    text = f"{float(middle):.3f}"
    return text if text != f"{float(here):.3f}" and Fraction(text) != word.value else None


FLOW: dict[str, Maker] = {
    "variable value": lambda lines: _numbers(lines, assigned=True),
    "number in an expression": lambda lines: _numbers(lines, assigned=False),
    "comparison sense": _comparison,
    "another variable": _other_variable,
    "another jump": _jump,
    "sequence removed": _sequence_gone,
    "sequences exchanged": _sequences_exchanged,
    "sequence twice": _sequence_twice,
    "chuck or quill before spindle stop": _chuck_before_stop,
    "quill back early": _quill_early,
    "chuck or quill code deleted": _holding_gone,
    "retract shortened": _retract_shortened,
}
