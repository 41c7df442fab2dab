"""Takes a parsed program and a machine; gives its `Trace`: moves and events with provenance, and what was not checked.

Never prints, never stops at what it does not understand, never compares two programs.
"""

from __future__ import annotations

from verifier.control.branches import Branch, branches_contradict
from verifier.control.cycle_registry import CYCLES, Lasts
from verifier.control.entries import NEEDED, WayIn, lacking, ways_in
from verifier.control.execute import execute, execute_part
from verifier.control.held import Held, held_speed
from verifier.control.instruction import FOREIGN, canonical, canonical_word, g_code, meant, whole
from verifier.control.numbers import least_increment
from verifier.control.sequences import Sequence, sequences
from verifier.control.strokes import Kind
from verifier.control.tape_marks import BEHIND, outside_marks
from verifier.control.trace import (
    FIELDS,
    TICKS_PER_INCH,
    TICKS_PER_MM,
    Amount,
    CycleCall,
    Event,
    Fault,
    InForce,
    MoveRow,
    Moves,
    Origins,
    Trace,
    Unchecked,
    millimetres,
)
from verifier.control.units import Layout, Library, Unit, layout, library_of
from verifier.control.waits import Unmatched, Wait, unmatched, waits
from verifier.control.ways import WAYS_LIMIT, execute_ways, way_text

__all__ = [
    "BEHIND",
    "CYCLES",
    "FIELDS",
    "FOREIGN",
    "NEEDED",
    "TICKS_PER_INCH",
    "TICKS_PER_MM",
    "WAYS_LIMIT",
    "Amount",
    "Branch",
    "CycleCall",
    "Event",
    "Fault",
    "Held",
    "InForce",
    "Kind",
    "Lasts",
    "Layout",
    "Library",
    "MoveRow",
    "Moves",
    "Origins",
    "Sequence",
    "Trace",
    "Unchecked",
    "Unit",
    "Unmatched",
    "Wait",
    "WayIn",
    "branches_contradict",
    "canonical",
    "canonical_word",
    "execute",
    "execute_part",
    "execute_ways",
    "g_code",
    "held_speed",
    "lacking",
    "layout",
    "least_increment",
    "library_of",
    "meant",
    "millimetres",
    "outside_marks",
    "sequences",
    "unmatched",
    "waits",
    "way_text",
    "ways_in",
    "whole",
]
