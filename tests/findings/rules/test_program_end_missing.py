"""A text that holds no block at all is judged like any other."""

from __future__ import annotations

from verifier.compare import side
from verifier.findings import default_policy, judge_one
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse


def test_a_text_of_notes_only_has_no_end() -> None:
    program = parse(read_source(b"(ONLY A NOTE)\n", "note"))
    found = judge_one(side(program, generic_lathe()), default_policy())
    assert [f.rule for f in found] == ["program-end-missing"]
    assert found[0].causes[0].line == 1
