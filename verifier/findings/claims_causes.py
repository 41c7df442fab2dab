"""Claims by what was done: whole sequences, calls, units, skip marks, single words and cycle amounts that explain an effect."""

from __future__ import annotations

from verifier.compare import Effect, Item
from verifier.findings.facts import Facts, sequence_at
from verifier.findings.words import AXIS

_PLACES = ("x", "z", "arc", "below-resolution", "remark")
COMES_AND_GOES = ("added", "removed", "order")
_CALLS = ("M97", "M98", "G65", "G66")


def item_of(effect: Effect) -> Item | None:
    """The new item of an effect's first difference, else the old one (None for the state left at the end)."""
    return effect.first.new or effect.first.old


def is_path(effect: Effect) -> bool:
    """Whether an effect is about where the tool goes."""
    item = item_of(effect)
    return effect.field in _PLACES or (effect.field in COMES_AND_GOES and item is not None and item.is_move)


# -- whole sequences, calls, units ------------------------------------------------------------------------------------------


def sequence_gone(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in sequences that are not in the new program."""
    found = facts.removed_sequences
    return bool(found) and all(
        d.old is not None and sequence_at(found, d.old.block) is not None for d in effect.differences
    )


def sequence_came(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in sequences that were not in the old program."""
    found = facts.added_sequences
    return bool(found) and all(
        d.new is not None and sequence_at(found, d.new.block) is not None for d in effect.differences
    )


def units_scaled(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from lengths and feeds read in another unit."""
    scaled = is_path(effect) or effect.field in ("feed", "speed", "kind")
    return scaled and effect.causes in facts.scaling


def call_differs(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from a changed call, or is a program that was not found."""
    item = item_of(effect)
    if item is not None and item.kind == "event:missing-program":
        return True
    words = facts.words_of(effect)
    calls = [w.touches(*_CALLS) or _calls_changed(facts, k) for w, k in zip(words, _edits(effect), strict=True)]
    return bool(calls) and (all(calls) or (any(calls) and is_path(effect)))


def _edits(effect: Effect) -> tuple[int, ...]:
    return tuple(k for k in effect.causes if k >= 0)


def _calls_changed(facts: Facts, index: int) -> bool:
    """Whether P, Q or L of a calling block changed."""
    if not facts.words[index].letters & {"P", "Q", "L"}:
        return False
    edit, program = facts.comparison.edit(index), facts.comparison.new.program
    words = [w for k in edit.new for w in program.blocks[k].words if w.letter == "M" and w.number is not None]
    return any(f"M{int(w.number.value):02d}" in _CALLS for w in words if w.number)


def skips_only(facts: Facts, effect: Effect) -> bool:
    """Whether nothing but skip marks is behind an effect."""
    return bool(_edits(effect)) and all(skip_changed(facts, k) and not facts.words[k].told for k in _edits(effect))


def skip_changed(facts: Facts, index: int) -> bool:
    """Whether an edit gave a block a skip mark, took it away or changed its level."""
    edit, comparison = facts.comparison.edit(index), facts.comparison
    if len(edit.old) != len(edit.new):
        return False
    before = [[(s.level, s.before) for s in comparison.old.program.blocks[k].skips] for k in edit.old]
    after = [[(s.level, s.before) for s in comparison.new.program.blocks[k].skips] for k in edit.new]
    return before != after


# -- what a single word did --------------------------------------------------------------------------------------------------


def _letters(effect: Effect, letters: tuple[str, ...]) -> bool:
    """Whether a change of these letters shows in an effect: coordinates in the path, F in feeds, others in cycles' moves."""
    axes = {AXIS[letter] for letter in letters if letter in AXIS}
    if effect.field in ("x", "z"):
        return effect.field in axes or bool({"arc"} & axes) or any(k not in AXIS and k != "F" for k in letters)
    if is_path(effect):
        return bool(axes) or any(k != "F" for k in letters)
    return effect.field == "feed" and "F" in letters


def sign_changed(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from a word whose sign changed."""
    return any(w.signs and _letters(effect, tuple(c.letter for c in w.signs)) for w in facts.words_of(effect))


def point_changed(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from a word whose point changed."""
    return any(w.points and _letters(effect, tuple(c.letter for c in w.points)) for w in facts.words_of(effect))


def letters_exchanged(facts: Facts, effect: Effect) -> bool:
    """Whether an effect comes from letters of one axis that were exchanged."""
    return any(
        w.exchanged and _letters(effect, tuple(old.letter for old, _ in w.exchanged)) for w in facts.words_of(effect)
    )


# -- cycles -------------------------------------------------------------------------------------------------------------------


def contour_of_other_blocks(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in a cycle whose labels enclose other blocks."""
    if not is_path(effect) and effect.field not in ("kind", "feed"):
        return False
    pair = facts.cycle_pair_of(effect, effect.first)
    return pair is not None and pair.moved_labels


def amounts_differ(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in a cycle that was given other amounts by the edits behind it."""
    pair = facts.cycle_pair_of(effect, effect.first) if is_path(effect) or effect.field == "kind" else None
    if pair is None or not any(change.name != "lead" for change in pair.amounts):
        return False
    return bool(set(pair.edits) & set(effect.causes)) or not pair.edits


def lead_in_cycle_differs(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in a thread cycle whose lead was changed."""
    pair = facts.cycle_pair_of(effect, effect.first) if is_path(effect) else None
    return (
        pair is not None and any(c.name == "lead" for c in pair.amounts) and bool(set(pair.edits) & set(effect.causes))
    )
