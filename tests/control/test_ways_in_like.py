"""A sequence that reads the same in another program is not entered again: what is taken over is what entering it gives."""

from __future__ import annotations

import pytest

from tests.edits.bench import LATHE, hazards
from tests.edits.programs import own
from verifier.control import Library, Sequence, Trace, WayIn, entries, sequences, ways_in
from verifier.machines import Machine, Setup, generic_lathe
from verifier.source import read_source
from verifier.syntax import Program, parse

TWO = "O1\nG21 G99\nN1 T0101\nG97 S500 M03\nG00 X20. Z2.\nG01 Z-{first} F0.1\nN2 T0202\n{second}\nM30\n"


def _parsed(text: str) -> Program:
    return parse(read_source(text.encode(), "p.nc"))


def _ways(
    program: Program, machine: Machine, like: tuple[Program, tuple[WayIn, ...]] | None = None
) -> tuple[WayIn, ...]:
    return ways_in(program, machine, sequences(program, machine), like=like)


def test_taken_over_as_entered() -> None:
    for case in hazards(own(), 5, most=120):
        old, new = _parsed(case.old), _parsed(case.new)
        assert _ways(new, LATHE, (old, _ways(old, LATHE))) == _ways(new, LATHE), case.kind


@pytest.mark.parametrize(
    ("second", "again"),
    [
        ("G97 S600 M03\nG00 X30. Z2.\nG01 Z-5.", False),
        ("G00 X30. Z2.\nG75 R0.1\nG75 X10. P500 F0.1", False),
        ("G00 X30. Z2.\nG70 P1 Q2 F0.1", True),
        ("M98 P5", True),
        ("G65 P5 A1.", True),
        ("#1=4.\nG01 X#1", True),
        ("/G01 X5. F0.1", True),
    ],
)
def test_entered_again_where_it_may_rest_on_other_blocks(
    second: str, again: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = (_parsed(TWO.format(first=first, second=second)) for first in ("9.", "8."))
    machine = generic_lathe()
    entered: list[int] = []
    before = _ways(old, machine)
    execute_part = entries.execute_part

    def counted(
        program: Program,
        machine: Machine,
        first: int,
        end: int,
        *,
        setup: Setup | None = None,
        library: Library | None = None,
    ) -> Trace:
        entered.append(first)
        return execute_part(program, machine, first, end, setup=setup, library=library)

    monkeypatch.setattr(entries, "execute_part", counted)
    found = _ways(new, machine, (old, before))
    by_entry: dict[int, Sequence] = {sequence.entry: sequence for sequence in sequences(new, machine)}
    assert [by_entry[first].index for first in entered] == ([0, 1] if again else [0])
    assert found == _ways(new, machine)
