"""Words that make no sense in the code set that a machine declares, and the sets in which they would.

Nothing is guessed from them: the program is read as the profile says, and they are told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from verifier.control import FOREIGN, g_code, meant
from verifier.findings.view import ProgramView
from verifier.machines import ABSOLUTE, FUNCTIONS, INCREMENTAL, SETS, TO_R, Machine, meaning
from verifier.syntax import Block, Word

_MOVES = frozenset(("G00", "G01", "G02", "G03"))
_HOLES = frozenset(("G83", "G84", "G85", "G87", "G88", "G89"))


@dataclass(frozen=True, slots=True)
class _Held:
    """What a block holds: its G codes by meaning, and its other letters."""

    codes: frozenset[str]
    letters: frozenset[str]


class Sign(NamedTuple):
    """A word that speaks for other code sets."""

    word: Word
    sets: tuple[str, ...]


_NUMBERS = sorted({int(code[1:]) for row in FUNCTIONS for code in (row.a, row.b, row.c) if code})


def suspects(program: ProgramView) -> Iterator[Block]:
    """The executed blocks that hold a code or a letter which the sets do not share, without walking through every block."""
    columns = program.program.columns
    wanted = (columns.letter == ord("G")) & np.isin(columns.mantissa, _NUMBERS)
    if program.machine.code_set != "A":
        wanted |= np.isin(columns.letter, (ord("U"), ord("W")))
    owner = np.repeat(np.arange(len(columns.line)), np.diff(columns.row))
    blocks = ~columns.plain
    blocks[owner[wanted]] = True
    for index in np.flatnonzero(blocks & program.trace.executed).tolist():
        yield program.block(index)


def signs(block: Block, machine: Machine) -> Iterator[Sign]:
    """The words of one block that speak for other sets than the machine's."""
    here = _held(block, machine.code_set)
    for word in block.words:
        if word.letter == "G":
            code = meant(word, machine)
            sets = _of_foreign(code) if code.startswith(FOREIGN) else _of_code(code, here, block, machine)
        elif word.letter in "UW" and machine.code_set != "A" and here.codes & _MOVES and not here.codes - _MODAL_BESIDE:
            sets = ("A",)
        else:
            continue
        if sets:
            yield Sign(word, sets)


_MODAL_BESIDE = _MOVES | {ABSOLUTE, INCREMENTAL, "G98", "G99", "G96", "G97", "G40", "G41", "G42", "G18"}


def _held(block: Block, code_set: str) -> _Held:
    codes = set()
    for word in block.words:
        if word.letter == "G" and word.number is not None:
            code = _plain(word)
            codes.add(meaning(code, code_set) or FOREIGN + code)
    return _Held(frozenset(codes), frozenset(w.letter for w in block.words) - {"G", "M", "N", "O", ":"})


def _plain(word: Word) -> str:
    return g_code(word) or ""


def _of_foreign(code: str) -> tuple[str, ...]:
    name = code.removeprefix(FOREIGN)
    return tuple(code_set for code_set in SETS if meaning(name, code_set) is not None)


def _of_code(code: str, here: _Held, block: Block, machine: Machine) -> tuple[str, ...]:
    """Whether a code that the set has makes sense where it stands; if not, the sets in which it would."""
    senseless = _SENSELESS.get(code)
    if senseless is None or not senseless(here):
        return ()
    name = next((_plain(w) for w in block.words if w.letter == "G" and meant(w, machine) == code), "")
    found = []
    for code_set in SETS:
        other = meaning(name, code_set)
        if code_set == machine.code_set or other is None or other == code:
            continue
        there = _held(block, code_set)
        test = _SENSELESS.get(other)
        if test is None or not test(there):
            found.append(code_set)
    return tuple(found)


def _no_axis(here: _Held) -> bool:
    return not here.letters & set("XZUW")


def _cycle_alone(here: _Held) -> bool:
    """A single cycle beside a motion code, or with nothing that it could do."""
    return bool(here.codes & _MOVES) or _no_axis(here)


def _contour_alone(here: _Held) -> bool:
    """A contour cycle without any of its words."""
    return not here.letters & set("PQUWRDIK")


def _units_with_words(here: _Held) -> bool:
    """A unit code beside what a cycle would take."""
    return "P" in here.letters or ("F" in here.letters and bool(here.letters & set("XZ")) and len(here.codes) == 1)


def _preset_with_feed(here: _Held) -> bool:
    """A preset beside a feed and a point: as a cycle would be written."""
    return "F" in here.letters and bool(here.letters & set("XZ"))


_SENSELESS: dict[str, Callable[[_Held], bool]] = {
    "G90": _cycle_alone,
    "G92": _cycle_alone,
    "G94": _cycle_alone,
    "G70": _contour_alone,
    "G71": _contour_alone,
    "G20": _units_with_words,
    "G21": _units_with_words,
    "G50": _preset_with_feed,
    TO_R: lambda here: "F" in here.letters and bool(here.codes & {"G01"}) and not here.codes & _HOLES,
}
"""Meaning -> whether a block in which it stands makes no sense by it. Common practice, no source."""
