"""`python -m tests.benchmarks.bench_part [--holders] [--sweep-only] [MOVES ...]`: what two revisions of a turned part cost.

Two kinds of program: 500 blocks of cycles that make about so many moves, and as many blocks as moves. Two edits of each: `early`, in the first
sequence, so that the sweeps of both sides share next to nothing, and `late`, in the last cut. Processor seconds of one core, of both sides together:

* `execute`: both programs from top to end, nothing else;
* `sweep`: the part of both sides, the second going on where it parts from the first;
* `whole`: the review as a person gets it: both sides executed with every way in, swept, compared, judged by all rules, features paired, load;
* `compare`: what is left of `whole` without `execute` and `sweep`;
* `draw`: the picture.

`s/1000` is `whole` and `draw` by a thousand moves of both sides, `ratio` the same by `execute`; `swept` is `sweep` alone by a thousand moves of
both. With `--holders` every tool has a holder, whose way is looked at, too; with `--sweep-only` nothing but `execute` and `sweep` is
measured. Nothing asserts a time.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable
from dataclasses import dataclass
from math import nan
from time import process_time
from typing import TypeVar

from tests.benchmarks.part_programs import edited, of_cycles, sheet, written_out
from verifier.control import Trace, execute
from verifier.geometry import TurnedPart, features, sweep
from verifier.machines import Machine, Setup, generic_lathe
from verifier.report import Reviewed, reviewed
from verifier.source import read_source
from verifier.syntax import Program, parse

T = TypeVar("T")
KINDS = {"cycles": of_cycles, "written": written_out}


@dataclass(frozen=True, slots=True)
class Row:
    """What one pair costs: processor seconds by stage, both sides together."""

    kind: str
    edit: str
    blocks: int
    moves: int
    execute: float
    sweep: float
    whole: float
    draw: float
    features: int

    def line(self) -> str:
        """The row as printed: stages in seconds, then milliseconds by a thousand moves of both sides, and the ratio to executing."""
        total = self.whole + self.draw
        compare = self.whole - self.execute - self.sweep
        stages = (self.execute, self.sweep, compare, self.draw, total)
        shown = "".join(f"{seconds:>9.3f}" for seconds in stages)
        per, ratio, swept = total / self.moves * 500, total / self.execute, self.sweep / self.moves * 500
        of_all = f"{per:>9.4f}{ratio:>7.2f}{swept:>9.4f}"
        return f"{self.kind:>8} {self.edit:>6} {self.blocks:>7} {self.moves:>7}{shown}{of_all}{self.features:>9}"


HEADING = (
    f"{'program':>8} {'edit':>6} {'blocks':>7} {'moves':>7}"
    + "".join(f"{name:>9}" for name in ("execute", "sweep", "compare", "draw", "total"))
    + f"{'s/1000':>9}{'ratio':>7}{'swept':>9}{'features':>9}"
)


def timed(action: Callable[[], T]) -> tuple[float, T]:
    """Processor seconds of an action, and what it gave. Nothing of an earlier one is collected meanwhile."""
    gc.collect()
    start = process_time()
    found = action()
    return process_time() - start, found


def measured(kind: str, size: int, *, early: bool, holders: bool = False, review: bool = True) -> Row:
    """One pair of about so many moves a side."""
    machine, setup = generic_lathe(), sheet(holders=holders)
    text = KINDS[kind](size)
    old, new = (_parsed(one) for one in (text, edited(text, early=early)))
    executed, (before, after) = timed(lambda: [execute(one, machine, setup=setup) for one in (old, new)])

    swept, part = timed(lambda: _swept(before, after, machine, setup))
    whole = drawn = nan
    if review:
        whole, found = timed(lambda: _review(old, new, setup))
        drawn, picture = timed(found.picture)
        assert picture.startswith("<svg")
    name = "early" if early else "late"
    return Row(kind, name, len(old.blocks), len(before.moves), executed, swept, whole, drawn, len(features(part)))


def _swept(before: Trace, after: Trace, machine: Machine, setup: Setup) -> TurnedPart:
    first = sweep(before, machine, setup)
    assert first is not None
    second = sweep(after, machine, setup, [first])
    assert second is not None
    return second.part


def _parsed(text: str) -> Program:
    return parse(read_source(text.encode(), "bench.nc"))


def _review(old: Program, new: Program, setup: Setup) -> Reviewed:
    return reviewed(old, new, machine=generic_lathe(), setup=setup)


def main(sizes: list[int], *, holders: bool = False, review: bool = True) -> None:
    """Print a line for each size, program and edit."""
    measured("cycles", 100, early=False)  # what is built once in a process is not counted
    print(HEADING)
    for size in sizes:
        for kind in KINDS:
            for early in (True, False):
                print(measured(kind, size, early=early, holders=holders, review=review).line(), flush=True)


if __name__ == "__main__":
    numbers = [int(text) for text in sys.argv[1:] if not text.startswith("--")]
    main(numbers or [1000, 5000, 20_000], holders="--holders" in sys.argv, review="--sweep-only" not in sys.argv)
