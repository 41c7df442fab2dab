"""The rule `unknown-code`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.findings.spells import unknown_m_codes
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62."
_LEFT_OVER = {
    "this word is not executed on a move": "on a move is not understood here: where the tool goes is not checked",
    "this word is not executed here": "is not understood here: what it does is not checked",
}
"""What the trace says of a word that nothing took -> what is said of it."""


class UnknownCode(FaultRule):
    """A code, or a word on a move, that is not understood here.

    What the machine does at it was not checked. An unknown M code may open a chuck, start a second spindle or send a quill; a word that is left
    over on a move may bend the path.
    """

    id = "unknown-code"
    revision = 1
    weight = Weight.MAJOR
    people = True
    title = "A code or word whose meaning is not known here."
    watch = "Ask what the code does on this machine, and have it put into the machine profile."
    codes = ("unknown-code",)
    together = True
    examples = (
        Example("unknown M code", turning("M51\n" + _CUT), True, line=7),
        Example("unknown G code", turning("G68.1\n" + _CUT), True, line=7),
        Example("word left over on a move", turning("G01 X50. F0.2 Q3."), True, line=7),
        Example("all known", turning(_CUT), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each unknown G code, M code and kind of word once, with the blocks it stands in."""
        yield from super().check(program)
        for code, blocks in unknown_m_codes(program).items():
            title = f"M{code:02d} is not in the machine profile: what it does is not known"
            yield Hazard(blocks[0], title, f"M{code:02d}", effects=_others(blocks))
        left: dict[tuple[str, str], list[tuple[int, str]]] = {}
        for entry in program.trace.unchecked:
            if entry.reason in _LEFT_OVER and entry.block is not None:
                letters = "".join(c for c in entry.what if c.isalpha() or c == ",")
                left.setdefault((letters, entry.reason), []).append((entry.block, entry.what))
        for (letters, reason), entries in left.items():
            title = f"{entries[0][1]} {_LEFT_OVER[reason]}"
            yield Hazard(entries[0][0], title, letters, effects=_others([block for block, _ in entries]))

    def same_as(self, fault: object) -> str:
        """The code itself."""
        return str(getattr(fault, "text", ""))


def _others(blocks: list[int]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(blocks[1:]))[:12]
