"""The rule `tool-overloaded`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import INSERT, on_bar, turning
from verifier.findings.loads import Floats, cuts_of, greatest, hazard, larger, millimetres, shown, worst_of
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.geometry import Load
from verifier.machines import Material

_STEEL = Material("42CrMo4", Fraction(2500), Fraction("0.26"))
_DEPTH = on_bar(replace(INSERT, depth_maximum=Fraction(4)))
_FORCE = replace(on_bar(replace(INSERT, force_maximum=Fraction(3000))), material=_STEEL)
_CUT = "G00 X{}.\nG01 Z-30. F{}\nX62."
_DEEP, _HEAVY = "depth of cut", "cutting force"


class ToolOverloaded(ProgramRule):
    """A tool cuts deeper, or bears more force, than the setup sheet allows it.

    An insert breaks, a slender bar bends and chatters, a blade snaps; the pieces fly, and what is left of the tool rubs in the cut.
    """

    id = "tool-overloaded"
    revision = 1
    weight = Weight.MAJOR
    title = "A tool cuts deeper, or with more force, than it may."
    watch = "Run the cut in single block with a hand at the feed override, and look at the edge after it."
    examples = (
        Example("5 mm where 4 are allowed", turning(_CUT.format(50, "0.2")), True, line=8, setup=_DEPTH),
        Example("4 mm", turning(_CUT.format(52, "0.2")), False, setup=_DEPTH),
        Example("more force", turning(_CUT.format(50, "0.4")), True, line=8, setup=_FORCE),
        Example("less force", turning(_CUT.format(56, "0.2")), False, setup=_FORCE),
        Example(
            "force without a material", turning(_CUT.format(50, "0.4")), False, setup=replace(_FORCE, material=None)
        ),
        Example("no limit", turning(_CUT.format(50, "0.4")), False, setup=on_bar(INSERT)),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Of every tool and sequence the deepest cut and the one with the most force, where they are beyond the tool's own limit."""
        load = program.side.load()
        for cuts in cuts_of(program, load) if load is not None else ():
            limits = ((_DEEP, cuts.tool.depth_maximum), (_HEAVY, cuts.tool.force_maximum))
            for kind, most in limits:
                worst = (
                    worst_of(cuts, _amounts(load, kind), float(most)) if load is not None and most is not None else None
                )
                if worst is not None and most is not None:
                    amount, allowed = (_shown(kind, value, program.units) for value in (worst.amount, float(most)))
                    title = f"{cuts.where}: {kind} {amount}, beyond the {allowed} that the tool may bear"
                    yield hazard(program, worst, title, kind, amount)

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The same of the same tool and sequence in the other program."""
        load = program.side.load()
        kind = _DEEP if hazard.same_as.endswith(_DEEP) else _HEAVY
        key = hazard.same_as.removesuffix(f" {kind}")
        found = greatest(program, key, _amounts(load, kind)) if load is not None else None
        return None if found is None else _shown(kind, found, program.units)


def _amounts(load: Load, kind: str) -> Floats:
    return load.depth if kind == _DEEP else larger(load.force)


def _shown(kind: str, value: float, units: str) -> str:
    return shop.millimetres(millimetres(value), units) if kind == _DEEP else shown(value, 0, "N")
