"""Takes exact numbers and contours; gives the strokes that a lathe's canned cycle makes, or the reason why it cannot be
expanded; never reads words, modal state or a machine profile.
"""

from __future__ import annotations

from verifier.control.cycles.drill import Hole, drill_axial, drill_radial
from verifier.control.cycles.finish import finish
from verifier.control.cycles.path import STROKE_LIMIT
from verifier.control.cycles.pattern import pattern_repeat
from verifier.control.cycles.peck import face_peck, groove
from verifier.control.cycles.rough import rough_face, rough_turn
from verifier.control.cycles.single import facing_pass, thread_pass, turning_pass
from verifier.control.cycles.thread import INFEEDS, PASS_LIMIT, multi_thread, thread_depths

__all__ = [
    "INFEEDS",
    "PASS_LIMIT",
    "STROKE_LIMIT",
    "Hole",
    "drill_axial",
    "drill_radial",
    "face_peck",
    "facing_pass",
    "finish",
    "groove",
    "multi_thread",
    "pattern_repeat",
    "rough_face",
    "rough_turn",
    "thread_depths",
    "thread_pass",
    "turning_pass",
]
