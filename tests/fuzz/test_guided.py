"""A slice of the guided campaign (10 minutes and more: `python -m tests.fuzz.guided MINUTES`), and that it finds what it is for."""

from __future__ import annotations

from random import Random
from typing import Any
from unittest.mock import patch

import pytest

from tests.fuzz import guided
from tests.fuzz.guided import Fuzz, campaign, programs, smaller_limits
from verifier.control import block_motion

INPUTS = 900


def test_random_programs_are_read_and_executed_to_an_end() -> None:
    with smaller_limits():
        found = campaign(1, real=False)
        begun, lines = len(found.kept), found.reach.reached
        for _ in range(INPUTS):
            found.step()
    assert not found.failed, "\n".join(f"{data!r}\n{why}" for data, why in found.failed[:3])
    # The campaign is led: inputs reach lines that the programs of the project do not, and are kept for it.
    assert len(found.kept) > begun
    assert found.reach.reached > lines
    assert found.inputs - found.refused > INPUTS // 2


def _raises(*_: Any) -> None:
    raise KeyError("planted")


def _goes_round(*_: Any) -> None:
    while True:
        Random(1)
        guided.machine()


@pytest.mark.parametrize(("planted", "name"), [(_raises, "KeyError"), (_goes_round, "TooMuch")])
def test_a_planted_mistake_is_found(planted: Any, name: str) -> None:
    found = Fuzz(Random(1), programs(real=False)[:3])
    with smaller_limits(), patch.dict(block_motion._MOVES, {"G01": planted}), patch.object(guided, "BUDGET", 20_000):
        found.run(b"G21\nG00 X20. Z5.\nG01 X10. F.1\nM30\n")
    assert len(found.failed) == 1
    assert name in found.failed[0][1]


def test_one_seed_has_one_outcome() -> None:
    with smaller_limits():
        figures = []
        for _ in range(2):
            found = Fuzz(Random(3), programs(real=False)[-4:])
            for _ in range(20):
                found.step()
            figures.append(found.figures)
    assert figures[0] == figures[1]
