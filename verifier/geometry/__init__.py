"""Takes a `Trace`, a machine and a setup sheet; gives how long it takes, how fast the spindle turns, and what becomes of the stock.

Never reads program text, never decides whether a time or a cut is good, never guesses a time or a tool that it does not know.
"""

from __future__ import annotations

from verifier.geometry.feature_pairs import (
    FeaturePair,
    SizePair,
    Strip,
    features_of_both,
    paired_features,
    untold,
)
from verifier.geometry.features import Feature, Size, features
from verifier.geometry.gripping import MOST_LOST, grip_left, permitted_speed, pull_of_jaws
from verifier.geometry.kienzle import power_at_cut
from verifier.geometry.load import Load, cutting_load
from verifier.geometry.owners import surface_moves
from verifier.geometry.part import (
    AT_CHANGES,
    BLADE_SIDEWAYS,
    BODY_INTO_KEEP_OUT,
    BODY_INTO_MATERIAL,
    BORE_LEFT_SIDEWAYS,
    CHANGE_NEAR,
    CRASHES,
    CUT_FREE,
    DRILL_PAST_FLUTE,
    INTO_KEEP_OUT,
    LOOSE_PIECE_MET,
    NEIGHBOUR_MET,
    RAPID_INTO_MATERIAL,
    SWING_MET,
    Contact,
    Gap,
    ThreadPass,
    TurnedPart,
    stock_section,
    zone_section,
)
from verifier.geometry.run_up import SpindleWait
from verifier.geometry.same import same_part
from verifier.geometry.section import Meeting
from verifier.geometry.speeds import spindle_speed
from verifier.geometry.spent import BY_PART, BY_WORDS, Spent, cutting_moves, spent, spent_by_sequence
from verifier.geometry.standing import tool_at
from verifier.geometry.surface import RA_SHARE
from verifier.geometry.thread_load import ThreadCut
from verifier.geometry.threading import run_in, run_out
from verifier.geometry.time import Times, Uncounted, first_pass_events, times
from verifier.geometry.tool_outline import ToolOutline, nose_centre, tool_outline
from verifier.geometry.travel import rapid_bend
from verifier.geometry.turning import Swept, sweep, turned_part
from verifier.geometry.turns import Turns, turns

__all__ = [
    "AT_CHANGES",
    "BLADE_SIDEWAYS",
    "BODY_INTO_KEEP_OUT",
    "BODY_INTO_MATERIAL",
    "BORE_LEFT_SIDEWAYS",
    "BY_PART",
    "BY_WORDS",
    "CHANGE_NEAR",
    "CRASHES",
    "CUT_FREE",
    "DRILL_PAST_FLUTE",
    "INTO_KEEP_OUT",
    "LOOSE_PIECE_MET",
    "MOST_LOST",
    "NEIGHBOUR_MET",
    "RAPID_INTO_MATERIAL",
    "RA_SHARE",
    "SWING_MET",
    "Contact",
    "Feature",
    "FeaturePair",
    "Gap",
    "Load",
    "Meeting",
    "Size",
    "SizePair",
    "Spent",
    "SpindleWait",
    "Strip",
    "Swept",
    "ThreadCut",
    "ThreadPass",
    "Times",
    "ToolOutline",
    "TurnedPart",
    "Turns",
    "Uncounted",
    "cutting_load",
    "cutting_moves",
    "features",
    "features_of_both",
    "first_pass_events",
    "grip_left",
    "nose_centre",
    "paired_features",
    "permitted_speed",
    "power_at_cut",
    "pull_of_jaws",
    "rapid_bend",
    "run_in",
    "run_out",
    "same_part",
    "spent",
    "spent_by_sequence",
    "spindle_speed",
    "stock_section",
    "surface_moves",
    "sweep",
    "times",
    "tool_at",
    "tool_outline",
    "turned_part",
    "turns",
    "untold",
    "zone_section",
]
