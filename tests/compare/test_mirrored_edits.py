"""Edits are the same seen from either side, blocks that moved among them too."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.compare import find_edits
from verifier.control import sequences
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import Program, parse

_LINES = st.sampled_from(
    [f"G01 X{n}. Z-{n}. F0.{n}" for n in range(1, 10)] + [f"T0{n}0{n}" for n in range(1, 4)] + ["M01", "G28 U0."]
)


def _program(lines: list[str]) -> Program:
    return parse(read_source(("O1\n" + "\n".join(lines) + "\nM30\n").encode(), "test"))


def _edits(old: Program, new: Program) -> list[tuple[str, tuple[int, ...], tuple[int, ...]]]:
    machine = generic_lathe()
    found = find_edits(old, new, sequences(old, machine), sequences(new, machine))
    return [(edit.kind, edit.old, edit.new) for edit in found.edits]


_OTHER = {"added": "removed", "removed": "added"}


@settings(max_examples=300, deadline=None)
@given(st.lists(_LINES, min_size=2, max_size=14), st.data())
def test_exchanging_two_programs_exchanges_their_edits(lines: list[str], data: st.DataObject) -> None:
    other = data.draw(st.permutations(lines)) if data.draw(st.booleans()) else lines[:]
    at = data.draw(st.integers(0, len(other) - 1))
    other = other[:at] + data.draw(st.lists(_LINES, max_size=4)) + other[at + data.draw(st.integers(0, 3)) :]
    old, new = _program(lines), _program(list(other))
    forth, back = _edits(old, new), _edits(new, old)
    assert sorted(forth) == sorted((_OTHER.get(kind, kind), b, a) for kind, a, b in back)
