"""The blocks behind the cards: both programs in one column, what is equal once, what differs as it was and as it is now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from verifier.report.marked import Pieces, marked
from verifier.source import read_source
from verifier.syntax import parse

AROUND = 4
"""So many equal blocks are shown before and after one that differs."""
MOST = 2_000
"""So many rows at most; the rest is counted, and the programs themselves hold it."""
_EQUAL = ("same", "wording")


@dataclass(frozen=True, slots=True)
class Beside:
    """One row: `kind` as the report pairs blocks; line and text of either side, None and nothing where that side has no such block."""

    kind: str
    old_line: int | None
    new_line: int | None
    old: Pieces
    new: Pieces


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows that follow one another; `skipped` equal blocks stand before them."""

    skipped: int
    rows: tuple[Beside, ...]


def beside(
    old: bytes, new: bytes, pairs: Sequence[tuple[int | None, int | None, str]]
) -> tuple[tuple[Stretch, ...], int]:
    """The stretches in which two programs differ, and how many rows were left out behind the last.

    `pairs` are a report's blocks: index in the old and the new program, and how the two belong together. For people's eyes only.
    """
    shown = _shown([kind for _, _, kind in pairs])
    left = max(0, len(shown) - MOST)
    before, after = _lines(old), _lines(new)
    stretches: list[Stretch] = []
    rows: list[Beside] = []
    skipped, last = 0, -1
    for index in shown[:MOST]:
        if index != last + 1:
            if rows:
                stretches.append(Stretch(skipped, tuple(rows)))
            rows, skipped = [], index - last - 1
        rows.append(_row(pairs[index], before, after))
        last = index
    if rows:
        stretches.append(Stretch(skipped, tuple(rows)))
    return tuple(stretches), left


def _shown(kinds: Sequence[str]) -> list[int]:
    """The rows that are shown: those that differ, and some around each; found in one pass each way."""
    near = [False] * len(kinds)
    for order in (range(len(kinds)), range(len(kinds) - 1, -1, -1)):
        left = 0
        for index in order:
            left = AROUND + 1 if kinds[index] not in _EQUAL else left - 1
            near[index] = near[index] or left > 0
    return [index for index, wanted in enumerate(near) if wanted]


def _row(
    pair: tuple[int | None, int | None, str], before: Sequence[tuple[int, str]], after: Sequence[tuple[int, str]]
) -> Beside:
    old_line, old = _side(pair[0], before)
    new_line, new = _side(pair[1], after)
    if pair[2] in _EQUAL or pair[2] == "moved":
        return Beside(pair[2], old_line, new_line, ((old, False),), ((new, False),))
    was, now = marked([old] if old_line is not None else [], [new] if new_line is not None else [])
    return Beside(pair[2], old_line, new_line, was[0] if was else (), now[0] if now else ())


def _side(index: int | None, lines: Sequence[tuple[int, str]]) -> tuple[int | None, str]:
    return (None, "") if index is None or index >= len(lines) else lines[index]


def _lines(body: bytes) -> list[tuple[int, str]]:
    """Line and text of every block, by its index."""
    source = read_source(body)
    return [(block.line, source.line_text(block.line).strip()) for block in parse(source).blocks]
