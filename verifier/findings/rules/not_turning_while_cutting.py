"""The rule `not-turning-while-cutting`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import Spell, label, setter, spells, unknown_m_codes
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 Z-30. F0.2\nX62."


class NotTurningWhileCutting(ProgramRule):
    """A cut is made with the spindle stopped, or with its sense never established.

    A tool fed into a part that stands still breaks, and may pull the part out of the chuck. A feed per revolution waits for a spindle that does
    not come, with somebody looking in to see why. A bar drawn with the chuck open is none of this.
    """

    id = "not-turning-while-cutting"
    revision = 2
    weight = Weight.CRITICAL
    people = True
    title = "A cut with the spindle not turning."
    watch = "Do not start before it is clear which block starts the spindle, and in which sense."
    examples = (
        Example("M03 lost", turning(_CUT).replace(" M03", ""), True, line=7),
        Example("stopped too early", turning("G01 Z-30. F0.2\nM05\nX64."), True, line=9),
        Example(
            "a bar puller goes in with feed per minute", turning("G00 Z2.\nM05\nG98 G01 Z-30. F500."), True, line=9
        ),
        Example(
            "a spindle chosen by a P that the profile does not know",
            turning(_CUT).replace(" M03", " M03 P11"),
            True,
            line=7,
        ),
        Example("turning", turning(_CUT), False),
        Example("stopped between cuts", turning("G01 Z-30. F0.2\nM05\nG00 X62. Z2.\nM03\nG01 Z-10."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each sequence under each spindle stop; less heavy where an unknown M code may have started something."""
        unknown = [(block, code) for code, blocks in unknown_m_codes(program).items() for block in blocks]
        told: set[tuple[object, ...]] = set()
        for spell in spells(program):
            state = spell.state
            if state.sense in ("forward", "reverse") or ("chuck", "open") in state.auxiliaries:
                continue
            stopped_by = setter(program.trace, spell.set_by, "sense")
            key = (spell.sequence.index if spell.sequence else -1, stopped_by)
            if key in told:
                continue
            told.add(key)
            starters = sorted({code for block, code in unknown if _between(stopped_by, block, spell)})
            yield self._hazard(spell, starters)

    def _hazard(self, spell: Spell, starters: list[int]) -> Hazard:
        sense = spell.state.sense or ""
        if sense.startswith("["):
            title = f"Cutting{label(spell)}: which spindle {sense.strip('[]')} speaks to is not in the machine profile"
            return Hazard(spell.block, title, sense, Weight.MAJOR, effects=spell.blocks)
        words = "the spindle stopped" if sense == "stopped" else "no spindle sense established"
        title = f"Cutting with {words}{label(spell)}"
        if not starters and sense == "stopped" and spell.state.feed_mode == "per-minute":
            title = f"Feed per minute with the spindle stopped{label(spell)}: right for drawing a bar or a part, not for a cut"
            return Hazard(spell.block, title, sense, Weight.MAJOR, effects=spell.blocks)
        if not starters:
            return Hazard(spell.block, title, str(spell.state.sense), effects=spell.blocks)
        codes = ", ".join(f"M{code:02d}" for code in starters)
        title += f", unless {codes}, which the profile does not know, starts a spindle"
        return Hazard(spell.block, title, str(spell.state.sense), Weight.MAJOR, effects=spell.blocks)


def _between(stopped_by: int | None, block: int, spell: Spell) -> bool:
    return (-1 if stopped_by is None else stopped_by) <= block <= spell.block
