"""How fast two revisions are compared, beside other tools on the same files: `python -m tests.benchmarks.bench_compare [blocks]`.

One process and one run: the files are written to a temporary folder, `sha256sum` and `git diff --no-index --histogram` are timed as commands
on them. Trust the ratios. Kept out of the test suite, since it asserts nothing.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.bench_reading import turning_program
from verifier import review
from verifier.compare import compare, side
from verifier.control import execute
from verifier.findings import default_policy, judge
from verifier.machines import generic_lathe
from verifier.source import read_path
from verifier.syntax import parse

BLOCKS = 100_000
EDITS = 0.001
ROUNDS = 3


def edited(program: bytes, share: float, seed: int = 5) -> bytes:
    """The program with this share of its lines changed in one coordinate's last digit."""
    rng = random.Random(seed)
    lines = program.decode("ascii").split("\n")
    cuts = [k for k, line in enumerate(lines) if line.startswith("X") and " Z" in line]
    for k in rng.sample(cuts, max(1, int(len(lines) * share))):
        lines[k] = lines[k][:-1] + str((int(lines[k][-1]) + 1) % 10)
    return "\n".join(lines).encode("ascii")


def timed(action: Callable[[], object], rounds: int = ROUNDS) -> float:
    """The least time of some rounds, in seconds."""
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        best = min(best, time.perf_counter() - start)
    return best


def command(*words: str) -> Callable[[], object]:
    """A command to be timed; its output goes nowhere."""
    return lambda: subprocess.run(words, stdout=subprocess.DEVNULL, check=False)


def main() -> None:
    """Prints the figures."""
    blocks = int(sys.argv[1]) if len(sys.argv) > 1 else BLOCKS
    old = turning_program(blocks)
    machine = generic_lathe()
    parse(read_path(__file__))  # the grammar is built once in a process
    with tempfile.TemporaryDirectory() as folder:
        a, b = Path(folder) / "a.nc", Path(folder) / "b.nc"
        a.write_bytes(old)
        b.write_bytes(edited(old, EDITS))
        hashing = timed(command("sha256sum", str(a)))
        nothing = timed(command("true"))
        differing = timed(command("git", "diff", "--no-index", "--histogram", str(a), str(b)))
        parsing = timed(lambda: parse(read_path(a)))
        pa, pb = parse(read_path(a)), parse(read_path(b))
        executing = timed(lambda: execute(pa, machine), 1)
        sides = timed(lambda: (side(pa, machine), side(pb, machine)), 1)
        sa, sb = side(pa, machine), side(pb, machine)
        comparing = timed(lambda: compare(sa, sb), 1)
        comparison = compare(sa, sb)
        judging = timed(lambda: judge(comparison, default_policy()), 1)
        whole = timed(lambda: review(parse(read_path(a)), parse(read_path(b)), machine=machine), 1)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{len(pa.blocks):,} blocks, {len(old):,} bytes, {len(comparison.edits.edits)} edits, {len(comparison.effects)} effects"
    )
    print(f"parse {parsing:.3f} s ({len(pa.blocks) / parsing:,.0f} blocks/s), {pa.lark_parses} Lark parses")
    print(f"parse / sha256sum of the same file: {parsing / max(hashing - nothing, 1e-4):.1f} (its process apart)")
    print(
        f"execute {executing:.2f} s ({len(pa.blocks) / executing:,.0f} blocks/s); both sides with every way in {sides:.2f} s"
    )
    print(f"compare {comparing:.2f} s, findings {judging:.2f} s")
    print(f"whole review {whole:.2f} s ({2 * len(pa.blocks) / whole:,.0f} blocks/s), peak memory {peak:,.0f} MB")
    print(f"whole review / git diff --histogram of the same pair: {whole / differing:.0f} ({differing:.3f} s)")


if __name__ == "__main__":
    main()
