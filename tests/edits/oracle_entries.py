"""Other ways into a program, for the oracle of the edit bench: each sequence started alone. Nothing of the product."""

from __future__ import annotations

from tests.edits.heads import heads
from tests.edits.oracle import Run
from tests.edits.oracle_parts import MULTI, RESET, Doing, words_text
from tests.edits.words import Line, lines_of

AXES = "XZUW"
_CUTS = MULTI | {"M98"}


def entered(text: str) -> list[Doing]:
    """What a program does when it is started alone at each tool word's sequence: from the block number or note above it.

    The first one is started from the top, where nothing in front of it cuts: nobody searches past a program's own settings to come to the
    work that follows them (common practice, no source). Common variables hold what a whole run left in them.
    """
    lines = lines_of(text)
    whole = Run(lines)
    whole.go()
    # Whoever starts in the middle has reset the control: spindle and coolant stand still.
    still = {**RESET, "spindle": "off", "coolant": "off"}
    starts = heads(lines)
    if starts and not any(_cuts(line) for line in lines[: starts[0]]):
        starts[0] = 0
    return [Run(lines, variables=dict(whole.left()), state=dict(still)).go(start) for start in starts]


def _cuts(line: Line) -> bool:
    """Whether a line may cut or call what may: a place, but in a rapid, on the way home or in a preset; a cycle or a call; anything not read.

    A code of motion without a place cuts nothing: many safety blocks hold G90, which means coordinates in other code sets.
    """
    if not line.plain:
        text = words_text(line)
        return text != "%" and not text.startswith("DPRNT")  # which only writes to a printer
    places = line.word(AXES) is not None and not line.has("G00", "G28", "G30", "G50", "G53")
    return places or line.has(*_CUTS)


__all__ = ["entered"]
