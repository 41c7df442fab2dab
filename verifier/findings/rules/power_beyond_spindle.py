"""The rule `power-beyond-spindle`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

import numpy as np

from verifier.findings.examples import INSERT, lathe, on_bar, turning
from verifier.findings.loads import cuts_of, greatest, hazard, shown, worst_of
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Material, Spindle

_STEEL = replace(on_bar(INSERT), material=Material("42CrMo4", Fraction(2500), Fraction("0.26")))
_WEAK = lathe(spindle=Spindle(Fraction(4000), Fraction(11), Fraction(2), None, Fraction("0.8"), Fraction(600)))
_CUT = "G00 X50.\nG01 Z-30. F{}\nX62."


class PowerBeyondSpindle(ProgramRule):
    """A cut needs more power than the spindle has at that speed.

    The spindle falls in speed or stalls with the tool in the cut: the edge breaks, and a piece held by its outside may be pulled out of the jaws. The
    power is Kienzle's for a sharp edge; a worn one needs up to half as much again.
    """

    id = "power-beyond-spindle"
    revision = 1
    weight = Weight.MAJOR
    title = "A cut needs more power than the spindle has."
    watch = (
        "Watch the load meter at the first cut, with a hand at the feed override; stop where it passes 100 per cent."
    )
    examples = (
        Example("5 mm deep at 0.5", turning(_CUT.format("0.5")), True, line=8, setup=_STEEL, machine=_WEAK),
        Example("feed doubled", turning(_CUT.format("0.5")), True, turning(_CUT.format("0.1")), 8, _WEAK, _STEEL),
        Example("at 0.1", turning(_CUT.format("0.1")), False, setup=_STEEL, machine=_WEAK),
        Example("power not in the profile", turning(_CUT.format("0.5")), False, setup=_STEEL),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The heaviest such cut of every tool and sequence."""
        load = program.side.load()
        if load is None:
            return
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.nan_to_num(np.where(load.power > 0, load.power / load.available, 0.0), nan=0.0).max(axis=1)
        assumed = "" if program.machine.is_verified("spindle") else ", which nobody verified"
        for cuts in cuts_of(program, load):
            worst = worst_of(cuts, share, 1.0)
            if worst is None:
                continue
            end = int(np.nanargmax(load.power[worst.row] / load.available[worst.row]))
            power, most = (shown(float(v[worst.row, end]), 1, "kW") for v in (load.power, load.available))
            turns = shown(float(load.speed[worst.row, end]), 0, "rev/min")
            title = f"{cuts.where} takes {power} at the cut; {most} arrive there at {turns}{assumed}"
            yield hazard(program, worst, title, "power", power)

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The greatest power of the same tool and sequence in the other program."""
        load = program.side.load()
        if load is None:
            return None
        found = greatest(program, hazard.same_as.rpartition(" ")[0], load.power.max(axis=1))
        return None if found is None else shown(found, 1, "kW")
