"""Programs that are not generated: the demo shop's, and real ones where they lie beside the repository (never part of it)."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from tests.properties.sizes import FACTOR
from verifier.machines import Machine, load_machine

ROOT = Path(__file__).parents[2]
SHOP = ROOT / "fixtures" / "shop"
CORPUS = ROOT.parent / "shared" / "corpus"


@cache
def machine(name: str) -> Machine:
    return load_machine(SHOP / "machines" / f"{name}.toml")


def shop_programs() -> list[Path]:
    return sorted(SHOP.glob("programs/*/*.nc"))


def shop_pairs() -> list[tuple[Path, Path]]:
    """The base of each part and every other program of it; in a longer run every two."""
    found = []
    for folder in sorted((SHOP / "programs").iterdir()):
        paths = sorted(folder.glob("*.nc"), key=lambda path: (path.name != "base.nc", path.name))
        found += list(combinations(paths, 2))[: None if FACTOR > 1 else len(paths) - 1]
    return found


def corpus(pattern: str) -> list[Path]:
    return sorted(CORPUS.glob(pattern)) if CORPUS.is_dir() else []


def needs_corpus() -> None:
    if not CORPUS.is_dir():
        pytest.skip("the real programs are not beside the repository (../shared/corpus)")


def name_of(path: object) -> str:
    return "-".join(path.parts[-2:]) if isinstance(path, Path) else str(path)
