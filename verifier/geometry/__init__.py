"""Takes a `Trace`, a machine and a setup sheet; gives how long it takes, how fast the spindle turns, and what becomes of the stock.

Never reads program text, never decides whether a time or a cut is good, never guesses a time or a tool that it does not know.
"""

from __future__ import annotations

from verifier.geometry.features import Feature, FeaturePair, changed_features, features, thread_features
from verifier.geometry.part import (
    BLADE_SIDEWAYS,
    BODY_INTO_MATERIAL,
    CRASHES,
    CUT_FREE,
    DRILL_PAST_FLUTE,
    INTO_KEEP_OUT,
    LOOSE_PIECE_MET,
    RAPID_INTO_MATERIAL,
    Contact,
    Gap,
    ThreadPass,
    TurnedPart,
    stock_section,
    zone_section,
)
from verifier.geometry.same import same_part
from verifier.geometry.section import Meeting
from verifier.geometry.speeds import spindle_speed
from verifier.geometry.spent import BY_PART, BY_WORDS, Spent, cutting_moves, spent, spent_by_sequence
from verifier.geometry.threading import run_in, run_out
from verifier.geometry.time import SpindleStart, Times, Uncounted, first_pass_events, times
from verifier.geometry.tool_outline import ToolOutline, tool_outline
from verifier.geometry.travel import rapid_bend
from verifier.geometry.turning import Swept, sweep, turned_part

__all__ = [
    "BLADE_SIDEWAYS",
    "BODY_INTO_MATERIAL",
    "BY_PART",
    "BY_WORDS",
    "CRASHES",
    "CUT_FREE",
    "DRILL_PAST_FLUTE",
    "INTO_KEEP_OUT",
    "LOOSE_PIECE_MET",
    "RAPID_INTO_MATERIAL",
    "Contact",
    "Feature",
    "FeaturePair",
    "Gap",
    "Meeting",
    "Spent",
    "SpindleStart",
    "Swept",
    "ThreadPass",
    "Times",
    "ToolOutline",
    "TurnedPart",
    "Uncounted",
    "changed_features",
    "cutting_moves",
    "features",
    "first_pass_events",
    "rapid_bend",
    "run_in",
    "run_out",
    "same_part",
    "spent",
    "spent_by_sequence",
    "spindle_speed",
    "stock_section",
    "sweep",
    "thread_features",
    "times",
    "tool_outline",
    "turned_part",
    "zone_section",
]
