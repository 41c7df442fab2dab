"""The rule `roughness-above-drawing`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.loads import cuts_of, greatest, hazard, micrometres, ra_allowed, ra_of, worst_of
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Roughness

_REST = replace(on_bar(INSERT), roughness=(Roughness(Fraction(2)),))
_SEAT = replace(on_bar(INSERT), roughness=(Roughness(Fraction(1, 2), "X", Fraction(50)), Roughness(Fraction(4))))
_CUT = "G00 X50.\nG01 Z-30. F{}\nX62."
_AGAIN = _CUT.format("0.4") + "\nG00 Z2.\nX49.\nG01 Z-30. F0.15\nX62."


class RoughnessAboveDrawing(ProgramRule):
    """A finishing cut leaves a rougher surface than the drawing allows.

    Feed and nose radius alone make that profile; the true surface is rougher still. The part is scrap, or has to be finished again.
    """

    id = "roughness-above-drawing"
    revision = 1
    weight = Weight.MAJOR
    title = "The feed leaves a rougher surface than the drawing allows."
    watch = "Measure the roughness of this surface on the first piece."
    examples = (
        Example("0.4 with a nose of 0.8", turning(_CUT.format("0.4")), True, line=8, setup=_REST),
        Example("0.15", turning(_CUT.format("0.15")), False, setup=_REST),
        Example("feed changed", turning(_CUT.format("0.4")), True, turning(_CUT.format("0.15")), 8, None, _REST),
        Example("a seat with its own value", turning(_CUT.format("0.2")), True, line=8, setup=_SEAT),
        Example("only the last pass counts", turning(_AGAIN), False, setup=_REST),
        Example("no value on the sheet", turning(_CUT.format("0.4")), False, setup=on_bar(INSERT)),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The roughest surface of every tool and sequence that is beyond what the drawing says of it."""
        load, setup = program.side.load(), program.side.setup
        if load is None or setup is None or not setup.roughness:
            return
        rough = ra_of(load)
        for cuts in cuts_of(program, load):
            allowed, says = ra_allowed(cuts, load, setup)
            worst = worst_of(cuts, rough, allowed)
            if worst is None:
                continue
            entry = says[worst.row]
            made, most = (micrometres(value, program.units) for value in (worst.amount, float(entry.ra)))
            note = f" ({entry.note})" if entry.note else ""
            title = f"{cuts.where} leaves Ra {made} in theory; the drawing allows {most}{note}"
            yield hazard(program, worst, title, "Ra", made)

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The roughest surface of the same tool and sequence in the other program."""
        load = program.side.load()
        found = greatest(program, hazard.same_as.rpartition(" ")[0], ra_of(load)) if load is not None else None
        return None if found is None else micrometres(found, program.units)
