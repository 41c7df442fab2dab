"""Programs as many shops write them, written for this test: each is executed to its end, and nothing is told but what its row says.

Metric and inch, code sets A, B and C, roughing, threading and grooving in both forms, chains of threads, tapers, bores, negative X, pockets, calls
in every form, macros, live tools, bar pullers, a second spindle, letters for points and missing points. `styles/NAME.nc` is the program; a
row names its faults and what is unchecked beside the choices of a profile that nobody verified.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.control.running import codes, machine
from verifier.control import Trace, execute
from verifier.source import read_path
from verifier.syntax import parse

FOLDER = Path(__file__).parent / "styles"
SETS = {"setb": "B", "setc": "C"}

TOLD: dict[str, tuple[str, ...]] = {
    "bar-puller": ("subprogram-missing", "M10", "M11", "program 2000"),
    "bore-inch": ("path under G41",),
    "comments": ("(INCH (SIC)",),
    "counter": ("#500-#501",),
    "cyl": ("C0", "C45.", "C60.", "C90.", "M13", "M15", "cylindrical 25 interpolation"),
    "drill-cycles": ("clearance of a peck of G83",),
    "g30": ("M42",),
    "g72-oneblock": ("retract of G72",),
    "g76-1b-inch": ("finish allowance of G76", "finish passes of G76", "minimum pass of G76", "pull-out of G76"),
    "g92-multi": ("pull-out of G92",),
    "inch-d-oneblock": ("retract of G71",),
    "live-tool": (
        "C0", "C0.", "C180.", "C270.", "C90.", "H0", "H30.", "M133", "M135", "M154", "M155", "M89", "clearance of a peck of G87",
    ),
    "m06-styles": ("T3",),
    "multistart": ("pull-out of G92",),
    "od-twoblock-mm": ("path under G42",),
    "polar-mill": ("C-20.", "C0", "C20.", "H0", "M13", "M15", "path under G42", "polar interpolation"),
    "setb": ("clearance of a peck of G83", "pull-out of G78"),
    "setc": ("pull-out of G21",),
    "stock-typos": ("Z-2O.", "Z2.0.", "l."),
    "subspindle": ("B-0.5", "B-1.", "B5.", "M10", "M11", "M203", "M204", "M205", "M210", "P11"),
    "tap-rigid": ("M29",),
    "tool-comp-dialect": ("T0",),
    "wholeunits-style": ("D1", "T1"),
}  # fmt: skip
"""Program -> the codes of its faults and what is unchecked; of a program without a row nothing is."""


def traced(name: str) -> Trace:
    return execute(parse(read_path(FOLDER / f"{name}.nc")), machine(code_set=SETS.get(name, "A")))


def names() -> list[str]:
    return sorted(path.stem for path in FOLDER.glob("*.nc"))


def test_every_row_has_its_program() -> None:
    assert set(TOLD) <= set(names())
    assert len(names()) >= 40


@pytest.mark.parametrize("name", names())
def test_a_program_is_executed_and_nothing_is_told_that_a_machinist_would_not_say(name: str) -> None:
    trace = traced(name)
    assert trace.events[-1].kind in ("program-end", "repeat")
    told = {entry.what for entry in trace.unchecked if not entry.what.startswith("choice ")}
    assert (*codes(trace), *sorted(told)) == tuple(TOLD.get(name, ()))
    assert all(what.strip() for what in told)


ENDS = {
    "od-twoblock-mm": (100, 50),
    "g92-multi": (80, 80),
    "bore-inch": ("X at reference", "Z at reference"),
    "negx": (-6 * 25.4, 6 * 25.4),
    "nodecimal-mm": (100, 100),
    "wholeunits-style": (0.1, 0.1),
    "nested-subs": (46, -2),
    "macro-loop": (100, 100),
    "counter": None,
    "bar-puller": ("X at reference", "Z at reference"),
    "face-thread-scroll": (120, -30),
    "a-words": (50.8, -38.1),
    "chamfer-words": (50, -30),
    "g02-ik": (50.8, -34.925),
    "setb": (0, 10),
}
"""Where the tool stands at the end, in mm (X as a diameter) or at a place of the machine, by hand from the words."""


@pytest.mark.parametrize("name", sorted(ENDS))
def test_the_tool_ends_where_the_words_lead(name: str) -> None:
    wanted, trace = ENDS[name], traced(name)
    if wanted is None:
        assert not trace.rows()
        return
    row = trace.rows()[-1]
    for base, ticks, place in zip((row.bx1, row.bz1), (2 * row.x1, row.z1), wanted, strict=True):
        found = trace.bases[base] or ticks / 1e8
        assert found == (place if isinstance(place, str) else pytest.approx(place, abs=1e-6))
