"""How long the search for the nearest program takes in a large library: `python -m tests.benchmarks.bench_nearest [programs]`.

A shop is made in a temporary folder and filled, past the acts, with generated revisions of 200 blocks and their sketches; then first submissions
that are 93 % a known program, and strangers, are searched for. Prints the times beside that of reading and sketching one program.

With 100,000 programs on two shared cores: 20 of 20 right of either kind, about 15 times reading and sketching one program (60 ms, longest 95 ms).
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from hashlib import sha256
from pathlib import Path

from verifier import records
from verifier.desk import nearest
from verifier.source import read_source
from verifier.syntax import parse, sketch

BLOCKS, SEARCHES = 200, 20
_HEAD = ["G21", "N1 G00 G40 G97 G99", "T0101", "G50 S2000", "G96 S180 M03", "G00 X100. Z2. M08"]


def program(seed: int) -> list[str]:
    """Blocks of one generated program; a tenth are those of a family of a hundred."""
    rng, family = random.Random(seed), random.Random(-1 - seed // 100)
    cuts = [
        f"X{family.randrange(2000, 9000) / 100:.2f} Z-{family.randrange(9000) / 100:.2f}" for _ in range(BLOCKS // 10)
    ]
    cuts += [
        f"X{rng.randrange(2000, 9000) / 100:.2f} Z-{rng.randrange(9000) / 100:.2f}" for _ in range(BLOCKS - len(cuts))
    ]
    return [*_HEAD, *cuts, "G00 X150. Z100. M09", "M30"]


def _bytes(lines: list[str]) -> bytes:
    return "\n".join(lines).encode("ascii")


def fill(shop: records.Shop, count: int) -> None:
    """Put so many programs with one revision each into the records."""
    database = shop.database
    for start in range(0, count, 2000):
        sketches = []
        with database.write():
            for k in range(start, min(start + 2000, count)):
                data = _bytes(program(k))
                digest = sha256(data).hexdigest()
                database.run("INSERT INTO body(sha, bytes) VALUES(?,?)", digest, data)
                name = {"name": f"O{k + 1}", "folded": f"O{k + 1}", "machine": 1, "created_us": 1}
                row = database.insert("program", name)
                revision = database.insert(
                    "revision",
                    {
                        "program": row,
                        "n": 1,
                        "sha": digest,
                        "state": "submitted",
                        "held_because": "[]",
                        "created_us": 1,
                    },
                )
                sketches.append((revision, sketch(parse(read_source(data, "filled")))))
        records.keep_sketches(shop, sketches)


def main() -> None:
    """Fill, search, print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "shop"
        with records.init_shop(place, "Bench", ("ada", "Ada"), clock=lambda: 1, new_id=lambda: "bench") as shop:
            admin = records.find_person(shop, "ada").id
            records.add_machine(shop, admin, "lathe", profile=b"kind = 'lathe'", folder="floor")
            fill(shop, count)
            search(shop, count)
            print(f"records: {(place / 'shop.db').stat().st_size / 1e6:.0f} MB")


def search(shop: records.Shop, count: int) -> None:
    """Search for known programs with 7 % of other blocks, and for strangers."""
    rng = random.Random(9)
    for what in ("known", "strangers"):
        took, own, right = [], [], 0
        for _ in range(SEARCHES):
            k = rng.randrange(count) if what == "known" else count + 1000 + rng.randrange(10**6)
            lines = program(k)
            for at in rng.sample(range(6, BLOCKS), BLOCKS * 7 // 100):
                lines[at] = f"X{rng.randrange(10**6) / 1000 + 200:.3f}"
            start = time.perf_counter()
            read = parse(read_source(_bytes(lines), "searched"))
            sketch(read)
            own.append(time.perf_counter() - start)
            start = time.perf_counter()
            found = nearest(shop, read, "O99999999", "lathe")
            took.append(time.perf_counter() - start)
            right += (found is not None and found.program == f"O{k + 1}") if what == "known" else found is None
        middle, read_s = sorted(took)[SEARCHES // 2], sorted(own)[SEARCHES // 2]
        print(
            f"{what}: {right} of {SEARCHES} right; search {middle * 1000:.0f} ms (longest {max(took) * 1000:.0f} ms), "
            f"{middle / read_s:.1f} times reading and sketching one program"
        )


if __name__ == "__main__":
    main()
