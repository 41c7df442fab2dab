"""The command that measures the part runs as it is written down, on small programs."""

from __future__ import annotations

import pytest

from tests.benchmarks.bench_part import main, measured
from tests.benchmarks.part_programs import edited, of_cycles, sheet, written_out
from verifier.control import execute
from verifier.geometry import BODY_INTO_MATERIAL, sweep
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse


def test_a_line_for_each_program_and_edit_with_a_part_that_has_features(capsys: pytest.CaptureFixture[str]) -> None:
    main([400])
    rows = [line.split() for line in capsys.readouterr().out.splitlines()[1:]]
    assert [row[:2] for row in rows] == [[kind, edit] for kind in ("cycles", "written") for edit in ("early", "late")]
    assert all(int(row[-1]) > 2 for row in rows), (
        "a bar turned along a stepped contour has faces, diameters and grooves"
    )


def test_moves_grow_with_the_size_and_blocks_only_where_they_are_written_out() -> None:
    small, large = (measured("cycles", size, early=False) for size in (800, 1600))
    assert small.blocks == large.blocks and 1.5 < large.moves / small.moves < 2.5


def test_the_sweep_alone_is_measured_without_the_rest() -> None:
    row = measured("cycles", 400, early=True, holders=True, review=False)
    assert row.execute > 0 and row.sweep > 0 and row.whole != row.whole and row.features > 2


def test_holders_stand_clear_of_the_piece() -> None:
    machine, setup = generic_lathe(), sheet(holders=True)
    for program in (of_cycles(400), written_out(400)):
        trace = execute(parse(read_source(program.encode(), "bench.nc")), machine, setup=setup)
        found = sweep(trace, machine, setup)
        assert found is not None
        assert [tool.holder for tool in setup.tools.values()].count(()) == 0
        assert not [contact for contact in found.part.contacts if contact.kind == BODY_INTO_MATERIAL]


@pytest.mark.parametrize("program", [of_cycles(400), written_out(400)])
@pytest.mark.parametrize("early", [True, False])
def test_an_edit_is_one_line(program: str, early: bool) -> None:
    lines, other = program.split("\n"), edited(program, early=early).split("\n")
    differ = [k for k, (one, two) in enumerate(zip(lines, other, strict=True)) if one != two]
    assert len(differ) == 1
