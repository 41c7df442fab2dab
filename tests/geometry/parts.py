"""Programs swept through a stock, for tests: a setup sheet of a few words, a program of a few blocks."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

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
