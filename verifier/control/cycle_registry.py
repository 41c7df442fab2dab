"""The canned cycles that exist: each joins here with its code, how long it stays in force, and what carries its block out.

A cycle is one module in `verifier/control/cycle_codes/`; every module there is loaded, and the tables of codes know its codes from then on.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from verifier.control.codes import DRILLING, GROUP, MODAL, ONE_SHOT

if TYPE_CHECKING:
    from verifier.control.cycle_call import Call
    from verifier.control.strokes import Expansion


class Lasts(Enum):
    """How long a cycle stays in force."""

    BLOCK = "in its own block"
    PASSES = "until another code of the motion group: each block with an axis word is another pass"
    HOLES = "until its cancel or another code of the motion group: each block with a place is another hole"


CarryOut = Callable[["Call"], "Expansion | None"]
"""From a cycle's words to its strokes; None where there are none to play: a first line, or strokes played already. Raises CycleRefused."""


class Cycle(NamedTuple):
    """A canned cycle: its code by its meaning, how long it lasts, whether its P and Q name a contour, and what carries it out."""

    code: str
    lasts: Lasts
    contour: bool
    carry_out: CarryOut


CYCLES: dict[str, Cycle] = {}
"""Every cycle by its code."""


def cycle(*codes: str, lasts: Lasts = Lasts.BLOCK, contour: bool = False) -> Callable[[CarryOut], CarryOut]:
    """Join: the function below carries these codes out."""

    def join(carry_out: CarryOut) -> CarryOut:
        for code in codes:
            if code in CYCLES:
                raise ValueError(f"{code} is a cycle already")
            CYCLES[code] = Cycle(code, lasts, contour, carry_out)
            _into_tables(code, lasts)
        return carry_out

    return join


def _into_tables(code: str, lasts: Lasts) -> None:
    if lasts is Lasts.BLOCK:
        ONE_SHOT.append(code)
    elif lasts is Lasts.HOLES:
        DRILLING.append(code)
    else:
        MODAL[code] = ("motion", code)
    GROUP[code] = "one-shot" if lasts is Lasts.BLOCK else "motion"


def lasting(code: str | None) -> Lasts | None:
    """How long the cycle of a code stays in force; None for a code that is no cycle."""
    found = CYCLES.get(code) if code is not None else None
    return found.lasts if found is not None else None
