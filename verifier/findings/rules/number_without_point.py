"""The rule `number-without-point`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import CYCLES, TICKS_PER_MM, Lasts
from verifier.findings import shop
from verifier.findings.examples import lathe, turning
from verifier.findings.model import Weight
from verifier.findings.numbers import LENGTHS, codes, executed_words, increment, writes_points
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.syntax import Block, Word

_CYCLES = {code for code, cycle in CYCLES.items() if cycle.lasts is not Lasts.PASSES}
_SMALL = TICKS_PER_MM
_SMALL_AMOUNT = TICKS_PER_MM // 50
"""Amounts of cycles are often written in least increments on purpose (W50): only those of no use to anybody are told."""


class NumberWithoutPoint(ProgramRule):
    """A length without a decimal point is read in least increments, in a program that otherwise writes points.

    The number becomes a thousandth (in inches a ten-thousandth) of what is written: instead of to the groove the tool goes to the centre line.
    """

    id = "number-without-point"
    revision = 3
    weight = Weight.MAJOR
    title = "A length without a decimal point."
    watch = "Do not start before the point is written, or the small value is confirmed."
    examples = (
        Example("point lost", turning("G01 X35 F0.2\nX62."), True, line=7),
        Example("depth of cut without a point", turning("G71 U2 R0.5"), True, line=7),
        Example("zero needs no point", turning("G01 Z0 F0.2\nX62."), False),
        Example("allowance in least increments", turning("G71 U2. R0.5\nG71 P10 Q20 U400 W50 F0.3"), False),
        Example("the number of passes of a pattern", turning("G73 U5. W5. R3"), False),
        Example("the number of holes", turning("G83 Z-10. R-2. F0.1 K12\nG80"), False),
        Example("dwell in thousandths", turning("G01 X35. F0.2\nG04 X500\nX62."), False),
        Example(
            "whole units",
            turning("G01 X35 F0.2"),
            False,
            machine=lathe(choices={"number-without-point": "whole-units"}),
        ),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each small length without a point, where the machine reads least increments and points are the habit."""
        if program.machine.choice("number-without-point") != "least-increments" or not writes_points(program):
            return
        least, _, _ = increment(program)
        for block, word, number in executed_words(program, LENGTHS, pointed=False):
            ticks = number.mantissa * least
            if _told(program, block, word, abs(ticks)):
                read_as = shop.length(ticks, program.units)
                title = f"{word.text} has no decimal point and is read as {read_as}"
                yield Hazard(block.index, title, f"{word.letter}{ticks}", after=read_as, column=word.column)


_COUNTS = {"G73": "RD", **{code: "KL" for code, cycle in CYCLES.items() if cycle.lasts is Lasts.HOLES}}
"""Letters that count: the passes of the pattern-repeating cycle, the holes of a drilling cycle."""


def _told(program: ProgramView, block: Block, word: Word, ticks: int) -> bool:
    found = codes(block, program.machine)
    if "G04" in found:
        return False
    if any(word.letter in _COUNTS.get(code, "") for code in found):
        return False
    if not found & _CYCLES:
        return ticks < _SMALL
    if word.letter in "XZ":
        return ticks < _SMALL
    in_increments = word.letter == "R" and program.machine.choice("thread-r-unit") == "least-increments"
    return ticks < _SMALL_AMOUNT and not ("G76" in found and in_increments)
