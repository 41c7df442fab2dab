"""Random programs from bytes to trace, led by the lines of the engine that they reach: `python -m tests.fuzz.guided MINUTES [SEED] [FOLDER]`.

A program that reaches a line of `verifier/` that none reached before is kept, and others are made from it. What must hold: reading and
executing raise nothing but `SourceRefused`, and end within a budget of calls (never of time, so that one seed has one outcome). What fails
is written into FOLDER. The suite runs a fixed number of inputs over the programs of the project (`test_guided.py`); the command takes the
real ones, too, where they lie beside the checkout.

Campaigns of 10, 10 and 8 minutes over all of them (seeds 7, 11 and 23, on a busy machine): 6,300, 9,500 and 4,500 inputs, up to 5,450
lines reached, up to 300 programs kept. They found a division by zero under nose compensation and holes by the million; both are mended,
and the last campaign found nothing.
"""

from __future__ import annotations

import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from random import Random
from types import CodeType, FrameType
from typing import Any
from unittest.mock import patch

from tests.control.running import machine
from tests.fuzz.mutate import mutated
from verifier.control import execute, execute_ways, sequences, ways_in
from verifier.findings.examples import sheet
from verifier.machines import CHOICES, Machine, Tool, generic_lathe
from verifier.source import SourceRefused, read_source
from verifier.syntax import parse

ROOT = Path(__file__).resolve().parents[2]
REAL = ROOT.parent / "shared" / "corpus" / "turning"
ENGINE = str(ROOT / "verifier")

LONGEST = 1_500
"""Bytes of an input; longer programs are cut."""
BUDGET = 2_000_000
"""Calls of functions of the engine that one input may cost; the costliest of 10 minutes' inputs took a quarter of it."""
BLOCKS, MOVES, STROKES = 500, 5_000, 5_000
"""The limits of execution while fuzzing, so that loops and repeats come to them within the budget."""


EVERY_WAY = 0.2
"""The share of inputs that are run along every way and entered at every sequence."""


class TooMuch(Exception):
    """One input costs more calls than the budget has."""


@dataclass(slots=True)
class Reach:
    """The lines of the engine that were ever reached, and the calls that the present input has cost."""

    lines: dict[CodeType, set[int]] = field(default_factory=dict)
    left: dict[CodeType, set[int]] = field(default_factory=dict)
    calls: int = 0
    fresh: int = 0

    @property
    def reached(self) -> int:
        """How many lines were reached."""
        return sum(map(len, self.lines.values()))

    def watch(self, frame: FrameType, event: str, argument: Any) -> Any:
        """The trace function of calls: lines are only watched where some were never reached, so that watching costs less and less."""
        code = frame.f_code
        if not code.co_filename.startswith(ENGINE):
            return None
        self.calls += 1
        if self.calls > BUDGET:
            raise TooMuch
        left = self.left.get(code)
        if left is None:
            left = self.left[code] = {line for _, _, line in code.co_lines() if line is not None}
            self.lines[code] = set()
        return self._line if left else None

    def _line(self, frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        line = frame.f_lineno
        left = self.left[code]
        if line in left:
            left.discard(line)
            self.lines[code].add(line)
            self.fresh += 1
        return self._line


@dataclass(slots=True)
class Fuzz:
    """A campaign: the programs kept so far, what failed, and its figures."""

    chance: Random
    kept: list[bytes]
    reach: Reach = field(default_factory=Reach)
    inputs: int = 0
    refused: int = 0
    costliest: int = 0
    failed: list[tuple[bytes, str]] = field(default_factory=list)

    def step(self) -> None:
        """Make one input, run it, and keep it where it led somewhere new."""
        # Half of all inputs come from the programs kept last: what was reached only now is looked into first.
        late = self.chance.random() < 0.5
        base = self.chance.choice(self.kept[-40:] if late else self.kept)
        self.run(mutated(base, self.kept, self.chance, LONGEST))

    def run(self, data: bytes) -> None:
        """Run one input."""
        self.inputs += 1
        self.reach.calls = self.reach.fresh = 0
        before = sys.gettrace()
        sys.settrace(self.reach.watch)
        try:
            taken = to_trace(data)
        except Exception:
            sys.settrace(before)
            self.failed.append((data, traceback.format_exc()))
            taken = False
        finally:
            sys.settrace(before)
        self.refused += not taken
        self.costliest = max(self.costliest, self.reach.calls)
        if self.reach.fresh:
            self.kept.append(data)

    @property
    def figures(self) -> str:
        """What was done, in a line."""
        return (
            f"{self.inputs} inputs, {self.refused} refused, {len(self.kept)} programs kept, {self.reach.reached} lines reached, "
            f"costliest {self.costliest} calls, failed {len(self.failed)}"
        )


def to_trace(data: bytes) -> bool:
    """From bytes to traces on a machine that the input itself picks; False where the input is refused."""
    pick = Random(data)
    lathe, setup = pick.choice(MACHINES), pick.choice((None, SHEET))
    try:
        program = parse(read_source(data))
    except SourceRefused:
        return False
    skips = pick.choice(((), (1,), (2, 3)))
    if pick.random() < EVERY_WAY:
        traces = execute_ways(program, lathe, setup=setup, skips_on=skips)
    else:
        traces = (execute(program, lathe, setup=setup, skips_on=skips),)
    for trace in traces:
        assert len(trace.executed) == len(program.blocks)
        assert len(trace.moves) <= MOVES + STROKES + 1  # the last cycle may go beyond the limit
    if pick.random() < EVERY_WAY:
        ways_in(program, lathe, sequences(program, lathe)[:6])
    return True


def _others() -> Machine:
    return machine(
        {name: choice.values[-1] for name, choice in CHOICES.items() if name != "semicolon"},
        wait_codes=((101, 103),),
        calls={"G101": 1, "M96": 2},
        label_calls=(97,),
    )


MACHINES = (generic_lathe(), machine(code_set="B"), machine(code_set="C"), _others())
SHEET = sheet(*(Tool(station, "turning", nose_radius=Fraction(2, 5), orientation=3) for station in range(1, 13)))


@contextmanager
def smaller_limits() -> Iterator[None]:
    """The limits of execution as they are while fuzzing."""
    with ExitStack() as stack:
        for name in ("execute", "flow", "macros", "contours", "cycle_codes.drilling"):
            module = import_module(f"verifier.control.{name}")
            for limit, value in (("BLOCK_LIMIT", BLOCKS), ("MOVE_LIMIT", MOVES)):
                if hasattr(module, limit):
                    stack.enter_context(patch.object(module, limit, value))
        stack.enter_context(patch.object(import_module("verifier.control.cycles.path"), "STROKE_LIMIT", STROKES))
        yield


def programs(*, real: bool) -> list[bytes]:
    """The programs to start from: the demo shop's, the damaged ones, those in many shops' styles, and with `real` those beside the checkout."""
    folders = [
        ROOT / "fixtures" / "shop" / "programs",
        ROOT / "fixtures" / "damaged",
        ROOT / "tests" / "control" / "styles",
    ]
    folders += [REAL] if real else []
    return [path.read_bytes()[:LONGEST] for folder in folders for path in sorted(folder.rglob("*.nc"))]


def campaign(seed: int, *, real: bool) -> Fuzz:
    """A campaign whose first inputs, the programs themselves, were run."""
    start = programs(real=real)
    found = Fuzz(Random(seed), [b"G21\nM30\n"])
    for data in start:
        found.run(data)
    return found


def main() -> None:
    """Fuzz for so many minutes, and write what fails into a folder."""
    minutes, seed = float(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1
    folder = Path(sys.argv[3] if len(sys.argv) > 3 else "fuzz-failed")
    until, told, written = time.monotonic() + 60 * minutes, 0.0, 0
    with smaller_limits():
        found = campaign(seed, real=REAL.is_dir())
        while time.monotonic() < until:
            found.step()
            if time.monotonic() > told + 20:
                told = time.monotonic()
                print(found.figures, flush=True)
            for k in range(written, len(found.failed)):
                folder.mkdir(parents=True, exist_ok=True)
                data, why = found.failed[k]
                (folder / f"{k:03d}.nc").write_bytes(data)
                (folder / f"{k:03d}.txt").write_text(why)
            written = len(found.failed)
    print(found.figures)
    sys.exit(bool(found.failed))


if __name__ == "__main__":
    main()
