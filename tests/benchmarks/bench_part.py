"""`python -m tests.benchmarks.bench_part [MOVES ...]`: what the turned part costs, beside executing the same program without it.

A bar is turned by many levels of roughing, finished along a stepped contour with radii, and grooved by pecks, until the program makes about so
many moves. Processor seconds of one core; the ratio is taken inside one run. Nothing asserts a time.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from fractions import Fraction
from time import process_time

from tests.geometry.parts import exact, turning
from verifier.control import execute
from verifier.geometry import features, turned_part
from verifier.machines import FrozenMap, Setup, Stock, Tool, content_digest, generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

HEAD = "O1 (BENCH)\nG21 G99\n"
START = "T{n:02d}{n:02d}\nG97 S800 M03\nG00 X330. Z5.\n"
STEPS = 40
LENGTH = 400.0


def _contour() -> list[str]:
    """A shaft with steps, each with a radius at its foot: diameters from 40 to 274."""
    lines = []
    for k in range(STEPS):
        diameter, z = 40 + 6 * k, -(k + 1) * LENGTH / STEPS / 1.2
        lines += [f"G01 Z{z + 2:.3f} F0.2", f"G02 X{diameter + 4:.3f} Z{z:.3f} R2.", f"G01 X{diameter + 6:.3f}"]
    return lines


def program(moves: int) -> str:
    """A program of about so many moves: levels of roughing and a finishing pass, then pecked grooves, as often as it takes."""
    body, made = [HEAD, START.format(n=1)], 0
    levels = max(moves // 12, 40)
    step = 260 / levels
    for k in range(levels):
        diameter = 300 - (k + 1) * step
        z = -max((diameter - 40) / 6 + 0.5, 0.2) * 0 - LENGTH / 1.2 * min(max((diameter - 40) / 240, 0.02), 1) + 1
        body.append(f"G00 X{diameter:.3f} Z2.\nG01 Z{z:.3f} F0.3\nX{diameter + 1:.3f}\nG00 Z2.\n")
        made += 4
    body += [START.format(n=2), "G00 X40. Z2.\n", "\n".join(_contour()), "\nG00 X330.\nZ5.\n"]
    made += 3 * STEPS + 4
    body.append(START.format(n=3))
    groove = 0
    while made < moves:
        k = groove % STEPS
        diameter, z = 46 + 6 * k, -(k + 1) * LENGTH / STEPS / 1.2 - 5.5
        deep = 0.05 * (groove // STEPS + 1)
        body.append(f"G00 X330. Z{z:.3f}\n")
        for peck in range(1, 6):
            bottom = diameter - min(deep, 8) * peck / 5
            body.append(f"G01 X{bottom:.3f} F0.1\nG00 X{bottom + 0.4:.3f}\n")
        body.append("G00 X330.\n")
        made, groove = made + 12, groove + 1
    return "".join(body) + "M30\n"


def sheet() -> Setup:
    """The bar and three tools."""
    finisher = turning(0.4, station=2, shape="D", approach_angle=93, edge_length=15)
    blade = Tool(3, **exact(kind="grooving", blade_width=2, nose_radius="0.2", orientation=3, blade_depth=150))
    tools = (turning(station=1, edge_length=16), finisher, blade)
    bar = Stock("bar", Fraction(300), None, Fraction(450), Fraction(0))
    setup = Setup("bench", bar, None, FrozenMap(), FrozenMap(), FrozenMap((t.station, t) for t in tools), (), "")
    return replace(setup, digest=content_digest(setup))


def main(sizes: list[int]) -> None:
    """Print one line for each size."""
    machine, setup = generic_lathe(), sheet()
    print(f"{'moves':>8} {'execute s':>10} {'part s':>8} {'ratio':>6} {'ms/1000':>8}  contacts, features")
    for size in sizes:
        parsed = parse(read_source(program(size).encode(), "bench.nc"))
        start = process_time()
        trace = execute(parsed, machine, setup=setup)
        executed = process_time() - start
        start = process_time()
        part = turned_part(trace, machine, setup)
        swept = process_time() - start
        assert part is not None
        found = features(part)
        count = len(trace.moves)
        print(
            f"{count:>8} {executed:>10.3f} {swept:>8.3f} {swept / executed:>6.2f} {swept / count * 1e6:>8.1f}"
            f"  {len(part.contacts)}, {len(found)}"
        )


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [1000, 5000, 20_000])
