"""Turning programs of about so many moves, for benchmarks: one of cycles, and one written out move by move; an edit early or late in each."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.geometry.parts import exact, turning
from verifier.machines import FrozenMap, Setup, Stock, Tool, content_digest

HEAD = "O1 (BENCH)\nG21 G99\n"
START = "T{n:02d}{n:02d}\nG97 S800 M03\nG00 X330. Z5.\n"
STEPS = 40
LENGTH = 400.0
CYCLE_STEPS = 68
"""Steps of the contour in the program of cycles, with a groove in each: about 500 blocks."""


def contour(steps: int) -> list[str]:
    """A shaft with steps, each with a radius at its foot: diameters from 40 upward."""
    lines, rise = [], 240 / steps
    for k in range(steps):
        diameter, z = 40 + rise * k, -(k + 1) * LENGTH / steps / 1.2
        lines += [
            f"G01 Z{z + rise / 3:.3f} F0.2",
            f"G02 X{diameter + rise / 1.5:.3f} Z{z:.3f} R{rise / 3:.3f}",
            f"G01 X{diameter + rise:.3f}",
        ]
    return lines


def written_out(moves: int) -> str:
    """About so many moves, each a block: levels of roughing and a finishing pass, then pecked grooves, as often as it takes."""
    body, made = [HEAD, START.format(n=1)], 0
    levels = max(moves // 12, 40)
    step = 260 / levels
    for k in range(levels):
        diameter = 300 - (k + 1) * step
        z = 1 - LENGTH / 1.2 * min(max((diameter - 40) / 240, 0.02), 1)
        body.append(f"G00 X{diameter:.3f} Z2.\nG01 Z{z:.3f} F0.3\nX{diameter + 1:.3f}\nG00 Z2.\n")
        made += 4
    body += [START.format(n=2), "G00 X40. Z2.\n", "\n".join(contour(STEPS)), "\nG00 X330.\nZ5.\n"]
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


def of_cycles(moves: int) -> str:
    """500 blocks that make about so many moves: roughed and finished by cycles along one contour, and a pecked groove in each step."""
    lines = contour(CYCLE_STEPS)
    levels = max(moves // 20, 40)
    pecks = max((moves - 4 * levels - 6 * CYCLE_STEPS) // (2 * CYCLE_STEPS), 2)
    body = [
        HEAD,
        START.format(n=1),
        "G00 X304. Z2.\n",
        f"G71 U{130 / levels:.4f} R0.5\n",
        "G71 P100 Q200 U0.4 W0.1 F0.3\n",
    ]
    body += ["N100 G00 X40.\n", "\n".join(lines), "\nN200 X305.\n"]
    body += [START.format(n=2), "G00 X304. Z2.\nG70 P100 Q200\n", START.format(n=3)]
    rise, width = 240 / CYCLE_STEPS, LENGTH / CYCLE_STEPS / 1.2
    for k in range(CYCLE_STEPS):
        diameter, z, deep = 40 + rise * k, -k * width - 3.2, 8.0
        body.append(f"G00 X{diameter + 2:.3f} Z{z:.3f}\n")
        body.append(f"G75 R{min(0.2, deep / pecks / 4):.4f}\n")
        body.append(f"G75 X{diameter - 2 * deep:.3f} P{max(round(deep / pecks * 1000), 1)} F0.1\n")
        body.append("G00 X330.\n")
    return "".join(body) + "M30\n"


def edited(program: str, *, early: bool) -> str:
    """The program with one number changed: of the first cut (its Z, or the depth of the roughing cycle), or the X of the last groove."""
    lines = program.split("\n")
    if early:
        k = next(k for k, line in enumerate(lines) if line.startswith(("G71 U", "G01 Z")))
        share = 1.02 if lines[k].startswith("G71") else 0.999
    else:
        k = max(k for k, line in enumerate(lines) if line.startswith(("G75 X", "G01 X")) and " F" in line)
        share = 1.001
    code, number, *rest = lines[k].split()
    lines[k] = " ".join((code, f"{number[0]}{float(number[1:]) * share:.4f}", *rest))
    return "\n".join(lines)


def sheet(*, holders: bool = False) -> Setup:
    """The bar and three tools, with holders that stand clear of the piece or without."""
    finisher = turning(0.4, station=2, shape="D", approach_angle=93, edge_length=15)
    blade = Tool(3, **exact(kind="grooving", blade_width=2, nose_radius="0.2", orientation=3, blade_depth=150))
    tools = [turning(station=1, edge_length=16), finisher, blade]
    if holders:
        # In X and Z from the programmed point: a neck and a square shank.
        shape = tuple(
            (Fraction(x), Fraction(z)) for x, z in ((20, 5), (20, 12), (45, 12), (45, 32), (150, 32), (150, 5))
        )
        tools = [replace(tool, holder=shape) for tool in tools]
    bar = Stock("bar", Fraction(300), None, Fraction(450), Fraction(0))
    setup = Setup("bench", bar, None, FrozenMap(), FrozenMap(), FrozenMap((t.station, t) for t in tools), (), "")
    return replace(setup, digest=content_digest(setup))
