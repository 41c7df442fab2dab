"""Load and surface of a report in lines: the sequences in which a greatest amount changes; of one program all of them, in short."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from verifier.report.load_report import LoadAmount, LoadReport, LoadRow

_ROWS = 8
"""So many sequences are told in lines."""
_SHORT = ("power", "force", "depth of cut", "infeed of a pass", "section of a pass", "roughness Ra")
"""What is told of a program alone; the rest stands in the other forms."""


def load_lines(load: LoadReport, width: int, *, compared: bool, everything: bool) -> Iterator[str]:
    """The lines, without markup; nothing where nothing changes."""
    rows = [(row, list(_told(row, compared=compared, everything=everything))) for row in load.sequences]
    rows = [(row, told) for row, told in rows if told]
    if not rows:
        return
    head = f"LOAD AND SURFACE, greatest of each{': what changes' if compared else ''}"
    yield (
        head + (f" · {load.material}" if load.material else "") + (f" · spindle {load.spindle}" if load.spindle else "")
    )
    shown = rows if everything else rows[:_ROWS]
    for row, told in shown:
        yield from _wrapped(f"{row.label} T{row.tool}: {', '.join(told)}", width)
    if len(shown) < len(rows):
        yield f"  ... and {len(rows) - len(shown)} more sequences (shown with --all)"
    if load.assumptions and not everything:
        yield f"  ... what it rests on: {len(load.assumptions)} points (shown with --all)"
    for text in load.assumptions if everything else ():
        yield from _wrapped(f"- {text}", width)


def _told(row: LoadRow, *, compared: bool, everything: bool) -> Iterator[str]:
    for amount in row.amounts:
        if compared and amount.changed:
            yield f"{amount.name} {amount.before or 'none'} -> {amount.after or 'none'}{_at(amount)}"
        elif not compared and (everything or amount.name in _SHORT):
            yield f"{amount.name} {amount.after}{_at(amount) if everything else ''}"


def _at(amount: LoadAmount) -> str:
    return f" (line {amount.place.line})" if amount.place is not None else ""


def _wrapped(text: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
