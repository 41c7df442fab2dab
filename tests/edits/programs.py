"""The programs that are edited: the demo shop's, and real ones where they lie in a folder `shared` beside the checkout."""

from __future__ import annotations

import re
from pathlib import Path

from tests.edits.oracle import alarms

ROOT = Path(__file__).parents[2]
REAL = ROOT.parent / "shared" / "corpus" / "turning"
MOST_LINES = 260


def own() -> dict[str, str]:
    """The demo shop's base programs, and programs that hold what those do not: calls, variables, chuck and quill, presets, threads."""
    shop = {p.parent.name: _text(p) for p in sorted((ROOT / "fixtures" / "shop" / "programs").glob("*/base.nc"))}
    return shop | {p.stem: _text(p) for p in sorted((Path(__file__).parent / "made").glob("*.nc"))}


def real(folder: Path = REAL) -> dict[str, str]:
    """Real programs of a size that many edits can be tried on, without those that no control would run; none where the folder is absent."""
    found = {p.name: _text(p) for p in sorted(folder.glob("*.nc"))}
    return {name: text for name, text in found.items() if text.count("\n") <= MOST_LINES and not alarms(text)}


def _text(path: Path) -> str:
    return re.sub(r"\r\n|\n\r\r|\r", "\n", path.read_bytes().decode("utf-8", "replace")).replace("\x00", "")
