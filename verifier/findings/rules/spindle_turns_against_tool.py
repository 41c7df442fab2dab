"""The rule `spindle-turns-against-tool`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Item
from verifier.control import TICKS_PER_MM
from verifier.findings.examples import lathe, sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Tool

_CUT = "G01 Z-30. F0.2\nX62."
_UPRIGHT = sheet(Tool(1, "turning", hand="right", mounted="upright"))
_UPSIDE_DOWN = sheet(Tool(1, "turning", hand="right", mounted="upside-down"))
_TURNED = ("turning", "boring", "grooving", "parting", "threading")
PAST_CENTRE = 3 * TICKS_PER_MM
"""Facing goes a little past the centre line; only a cut farther across is work on the other side."""
_OTHER = {"forward": "reverse", "reverse": "forward"}


class SpindleTurnsAgainstTool(ProgramRule):
    """The spindle turns away from the rake of the tool as it is mounted.

    Turned the wrong way the work rubs on the back of the edge and lifts or pulls the tool: it breaks at the first touch, and a screwed-on
    chuck can come loose. A tool that is turned upside down, or moved to the other side of the work, needs the spindle the other way.
    """

    id = "spindle-turns-against-tool"
    revision = 1
    weight = Weight.CRITICAL
    people = True
    title = "The spindle turns against the tool as it is mounted."
    watch = "Look how the tool lies in the turret, and which way the spindle turns, before the first cut."
    examples = (
        Example("upright behind the work, spindle forward", turning(_CUT), True, line=7, setup=_UPRIGHT),
        Example("upside down behind the work", turning(_CUT), False, setup=_UPSIDE_DOWN),
        Example("upright in front of it", turning(_CUT), False, setup=_UPRIGHT, machine=lathe(turret="front")),
        Example("how it lies is not known", turning(_CUT), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each tool whose mounting the setup sheet gives, where the sense is the other one."""
        setup = program.side.setup
        seen: set[tuple[object, ...]] = set()
        for item in program.cuts if setup is not None else ():
            number = item.state.tool
            tool = setup.tools.get(number) if setup is not None and isinstance(number, int) else None
            sense = item.state.sense
            if tool is None or tool.mounted is None or tool.kind not in _TURNED or sense not in _OTHER:
                continue
            wanted = _sense(program.machine.turret, tool.mounted, item)
            if sense != wanted and (number, sense) not in seen:
                seen.add((number, sense))
                title = f"T{number} is mounted {tool.mounted} on the {program.machine.turret} turret and the spindle turns {sense}"
                yield Hazard(item.block, title, f"T{number} {sense}")


def _sense(turret: str, mounted: str, item: Item) -> str:
    """The sense that meets the rake: forward for a tool upright in front of the work; each turn-over reverses it.

    Forward brings the work down in front (toward the operator), where an upright tool's rake looks up. Common practice, no source.
    """
    sense = "forward"
    far = max((item.start.x, item.end.x), key=abs)
    across = far < -PAST_CENTRE and not (item.start.bx or item.end.bx)
    for turned in (turret == "rear", mounted == "upside-down", across):
        sense = _OTHER[sense] if turned else sense
    return sense
