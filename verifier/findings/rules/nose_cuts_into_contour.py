"""The rule `nose-cuts-into-contour`."""

from __future__ import annotations

from fractions import Fraction

from verifier.findings.examples import sheet, turning
from verifier.findings.faults import FaultRule
from verifier.findings.model import Weight
from verifier.findings.rule import Example
from verifier.machines import Tool

_TOOL = sheet(Tool(1, "turning", nose_radius=Fraction("0.8"), orientation=3))
_FILLET = "G00 X40.\nG42 G01 Z0. F0.2\nZ-20.\nG02 X{x} Z-{z} R{r}\nG01 X60.\nG40 X64."
_GROOVE = "G42 G01 X50. Z0. F0.1\nZ-10.\nX44. Z-13.\nZ-{z}\nX50. Z-{out}\nZ-30.\nG40 X62."


class NoseCutsIntoContour(FaultRule):
    """Under compensation the nose does not fit: it cuts into the contour, or goes to the other side of it.

    An inner corner, a groove or a fillet is smaller than the nose, or the path comes back along the line that it went. Some controls stop with an
    alarm in the middle of the cut; others go on and leave a cut in the finished surface.
    """

    id = "nose-cuts-into-contour"
    revision = 1
    weight = Weight.MAJOR
    settled = True
    title = "The nose does not fit the contour under compensation."
    watch = "Check nose radius and direction at the control, and run this block in single block clear of the part."
    codes = ("nose-cuts-into-contour", "nose-larger-than-arc", "nose-leaves-nothing", "nose-changes-side")
    examples = (
        Example(
            "fillet smaller than the nose",
            turning(_FILLET.format(x="41.", z="20.5", r="0.5")),
            True,
            line=10,
            setup=_TOOL,
        ),
        Example("fillet larger than the nose", turning(_FILLET.format(x="42.", z="21.", r="1.")), False, setup=_TOOL),
        Example("relief narrower than the nose", turning(_GROOVE.format(z="13.2", out="16.2")), True, setup=_TOOL),
        Example("relief wide enough", turning(_GROOVE.format(z="18.", out="21.")), False, setup=_TOOL),
        Example(
            "back along the same line",
            turning("G42 G01 X50. Z0. F0.2\nZ-20.\nG00 Z2.\nG40 X64."),
            True,
            line=9,
            setup=_TOOL,
        ),
        Example("nose not known", turning(_FILLET.format(x="41.", z="20.5", r="0.5")), False),
    )
