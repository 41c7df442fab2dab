"""The rule `speed-above-limit`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import Spell, setter, spells
from verifier.findings.view import Hazard, ProgramView

_CUT = "G01 X20. F0.2\nX62."
_SPINDLE = "the spindle's limit"
_FIXED = turning(_CUT).replace("G50 S2000\nG96 S180 M03", "G97 S4500 M03")


class SpeedAboveLimit(ProgramRule):
    """A commanded speed, or the speed clamp, is above what the spindle or the work-holding allows.

    A chuck loses grip with the square of the speed, and above the speed marked on it, it may let go of the part. A clamp above the limit is none.
    Above a limit of the spindle that nobody verified at the machine it is less heavy: the machine may well be a faster one.
    """

    id = "speed-above-limit"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "The speed is above the limit of the spindle or the work-holding."
    watch = "Do not start. Compare the speed with the one marked on the chuck and on the setup sheet."
    examples = (
        Example("fixed speed above the spindle's", _FIXED, True, line=4),
        Example("clamp above the spindle's", turning(_CUT).replace("G50 S2000", "G50 S6000"), True, line=4),
        Example("below", turning(_CUT), False),
        Example("never turned at that speed", _FIXED.replace("S4500 M03", "S4500\nS900 M03"), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every speed word and every clamp that is above the lowest limit known, once."""
        limit, of_what = _limit(program)
        assumed = of_what == _SPINDLE and not program.machine.is_verified("spindle")
        told: set[tuple[int, str]] = set()
        for spell in spells(program, rapids=True):
            for name, shown, value in _speeds(spell):
                block = setter(program.trace, spell.set_by, name)
                where = spell.block if block is None else block
                if value <= limit or (where, name) in told:
                    continue
                told.add((where, name))
                title = f"{shown} {shop.clamp(value)} is above {of_what} of {shop.clamp(limit)}"
                title += ", which nobody verified" if assumed else ""
                weight = Weight.MAJOR if assumed else None
                yield Hazard(where, title, f"{name} {value}", weight, after=shop.clamp(value), effects=spell.blocks)


def _speeds(spell: Spell) -> Iterable[tuple[str, str, Fraction]]:
    """The speeds in rev/min that are in force: field, name for people, value."""
    state = spell.state
    if state.sense == "stopped":
        return
    if state.speed_mode == "rpm" and isinstance(state.speed, Fraction):
        yield "speed", "Spindle speed", state.speed
    if state.speed_mode == "surface" and isinstance(state.clamp, Fraction):
        yield "clamp", "Speed clamp", state.clamp


def _limit(program: ProgramView) -> tuple[Fraction, str]:
    """The lowest speed limit known, and whose it is."""
    spindle, setup = program.machine.spindle, program.side.setup
    known = [(spindle.max_rpm, _SPINDLE)]
    if spindle.work_holding_limit_rpm is not None:
        known.append((spindle.work_holding_limit_rpm, "the work-holding limit of the machine"))
    if setup is not None and setup.work_holding is not None and setup.work_holding.max_rpm is not None:
        known.append((setup.work_holding.max_rpm, "the work-holding limit on the setup sheet"))
    return min(known)
