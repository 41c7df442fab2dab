"""Difficult pairs of programs of our own, each with the review that a reader sees: `python -m tests.report.pairs` writes the reviews anew.

A pair is a folder of fixtures/pairs: `old.nc`, `new.nc`, `review.txt`, and `pair.toml` with what is true of it, written by hand: `what` in words, the
`verdict`, the rules one of which must speak `first`, how many `cards` there are; a `machine`, `setup` or `policy` of the demo shop, or a setup sheet
of the pair's own, where needed.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from verifier.findings import load_policy
from verifier.machines import load_machine, load_setup
from verifier.report import ChangeReport, Reviewed, reviewed, to_text

ROOT = Path(__file__).resolve().parents[2] / "fixtures"
PAIRS = ROOT / "pairs"


@dataclass(frozen=True)
class Pair:
    """One pair: its folder, and what is true of it."""

    folder: Path
    truth: dict[str, Any]

    def report(self) -> ChangeReport:
        """The change report of the pair."""
        return self.reviewed().report

    def reviewed(self) -> Reviewed:
        """The same, and its picture."""
        given = {
            name: load(self._file(self.truth[name]))
            for name, load in (
                ("machine", load_machine),
                ("setup", partial(load_setup, machine=None)),
                ("policy", load_policy),
            )
            if name in self.truth
        }
        old, new = ((self.folder / name).read_bytes() for name in ("old.nc", "new.nc"))
        return reviewed(old, new, **given)

    def _file(self, name: str) -> Path:
        """A file of the pair's own, else of the demo shop."""
        own = self.folder / name
        return own if own.is_file() else ROOT / "shop" / name

    def shown(self, report: ChangeReport) -> str:
        """What a reader sees, under what is true of the pair."""
        return f"{self.truth['what']}\n\n{to_text(report, brief=True)}"


def pairs() -> tuple[Pair, ...]:
    """All pairs, by name."""
    folders = sorted(folder for folder in PAIRS.iterdir() if folder.is_dir())
    return tuple(Pair(folder, tomllib.loads((folder / "pair.toml").read_text(encoding="utf-8"))) for folder in folders)


def main() -> None:
    """Write every review anew."""
    for pair in pairs():
        (pair.folder / "review.txt").write_text(pair.shown(pair.report()), encoding="utf-8")


if __name__ == "__main__":
    main()
