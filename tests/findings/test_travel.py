"""How far arcs reach along each axis, held against points all along them."""

from __future__ import annotations

import numpy as np
import pytest

from verifier.control import TICKS_PER_MM, Kind, execute
from verifier.findings.rules.travel_limit import _bulges
from verifier.geometry.sweep import path_points
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

ARCS = [
    "G02 X50. Z-10. R8.",
    "G03 X50. Z-10. R8.",
    "G02 X40. Z0. I6. K6.",
    "G03 X40. Z0. I5. K0.",
    "G02 X40. Z0. I0. K-7.",
]


@pytest.mark.parametrize("arc", ARCS)
def test_an_arc_reaches_as_far_as_its_farthest_point(arc: str) -> None:
    program = f"O1000\nN1 G00 G21 G40 G54 G97 G99\nT0101\nS500 M03\nX40. Z0.\n{arc} F0.1\nM30\n"
    trace = execute(parse(read_source(program.encode(), "arc.nc")), generic_lathe())
    moves = trace.moves
    (row,) = np.flatnonzero(np.isin(moves.kind, (Kind.ARC_CW, Kind.ARC_CCW)))
    points = [
        np.array((float(z[row]), float(x[row])))
        for z, x in ((moves.z0, moves.x0), (moves.z1, moves.x1), (moves.cz, moves.cx))
    ]
    path = path_points(*(p / TICKS_PER_MM for p in points), clockwise_in_zr=moves.kind[row] == Kind.ARC_CW)
    for letter, column in (("Z", 0), ("X", 1)):
        low, high = (float(reach[0]) / TICKS_PER_MM for reach in _bulges(moves, np.array([row]), letter))
        ends = (points[1][column] / TICKS_PER_MM, points[0][column] / TICKS_PER_MM)
        assert min(low, *ends) == pytest.approx(path[:, column].min(), abs=0.001)
        assert max(high, *ends) == pytest.approx(path[:, column].max(), abs=0.001)
