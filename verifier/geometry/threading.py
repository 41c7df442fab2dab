"""How much way a thread needs before and behind its good part, because the slide lags behind the spindle.

run-out = lead * n / 1800 and run-in = 3.605 * lead * n / 1800 for a lead within 1 %: published for a servo with a time constant of 33 ms.
A control's own manual has figures for its own slides.
"""

from __future__ import annotations

_LAG = 1800
_ONE_PER_CENT = 3.605


def run_out(lead: float, rpm: float) -> float:
    """The way in mm at the end of a thread on which its lead is wrong; `lead` in mm, `rpm` in rev/min."""
    return lead * rpm / _LAG


def run_in(lead: float, rpm: float) -> float:
    """The way in mm from the start of a thread until its lead is right within 1 %; `lead` in mm, `rpm` in rev/min."""
    return _ONE_PER_CENT * run_out(lead, rpm)
