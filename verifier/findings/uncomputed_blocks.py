"""Arcs and dwells that could not be computed on one side or on both: what is known of them is the words themselves, and why they could not be."""

from __future__ import annotations

from verifier.compare import Effect, Item, WordChange
from verifier.findings.claims_causes import item_of
from verifier.findings.facts import Facts
from verifier.findings.uncomputed import reason_for

_ARCS = ("arc_cw", "arc_ccw")
_CENTRE = frozenset("IKR")
_DWELL = "dwell "
_SIDES = {(True, False): "old", (False, True): "new", (True, True): "both"}


def arc_without_centre(facts: Facts, effect: Effect) -> str:
    """Of an effect about an arc, the side on which its centre could not be computed ("old", "new" or "both"); "" for any other."""
    old, new = effect.first.old, effect.first.new
    if effect.field not in ("arc", "remark") or old is None or new is None:
        return ""
    lost = tuple(_lost(facts, effect, side, item) for side, item in enumerate((old, new)))
    return _SIDES.get((lost[0], lost[1]), "")


def _lost(facts: Facts, effect: Effect, side: int, item: Item) -> bool:
    """Whether an item is an arc whose move has no centre, and carries the words that give none instead."""
    return item.kind in _ARCS and item.centre == (0, 0) and bool(facts.paths(effect.position)[side].remark_of(item))


def centre_words(facts: Facts, effect: Effect) -> tuple[WordChange, ...]:
    """The words for a centre or a radius that the edits behind an effect changed."""
    return tuple(c for words in facts.words_of(effect) for c in words.changes if c.letter in _CENTRE)


def arc_words_not_computed(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from other words for the centre or the radius of an arc that could not be computed, on one side at least."""
    return bool(arc_without_centre(facts, effect)) and bool(centre_words(facts, effect))


def why_no_arc(facts: Facts, effect: Effect) -> str:
    """Why the arc of an effect could not be computed: of the new program, where it could not be there."""
    sides = (1, 0) if arc_without_centre(facts, effect) in ("new", "both") else (0,)
    items = (effect.first.old, effect.first.new)
    for side in sides:
        item = items[side]
        entries = facts.paths(effect.position)[side].trace.unchecked if item is not None else ()
        found = [e.reason for e in entries if item is not None and e.block == item.block and e.what.startswith("arc ")]
        if found:
            return found[0]
    return ""


def dwell_not_computed(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is a dwell that could not be computed."""
    item = item_of(effect)
    named = item is not None and item.kind == "event:unexecuted" and item.value.startswith(_DWELL)
    return named and effect.field in ("event", "added", "removed")


def dwell_word(facts: Facts, effect: Effect, side: int) -> tuple[str, str]:
    """The word of a dwell that could not be computed on a side (0 old, 1 new), and why: ("X-2.", "a dwell below zero"); "" where it could be."""
    item = (effect.first.old, effect.first.new)[side]
    if item is None or not item.value.startswith(_DWELL):
        return "", ""
    word = item.value.removeprefix(_DWELL)
    return f"one {word}" if word.startswith("without") else word, reason_for(facts, effect, side, item)


__all__ = [
    "arc_without_centre",
    "arc_words_not_computed",
    "centre_words",
    "dwell_not_computed",
    "dwell_word",
    "why_no_arc",
]
