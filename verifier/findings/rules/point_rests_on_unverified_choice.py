"""The rule `point-rests-on-unverified-choice`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nZ-30.\nX62."
_INCH = _CUT.replace("X58.", "X2.2800")
_HEAD = "O1000 (SPACER)\nN1 G00 G20 G40 G54 G97 G99\nT0101\nG50 S2000\nG96 S500 M03\nG00 X2.5 Z.1 M08\n"


class PointRestsOnUnverifiedChoice(ChangeRule):
    """A decimal point was lost or gained, and the value stays the same only by how this machine is said to read numbers without one.

    Read in least increments the digits mean the same; read in whole units they are a thousand or ten thousand times as much. Nobody verified at the
    machine which of the two it does.
    """

    id = "point-rests-on-unverified-choice"
    revision = 1
    weight = Weight.MAJOR
    people = True
    mirror = "point-rests-on-unverified-choice"
    title = "A lost or gained decimal point changes nothing only if the machine reads numbers as its profile says."
    watch = "Have it verified how this machine reads a number without a point, or write the point."
    examples = (
        Example(
            "2.2800 in without its point",
            turning(_INCH.replace("2.2800", "22800"), head=_HEAD),
            True,
            old=turning(_INCH, head=_HEAD),
            line=7,
        ),
        Example(
            "another value: the lost point has a rule of its own",
            turning(_CUT.replace("X58.", "X58")),
            False,
            old=turning(_CUT),
        ),
        Example("zeros behind the point", turning(_CUT.replace("X58.", "X58.000")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Edits that changed a point without an effect, on a machine whose reading nobody verified."""
        if change.new.machine.is_verified("number-without-point"):
            return
        told = {cause for effect in change.comparison.effects for cause in effect.causes}
        for edit in change.edits:
            pairs = [
                (c.old.text, c.new.text)
                for c in change.facts.words[edit.index].points
                if c.old and c.new and c.old.number and c.new.number and c.old.number.pointed != c.new.number.pointed
            ]
            if pairs and edit.index not in told:
                shown = ", ".join(f"{old} is now {new}" for old, new in pairs)
                choice = change.new.machine.choice("number-without-point").replace("-", " ")
                yield Drawn(
                    f"{shown}: the same only if numbers without a point are read in {choice}, which nobody verified",
                    edits=(edit.index,),
                )
