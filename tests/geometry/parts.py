"""Programs swept through a stock, for tests: a setup sheet of a few words, a program of a few blocks."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import shapely

from verifier.control import Trace, execute
from verifier.geometry import TurnedPart, turned_part
from verifier.machines import FrozenMap, KeepOut, Setup, Stock, Tool, WorkHolding, content_digest, generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

HEAD = "O1000 (PART)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\n"
END = "\nM05\nM30\n"


def exact(**measures: Any) -> dict[str, Any]:
    """Measures in mm as exact numbers; texts and whole numbers of codes stay as they are."""
    kept = ("kind", "shape", "plunges", "orientation", "insert", "holder")
    return {key: v if key in kept else Fraction(str(v)) for key, v in measures.items()}


def turning(nose: float = 0.8, orientation: int = 3, station: int = 1, **more: Any) -> Tool:
    """An outside turning tool with an 80 degree insert at 95 degrees, unless said otherwise."""
    given = {"kind": "turning", "shape": "C", "edge_length": 12, "approach_angle": 95, "nose_radius": nose}
    return Tool(station, **exact(**(given | {"orientation": orientation} | more)))


def sheet(*tools: Tool, stock: Stock | None = None, zones: tuple[KeepOut, ...] = ()) -> Setup:
    """A setup sheet with a bar of 60 by 100 mm, faced at Z0, unless another stock is given."""
    bar = stock or Stock("bar", Fraction(60), None, Fraction(100), Fraction(0))
    holding = WorkHolding("chuck", None, None, "", zones)
    stations = FrozenMap((tool.station, tool) for tool in tools)
    setup = Setup("part", bar, holding, FrozenMap(), FrozenMap(), stations, (), "")
    return replace(setup, digest=content_digest(setup))


def traced(body: str, setup: Setup, head: str = HEAD) -> Trace:
    """What the generic lathe makes of a program: one sequence of T1 around `body`."""
    program = parse(read_source((head + body.strip("\n") + END).encode(), "part.nc"))
    return execute(program, generic_lathe(), setup=setup)


def swept(body: str, setup: Setup, head: str = HEAD) -> TurnedPart:
    """The part that a program turns."""
    found = turned_part(traced(body, setup, head), generic_lathe(), setup)
    assert found is not None
    return found


def agree(found: TurnedPart, alone: TurnedPart) -> None:
    """Hold that two sweeps of one trace found the same: all that is told, and lengths, areas and volumes to the rounding of floats."""
    assert (found.gaps, found.threads) == (alone.gaps, alone.threads)
    assert [(c.kind, c.move, c.what) for c in found.contacts] == [(c.kind, c.move, c.what) for c in alone.contacts]
    for mine, other in zip(found.contacts, alone.contacts, strict=True):
        assert mine.amount == pytest.approx(other.amount, abs=1e-7)
        assert (mine.where is None) == (other.where is None)
        if mine.where is not None and other.where is not None:
            assert mine.where.area == pytest.approx(other.where.area, abs=1e-7)
    for name in ("area", "volume", "across", "depth"):
        np.testing.assert_allclose(getattr(found, name), getattr(alone, name), rtol=1e-9, atol=1e-7, err_msg=name)
    assert (found.unswept == alone.unswept).all()
    assert shapely.symmetric_difference(found.left, alone.left).area < 1e-8
    assert len(found.loose) == len(alone.loose)
