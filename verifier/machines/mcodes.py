"""The M codes that mean the same on every lathe: profiles add their own, and may change of these only when they act.

Meanings and start of 00 to 09 and 30: JB 3208-83 (the national adoption of ISO 1056). 98 and 99: common practice, no
source.
"""

from __future__ import annotations

from verifier.machines.frozen import FrozenMap
from verifier.machines.model import MCode

CONTROL_MEANINGS = ("stop", "optional-stop", "program-end", "program-end-rewind", "call", "return", "tool-change")
"""Meanings that steer the run of the program itself; only the built-in codes have them."""

ORDERED_BY_CHOICE = (5, 9)
"""Codes of which the choice "m-after-motion" says whether they act after or before the movement of their block."""

_ROWS = (
    MCode(0, "stop", "major", "after-motion"),
    MCode(1, "optional-stop", "major", "after-motion"),
    MCode(2, "program-end", "major", "after-motion"),
    MCode(3, "spindle forward", "critical", "with-motion", (("spindle", "forward"),)),
    MCode(4, "spindle reverse", "critical", "with-motion", (("spindle", "reverse"),)),
    MCode(5, "spindle stop", "critical", "after-motion", (("spindle", "stopped"),)),
    MCode(6, "tool-change", "major", "before-motion"),
    MCode(7, "second coolant on", "major", "with-motion", (("coolant", "second-on"),)),
    MCode(8, "coolant on", "major", "with-motion", (("coolant", "on"),)),
    MCode(9, "coolant off", "major", "after-motion", (("coolant", "off"),)),
    MCode(30, "program-end-rewind", "major", "after-motion"),
    MCode(98, "call", "major", "after-motion"),
    MCode(99, "return", "major", "after-motion"),
)

STANDARD: FrozenMap[int, MCode] = FrozenMap((row.code, row) for row in _ROWS)
"""The built-in M codes by number."""
