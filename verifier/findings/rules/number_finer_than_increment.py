"""The rule `number-finer-than-increment`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.numbers import LENGTHS, executed_words, increment
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView


class NumberFinerThanIncrement(ProgramRule):
    """Lengths are written with more digits than one least increment of the control holds.

    Some controls round, some cut the digits off, some stop with an alarm; added up over incremental moves the rest can show.
    """

    id = "number-finer-than-increment"
    revision = 1
    weight = Weight.MINOR
    title = "More digits than the control's least increment holds."
    watch = "Compare such a number with what the control shows after loading."
    examples = (
        Example("four decimals in millimetres", turning("G01 X35.1234 F0.2"), True, line=7),
        Example("a zero behind them says nothing", turning("G01 X35.1230 F0.2"), False),
        Example("four decimals in inches", turning("G01 X1.1234 F.008").replace("G21", "G20"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """All such words as one hazard, at the first of them."""
        least, per_unit, digits = increment(program)
        found = [
            (block.index, word)
            for block, word, number in executed_words(program, LENGTHS, pointed=True, digits=digits)
            if number.value * per_unit % least
        ]
        if found:
            block, word = found[0]
            many = "" if len(found) == 1 else f", as do {len(found) - 1} more words"
            title = f"{word.text} has more digits than the least increment of {shop.length(least, program.units)} holds{many}"
            effects = tuple(dict.fromkeys(k for k, _ in found[1:]))[:12]
            yield Hazard(block, title, "finer", effects=effects, column=word.column)
