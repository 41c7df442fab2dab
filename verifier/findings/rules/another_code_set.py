"""The rule `another-code-set`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import HEAD, lathe, turning
from verifier.findings.faults import FaultRule
from verifier.findings.foreign import signs, suspects
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import Example
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62."
_B = "O1000\nG21 G90 G95 G97 S900 M03\nT0101\nG00 X62. Z2.\nG01 Z-30. F0.2\nX64.\nM05\nM30\n"


class AnotherCodeSet(FaultRule):
    """Words that make no sense in the code set of this machine, and would in another one.

    The same code is a distance mode in one set and a cutting cycle in another, a feed mode here and a return level there. If the program was
    written for a machine of another set, everything in it means something else than what is computed here.
    """

    id = "another-code-set"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "The program looks as if written for another code set."
    watch = "Do not start. Ask for which machine the program was written, and which code set this control is set to."
    codes = ("code-of-another-set",)
    together = True
    examples = (
        Example("distance mode on a machine of set A", turning("G90\nG91 G01 Z-3. F0.2\nX62."), True, line=7),
        Example("feed mode of another set", turning("G95 " + _CUT), True, line=7),
        Example("turning cycle of set A", turning("G90 X58. Z-30. F0.2\nX56."), False),
        Example("all as in set A", turning(_CUT), False),
        Example("clamp of set A on a machine of set B", HEAD + _CUT, True, machine=lathe(code_set="B"), line=4),
        Example("all as in set B", _B, False, machine=lathe(code_set="B")),
        Example(
            "increment words on a machine of set B",
            _B.replace("X64.", "G01 U2."),
            True,
            machine=lathe(code_set="B"),
            line=6,
        ),
        Example("inch by G20 on a machine of set C", _B.replace("G21", "G71"), False, machine=lathe(code_set="C")),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """One hazard for the program, with the words that speak for other sets."""
        words: dict[tuple[str, ...], dict[str, None]] = {}
        blocks: dict[int, None] = {}
        for block in suspects(program):
            for sign in signs(block, program.machine):
                name = sign.word.text if sign.word.letter == "G" else sign.word.letter
                words.setdefault(sign.sets, {})[name.upper().replace(" ", "")] = None
                blocks[block.index] = None
        if not blocks:
            return
        first, *others = blocks
        told = "; ".join(f"{joined(list(names))} for {' or '.join(sets)}" for sets, names in words.items())
        title = f"This machine has code set {program.machine.code_set}, but words speak for another one: {told}"
        yield Hazard(first, title, "", effects=tuple(others[:12]))
