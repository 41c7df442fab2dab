"""Small pairs of programs compared: what the tests of comparison share."""

from __future__ import annotations

from tests.properties.reviewing import compared, lathe, traced
from verifier.compare import Comparison, Effect, Item, items_of
from verifier.machines import Machine

MM = 100_000_000
HEAD = "O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2.\n"
TAIL = "G00 X80. Z50.\nM05\nM30\n"
FIRST_LINE = HEAD.count("\n")
"""The block index of the first block that stands between head and tail."""


def whole(text: str) -> bytes:
    """A whole program around some blocks (one a line)."""
    return (HEAD + text + ("\n" if text else "") + TAIL).encode()


def pair(old: str, new: str, machine: Machine | None = None, old_machine: Machine | None = None) -> Comparison:
    return compared(whole(old), whole(new), machine, old_machine)


def items(text: str, machine: Machine | None = None) -> list[Item]:
    """The items of what stands between head and tail, from the first block on."""
    found = items_of(traced(whole(text), machine), machine or lathe()).items
    last = FIRST_LINE + text.count("\n")
    return [item for item in found if any(FIRST_LINE <= block <= last for block in item.blocks)]


def fields(comparison: Comparison) -> list[str]:
    """The fields of all effects, those of the state left at the end marked."""
    return [f"{effect.field} left" if effect.left else effect.field for effect in comparison.effects]


def effect(comparison: Comparison, field: str) -> Effect:
    """The one effect in a field, not of the state left."""
    (found,) = [e for e in comparison.effects if e.field == field and not e.left]
    return found


def edited(comparison: Comparison, found: Effect) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """The blocks of the edits behind an effect, counted from the first block between head and tail."""
    return [
        (
            tuple(block - FIRST_LINE for block in comparison.edit(k).old),
            tuple(block - FIRST_LINE for block in comparison.edit(k).new),
        )
        for k in found.causes
    ]
