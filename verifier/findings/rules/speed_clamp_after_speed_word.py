"""The rule `speed-clamp-after-speed-word`."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

from verifier.control import Sequence, meant
from verifier.findings import shop
from verifier.findings.examples import HEAD, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import Spell, setter, spells
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 X20. F0.2\nX62."
_LATE = HEAD.replace("G50 S2000\nG96 S180 M03\n", "G96 S180 M03\nG50 S2000\n")


class SpeedClampAfterSpeedWord(ProgramRule):
    """The speed clamp is set after constant surface speed, with the spindle already turning.

    Between the two blocks nothing limits the speed, or an old clamp does: near the centre line the spindle runs up as far as the machine goes
    before the clamp is read. Stopped there, or run in single block, it stays that fast.
    """

    id = "speed-clamp-after-speed-word"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "The speed clamp comes after the surface speed."
    watch = "Do not start before the clamp stands in front of the block that starts constant surface speed."
    examples = (
        Example("clamp one line too late", turning(_CUT, head=_LATE), True, line=5),
        Example("clamp first", turning(_CUT), False),
        Example("clamp lowered later on", turning("G01 X40. F0.2\nG50 S1500\nX20."), False),
        Example(
            "an older clamp stands above it and nothing moves before the new one is read",
            turning(_CUT, head="G50 S6000\nG28 U0. W0.\n" + _LATE),
            True,
            line=7,
        ),
        Example(
            "clamp set before the spindle starts",
            turning(_CUT, head=_LATE.replace(" M03", "").replace("G50 S2000", "G50 S2000\nM03")),
            False,
        ),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every clamp whose block stands behind the start of constant surface speed in its sequence, with none before it, or right behind it."""
        told: set[int] = set()
        moving = sorted({item.block for item in program.items if item.is_move})
        for spell in spells(program, rapids=True):
            found = self._late(program, spell, moving)
            if found is None or found[1] in told:
                continue
            begin, clamp = found
            told.add(clamp)
            yield Hazard(
                clamp,
                f"Speed clamp {shop.clamp(spell.state.clamp)} is set only after constant surface speed was started in line "
                f"{program.place(begin).line}",
                effects=(begin,),
            )

    def _late(self, program: ProgramView, spell: Spell, moving: list[int]) -> tuple[int, int] | None:
        """The block that started constant surface speed and the later one that set the clamp."""
        state, sequence = spell.state, spell.sequence
        if sequence is None or state.speed_mode != "surface" or state.sense not in ("forward", "reverse"):
            return None
        clamp, mode, sense = (setter(program.trace, spell.set_by, name) for name in ("clamp", "speed_mode", "sense"))
        if clamp is None or mode is None or sense is None:
            return None
        begin = max(mode, sense)
        if not sequence.first <= begin < clamp < sequence.end:
            return None
        if _clamped(program, sequence, begin) and bisect_left(moving, begin) < bisect_left(moving, clamp):
            return None  # a clamp was set before, and this is another one for the moves that follow
        return begin, clamp


def _clamped(program: ProgramView, sequence: Sequence, until: int) -> bool:
    """Whether the sequence sets a clamp before a block of it."""
    for k in range(sequence.first, until):
        if not program.trace.executed[k]:
            continue
        words = program.block(k).words
        if any(w.letter == "S" for w in words) and any(
            w.letter == "G" and meant(w, program.machine) == "G50" for w in words
        ):
            return True
    return False
