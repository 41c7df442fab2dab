"""Kills the service under work again and again, and prints what came of it: `python -m tests.benchmarks.kill_service [kills] [seed]`.

Three kills run in the test suite; this is for a long night. It ends with 1 where anything was lost, doubled or half written.
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from kills import campaign
from service_shop import make_shop

KILLS = 100


def main() -> int:
    """Run one campaign."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with TemporaryDirectory() as place:
        make_shop(Path(place) / "made")
        counts = campaign(Path(place) / "made", Path(place) / "shop", kills, workers=kills // 3, seed=seed)
    print("\n".join(counts.lines()))
    return 1 if counts.faults else 0


if __name__ == "__main__":
    sys.exit(main())
