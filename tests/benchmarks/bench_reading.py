"""How fast a program is read, beside the digest of the same bytes: `python -m tests.benchmarks.bench_reading [blocks]`.

Trust the ratio: both are timed in turn, in one run, on one machine. Kept out of the test suite, since it asserts nothing.
"""

from __future__ import annotations

import hashlib
import random
import statistics
import sys
import time

from verifier.source import Source, read_source
from verifier.syntax import parse

BLOCKS = 100_000
_ROUNDS = 5


def turning_program(blocks: int, seed: int = 1) -> bytes:
    """A turning program of about `blocks` blocks: sequences with notes, roughing passes, fine contours, a thread here and there."""
    rng = random.Random(seed)
    lines = ["%", "O1001 (SHAFT)", "G21 G18 G40 G99"]
    number = 0
    while len(lines) < blocks:
        number += 1
        tool = number % 12 + 1
        lines += [
            f"N{number} (SEQUENCE {number})",
            "G28 U0. W0.",
            f"T{tool:02d}{tool:02d}",
            f"G50 S{rng.randrange(1500, 4000, 100)}",
            f"G96 S{rng.randrange(120, 260, 5)} M03",
            f"G00 X{rng.uniform(40, 90):.3f} Z{rng.uniform(1, 5):.1f} M08",
        ]
        diameter, z = rng.uniform(40, 90), 0.0
        for _ in range(rng.randrange(40, 400)):
            diameter += rng.uniform(-0.4, 0.4)
            z -= rng.uniform(0.01, 0.3)
            cut = f"X{diameter:.3f} Z{z:.3f}"
            lines.append(f"G01 {cut} F{rng.uniform(0.05, 0.3):.2f}" if rng.random() < 0.1 else cut)
        lines += ["G00 X120. Z80. M09", "M05", "M01"]
    return "\n".join([*lines, "M30", "%", ""]).encode("ascii")


def main() -> None:
    """Times reading and hashing side by side and prints the figures."""
    blocks = int(sys.argv[1]) if len(sys.argv) > 1 else BLOCKS
    source = read_source(turning_program(blocks))
    parse(source)  # the grammar is built once in a process
    reading, hashing = [], []
    for _ in range(_ROUNDS):
        reading.append(_timed(source))
        start = time.perf_counter()
        hashlib.sha256(source.data).hexdigest()
        hashing.append(time.perf_counter() - start)
    program = parse(source)
    read, hashed = statistics.median(reading), statistics.median(hashing)
    words = len(program.columns.letter)
    print(f"{len(program.blocks)} blocks, {words} words, {len(source.data) / 1e6:.1f} MB")
    print(f"lark parses      {program.lark_parses}")
    print(f"reading          {read * 1e3:.1f} ms, {len(program.blocks) / read:,.0f} blocks/s")
    print(f"sha-256          {hashed * 1e3:.1f} ms")
    print(f"reading / sha    {read / hashed:.1f}")


def _timed(source: Source) -> float:
    start = time.perf_counter()
    parse(source)
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
