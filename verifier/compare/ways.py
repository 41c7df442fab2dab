"""Which runs of two programs belong together: the same switches, and answers to the machine's questions that one machine can give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from verifier.control import Trace, branches_contradict, way_text

PAIRS_LIMIT = 48
"""Pairs of runs that are compared for one position of the switches; where there are more, the rest counts as unknown."""

Runs = tuple[tuple[str, tuple[Trace, ...]], ...]
"""For each position of the switches, "" (block skips off) first: one trace for each way through the machine's questions."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A run of the old program and one of the new, made under the same switches and the same answers.

    `position` is its name ("" for block skips off and every answer No), `answers` all answers in words, `complete` whether every run of this
    position of the switches was followed on both sides.
    """

    switch: str
    position: str
    answers: str
    old: Trace
    new: Trace
    complete: bool = True


def switched(runs: Runs) -> tuple[tuple[str, Trace], ...]:
    """Every run but the first, by the name of its position."""
    return tuple(
        (_name(switch, way_text(trace.branches)), trace)
        for switch, traces in runs
        for k, trace in enumerate(traces)
        if switch or k
    )


def pairs(old: Runs, new: Runs) -> tuple[Pair, ...]:
    """The runs that belong together, the first of both sides first; a side without a position of a switch runs as with the skips off."""
    found: list[Pair] = []
    for switch in dict.fromkeys((*(name for name, _ in old), *(name for name, _ in new))):
        sides = [dict(runs).get(switch, runs[0][1]) for runs in (old, new)]
        found += _of_one_switch(switch, sides[0], sides[1])
    return tuple(found)


def _of_one_switch(switch: str, olds: tuple[Trace, ...], news: tuple[Trace, ...]) -> list[Pair]:
    found: list[Pair] = []
    names: dict[str, int] = {}
    fitting = list(_fitting(olds, news))
    complete = len(fitting) <= PAIRS_LIMIT
    for before, after in fitting[:PAIRS_LIMIT]:
        branches = (*before.branches, *after.branches)
        name = _name(switch, way_text(branches))
        names[name] = names.get(name, 0) + 1
        name = name if names[name] == 1 else f"{name} ({names[name]})"
        found.append(Pair(switch, name, _name(switch, way_text(branches, every=True)), before, after, complete))
    return [*found[:1], *sorted(found[1:], key=lambda pair: pair.position)]


def _fitting(olds: tuple[Trace, ...], news: tuple[Trace, ...]) -> Iterator[tuple[Trace, Trace]]:
    for before in olds:
        for after in news:
            first = before is olds[0] and after is news[0]
            if first or not branches_contradict(before.branches, after.branches):
                yield before, after


def _name(switch: str, answers: str) -> str:
    return ", ".join(filter(None, (switch, f"where {answers}" if answers else "")))
