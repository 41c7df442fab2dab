"""A program that breaks off does what the whole one does up to there: the trace of a prefix is a prefix of the trace.

Not where the program jumps, nor where a cycle's contour lies on both sides of the cut. Nose compensation and corners look at blocks to come,
so that the last moves before a cut may differ there; in generated programs nothing looks ahead, and every move must be the same.
"""

from __future__ import annotations

from pathlib import Path
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from tests.control.running import path, program
from tests.properties.look import Look
from tests.properties.model import Job
from tests.properties.programs import corpus, name_of, shop_programs
from tests.properties.render import Form, text
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from verifier.control import Trace, execute
from verifier.machines import generic_lathe

STYLES = sorted((Path(__file__).parent / "styles").glob("*.nc"))
LOOKED_AT = 6
"""Blocks before a cut that may look beyond it: a corner at the next one, compensation at the next two moves, with blocks without motion between."""
_JUMPS = ("M98", "M99", "GOTO", "G65", "G66", "WHILE", "M97", "IF[")


def whole_and_part(data: str, cut: int) -> tuple[Trace, Trace, int]:
    """The traces of a program and of its first `cut` lines, and how many blocks those hold."""
    lines = data.splitlines(keepends=True)
    parsed = program(data)
    part = program("".join(lines[:cut]))
    lathe = generic_lathe()
    return execute(parsed, lathe), execute(part, lathe), len(part.blocks)


def cut_through(trace: Trace, blocks: int) -> bool:
    """Whether a cycle before the cut has its contour behind it."""
    return any(call.block < blocks <= max(call.contour, default=-1) for call in trace.cycles)


def before(trace: Trace, blocks: int) -> int:
    """How many moves are made before a block behind the cut makes one or calls a cycle, whose contour may stand before it."""
    calls = [call.first_move for call in trace.cycles if call.block >= blocks]
    rows = [k for k, row in enumerate(trace.rows()) if row.block >= blocks]
    return min((*calls, *rows[:1]), default=len(trace.moves))


@few(12)
@given(jobs(), st.integers(0, 2**16))
def test_every_move_before_a_cut_is_a_move_of_the_whole(job: Job, seed: int) -> None:
    # Calls in line: a program that is cut has lost the programs that stand behind it.
    data = text(job, Form(calls="inline"), Look(), seed).decode()
    count = data.count("\n")
    checked = 0
    for cut in Random(seed).sample(range(3, count), min(8, count - 3)):
        whole, part, blocks = whole_and_part(data, cut)
        if cut_through(whole, blocks) or cut_through(part, blocks) or part.cycles != whole.cycles[: len(part.cycles)]:
            continue
        checked += 1
        assert path(part) == path(whole)[: before(whole, blocks)]
        assert part.events[:-1] == whole.events[: len(part.events) - 1]
    assert checked or count < 12


def test_written_programs_too() -> None:
    """Programs in many styles, the demo shop's, and real ones where they lie beside the checkout; whether they look ahead or not."""
    checked = 0
    for where in (*STYLES, *shop_programs(), *corpus("turning/*.nc")):
        data = where.read_bytes().decode("latin-1")
        if any(word in data.upper().replace(" ", "") for word in _JUMPS):
            continue
        count = data.count("\n")
        for cut in (count // 3, 2 * count // 3):
            whole, part, blocks = whole_and_part(data, cut)
            if blocks < 8 or cut_through(whole, blocks) or [f for f in part.faults if f.code.startswith("contour")]:
                continue
            same = min(before(whole, blocks - LOOKED_AT), before(part, blocks - LOOKED_AT))
            assert same == before(whole, blocks - LOOKED_AT), (name_of(where), cut)
            assert path(part)[:same] == path(whole)[:same], (name_of(where), cut)
            checked += 1
    assert checked > 40
