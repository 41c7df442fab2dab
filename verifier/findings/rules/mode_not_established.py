"""The rule `mode-not-established`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.control import InForce
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import Spell, spells
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import spoken

_CUT = "G01 Z-30. F0.2\nX62."
_MODES = {
    "feed_mode": "Feed mode ({G98} or {G99}) is not established at the first cut: F may count per minute or per revolution",
    "speed_mode": "Speed mode (G96 or G97) is not established at the first cut: S may be a surface speed or rev/min",
}


class ModeNotEstablished(ProgramRule):
    """Cuts are made before the program says how F or S is to be read.

    It runs in what the program before it left, or in what the machine starts with. On another machine, or after another program, the same numbers
    mean another feed or speed.
    """

    id = "mode-not-established"
    revision = 1
    weight = Weight.MINOR
    title = "How F or S is read is not established."
    watch = (
        "Before the first cut, read on the control whether feed per revolution and the right speed mode are in force."
    )
    examples = (
        Example("no G99", turning(_CUT).replace(" G99", ""), True, line=7),
        Example("no G96 or G97", turning(_CUT).replace(" G97", "").replace("G96 S180", "S900"), True, line=7),
        Example("both given", turning(_CUT), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut in each mode that is not established, once for the whole program."""
        waiting = dict(_MODES)
        for spell in spells(program):
            for name in [name for name in waiting if _open(spell.state, name)]:
                yield Hazard(
                    spell.block, spoken(waiting.pop(name), program.machine.code_set), name, effects=_others(spell)
                )


def _open(state: InForce, name: str) -> bool:
    """Whether a mode is open where it matters: a feed or speed that is there, on a spindle that turns."""
    if name == "feed_mode":
        return state.feed_mode is None and state.feed is not None
    return state.speed_mode is None and state.speed is not None and state.sense in ("forward", "reverse")


def _others(spell: Spell) -> tuple[int, ...]:
    return tuple(block for block in spell.blocks if block != spell.block)
