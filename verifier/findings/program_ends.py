"""How a program ends, before and after a change, in words."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.compare import Effect
from verifier.findings.view import ChangeView

REPEAT = "M99"
_KINDS = ("event:program-end", "event:text-end", "event:repeat")
_WORDS = {REPEAT: "M99, which starts the program again", "the text ends": "nothing: the text ends without M30"}


@dataclass(frozen=True, slots=True)
class Ends:
    """The end of both programs under one switch position (None: the effects name none), and all effects about it.

    What ended the program before and what ends it now may stand in two edits: they are one change. `edits` are those that do it, and any
    that do nothing else: an edit that only the parts of a second run rest on has its own story in the first one.
    """

    before: str | None
    after: str | None
    covers: tuple[Effect, ...]
    moved: bool
    edits: tuple[int, ...]

    @property
    def repeats(self) -> tuple[bool, bool]:
        """Whether the program starts again by itself, before and after."""
        return self.before == REPEAT, self.after == REPEAT


def changed_ends(change: ChangeView) -> tuple[Ends, ...]:
    """The changed ends of a program, one for each switch position that has its own."""
    by_position: dict[str, list[Effect]] = {}
    along: dict[str, list[Effect]] = {}
    for share in change.shares("program-end-changed"):
        position = share.leads[0].position
        by_position.setdefault(position, []).extend(share.leads)
        along.setdefault(position, []).extend(share.along)
    return tuple(_ends(change, leads, along[position]) for position, leads in by_position.items())


def _ends(change: ChangeView, leads: list[Effect], along: list[Effect]) -> Ends:
    ends = [e for e in leads if any(item is not None and item.kind in _KINDS for item in (e.first.old, e.first.new))]
    before = next((str(e.before) for e in ends if e.before is not None), None)
    after = next((str(e.after) for e in ends if e.after is not None), None)
    covers = (*leads, *along)
    made = {edit for effect in ends or leads for edit in effect.causes}
    elsewhere = {edit for effect in change.comparison.effects if effect not in covers for edit in effect.causes}
    follow = sorted({edit for effect in covers for edit in effect.causes} - elsewhere)
    moved = {effect.field for effect in leads} == {"order"}
    return Ends(before, after, covers, moved, tuple(dict.fromkeys((*sorted(made), *follow))))


def shown(end: str | None) -> str:
    """An end in words."""
    return "something else" if end is None else _WORDS.get(end, end)
