"""Takes a `Trace` and a machine; gives how long it takes, move by move, and how fast the spindle turns.

Never reads program text, never decides whether a time is good, never guesses a time that it does not know.
"""

from __future__ import annotations

from verifier.geometry.speeds import spindle_speed
from verifier.geometry.threading import run_in, run_out
from verifier.geometry.time import SpindleStart, Times, Uncounted, first_pass_events, sequence_times, times
from verifier.geometry.travel import rapid_bend

__all__ = [
    "SpindleStart",
    "Times",
    "Uncounted",
    "first_pass_events",
    "rapid_bend",
    "run_in",
    "run_out",
    "sequence_times",
    "spindle_speed",
    "times",
]
