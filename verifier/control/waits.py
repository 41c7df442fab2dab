"""Codes at which one channel of a machine waits for the other: whether two programs meet at each of them, in one order.

At a wait each channel stops until the other has come to the same one. So the first place where the two orders part is where both stand still
for good. Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from verifier.control.trace import Trace

WAIT = "wait"


class Wait(NamedTuple):
    """A wait: its words as comparable text ("M101", "M101 P12") and its block."""

    code: str
    block: int


class Unmatched(NamedTuple):
    """Where two channels do not meet: the wait of each side that the other does not come to (None: that side has ended), and how many follow."""

    first: Wait | None
    second: Wait | None
    met: int


def waits(trace: Trace) -> tuple[Wait, ...]:
    """The waits of a program, in the order in which it comes to them."""
    return tuple(Wait(event.value, event.block) for event in trace.events if event.kind == WAIT)


def unmatched(first: Sequence[Wait], second: Sequence[Wait]) -> Unmatched | None:
    """The first place where the waits of two channels part, or None where they meet at every one."""
    for met, (one, other) in enumerate(zip(first, second, strict=False)):
        if one.code != other.code:
            return Unmatched(one, other, met)
    met = min(len(first), len(second))
    if len(first) == len(second):
        return None
    return Unmatched(first[met] if met < len(first) else None, second[met] if met < len(second) else None, met)
