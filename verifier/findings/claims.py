"""The claims, in order: which rule an effect belongs to by what it is. The first claim that takes an effect has it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from verifier.compare import Effect, Item
from verifier.findings.facts import Facts, sequence_at
from verifier.findings.words import AXIS

Test = Callable[[Facts, Effect], bool]


@dataclass(frozen=True, slots=True)
class Claim:
    """A rule's id and the test by which it takes an effect."""

    rule: str
    test: Test


_PLACES = ("x", "z", "arc", "below-resolution")
_COMES_AND_GOES = ("added", "removed", "order")
_CALLS = ("M97", "M98", "G65", "G66")


def item_of(effect: Effect) -> Item | None:
    """The new item of an effect's first difference, else the old one (None for the state left at the end)."""
    return effect.first.new or effect.first.old


def _field(*names: str) -> Test:
    return lambda facts, effect: effect.field in names


def _event(*kinds: str, fields: tuple[str, ...] = ("event", *_COMES_AND_GOES)) -> Test:
    wanted = tuple(f"event:{kind}" for kind in kinds)

    def test(facts: Facts, effect: Effect) -> bool:
        item = item_of(effect)
        return effect.field in fields and item is not None and item.kind in wanted

    return test


def is_path(effect: Effect) -> bool:
    """Whether an effect is about where the tool goes."""
    item = item_of(effect)
    return effect.field in _PLACES or (effect.field in _COMES_AND_GOES and item is not None and item.is_move)


def _states(effect: Effect) -> tuple[Any, Any] | None:
    first = effect.first
    return (first.old.state, first.new.state) if first.old is not None and first.new is not None else None


def _differs(name: str) -> Callable[[Effect], bool]:
    def test(effect: Effect) -> bool:
        pair = _states(effect)
        return pair is not None and bool(getattr(pair[0], name) != getattr(pair[1], name))

    return test


_mode_of_speed_differs = _differs("speed_mode")
_mode_of_feed_differs = _differs("feed_mode")


# -- whole sequences, calls, units ------------------------------------------------------------------------------------------


def _sequence_gone(facts: Facts, effect: Effect) -> bool:
    found = facts.removed_sequences
    return bool(found) and all(
        d.old is not None and sequence_at(found, d.old.block) is not None for d in effect.differences
    )


def _sequence_came(facts: Facts, effect: Effect) -> bool:
    found = facts.added_sequences
    return bool(found) and all(
        d.new is not None and sequence_at(found, d.new.block) is not None for d in effect.differences
    )


def _units(facts: Facts, effect: Effect) -> bool:
    scaled = is_path(effect) or effect.field in ("feed", "speed", "kind")
    return scaled and effect.causes in facts.scaling


def _call(facts: Facts, effect: Effect) -> bool:
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


def _skips(facts: Facts, effect: Effect) -> bool:
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


def _sign(facts: Facts, effect: Effect) -> bool:
    return any(w.signs and _letters(effect, tuple(c.letter for c in w.signs)) for w in facts.words_of(effect))


def _point(facts: Facts, effect: Effect) -> bool:
    return any(w.points and _letters(effect, tuple(c.letter for c in w.points)) for w in facts.words_of(effect))


def _exchange(facts: Facts, effect: Effect) -> bool:
    return any(
        w.exchanged and _letters(effect, tuple(old.letter for old, _ in w.exchanged)) for w in facts.words_of(effect)
    )


# -- cycles -------------------------------------------------------------------------------------------------------------------


def _labels(facts: Facts, effect: Effect) -> bool:
    if not is_path(effect) and effect.field not in ("kind", "feed"):
        return False
    pair = facts.cycle_pair_of(effect, effect.first)
    return pair is not None and pair.moved_labels


def _amounts(facts: Facts, effect: Effect) -> bool:
    pair = facts.cycle_pair_of(effect, effect.first) if is_path(effect) or effect.field == "kind" else None
    if pair is None or not any(change.name != "lead" for change in pair.amounts):
        return False
    return bool(set(pair.edits) & set(effect.causes)) or not pair.edits


def _lead_in_cycle(facts: Facts, effect: Effect) -> bool:
    pair = facts.cycle_pair_of(effect, effect.first) if is_path(effect) else None
    return (
        pair is not None and any(c.name == "lead" for c in pair.amounts) and bool(set(pair.edits) & set(effect.causes))
    )


# -- states -------------------------------------------------------------------------------------------------------------------


def _sense_reversed(facts: Facts, effect: Effect) -> bool:
    return effect.field == "sense" and {effect.before, effect.after} == {"forward", "reverse"}


def _speed_by_mode(facts: Facts, effect: Effect) -> bool:
    return effect.field in ("speed", "clamp") and _mode_of_speed_differs(effect)


def _while_stopped(facts: Facts, effect: Effect) -> bool:
    """A speed that says nothing on one side because the spindle stands still there follows from the spindle's state."""
    pair = _states(effect)
    if effect.field not in ("speed_mode", "speed", "clamp") or pair is None:
        return False
    return bool((pair[0].sense == "stopped") != (pair[1].sense == "stopped"))


def _nobody(test: Test) -> Claim:
    """Takes effects out of the order: they follow from another one (step 2)."""
    return Claim("", test)


def _clamp(before: bool, after: bool) -> Test:
    return lambda facts, effect: (
        effect.field == "clamp" and (effect.before is not None) is before and (effect.after is not None) is after
    )


def _clamp_lowered(facts: Facts, effect: Effect) -> bool:
    if effect.field != "clamp":
        return False
    return isinstance(effect.after, Fraction) and isinstance(effect.before, Fraction) and effect.after < effect.before


def _feed_by_mode(facts: Facts, effect: Effect) -> bool:
    return effect.field == "feed" and _mode_of_feed_differs(effect)


def _thread_kind(effect: Effect) -> bool:
    first = effect.first
    kinds = {item.kind for item in (first.old, first.new) if item is not None}
    return "thread" in kinds and len(kinds) > 1


def _thread(facts: Facts, effect: Effect) -> bool:
    item = item_of(effect)
    return effect.field == "feed" and item is not None and item.kind == "thread"


# -- path ---------------------------------------------------------------------------------------------------------------------

_FED = ("feed", "arc_cw", "arc_ccw", "thread")


def _fed_to_rapid(facts: Facts, effect: Effect) -> bool:
    return effect.field == "kind" and effect.before in _FED and effect.after == "rapid"


def _rapid_to_fed(facts: Facts, effect: Effect) -> bool:
    return effect.field == "kind" and effect.before == "rapid" and effect.after in _FED


def _rapid_along(field: str, fed_side: int) -> Test:
    """Rapids put in along a line that the other side fed (or taken out where it is fed now)."""

    def test(facts: Facts, effect: Effect) -> bool:
        item = item_of(effect)
        if effect.field != field or item is None or item.kind != "rapid" or facts.in_cycle(effect):
            return False
        fed = [other for other in facts.paths(effect.position)[fed_side].items if other.kind == "feed"]
        return any(lies_on(d.new or d.old, line) for d in effect.differences for line in fed)

    return test


def lies_on(rapid: Item | None, fed: Item) -> bool:
    """Whether a stretch lies on another one: both ends on its line and between its ends (exact)."""
    if rapid is None or any((rapid.start.bx, rapid.start.bz, rapid.end.bx, rapid.end.bz, fed.start.bx, fed.start.bz)):
        return False
    dx, dz = fed.end.x - fed.start.x, fed.end.z - fed.start.z
    length = dx * dx + dz * dz
    for x, z in ((rapid.start.x, rapid.start.z), (rapid.end.x, rapid.end.z)):
        ex, ez = x - fed.start.x, z - fed.start.z
        if dx * ez != dz * ex or not 0 <= ex * dx + ez * dz <= length:
            return False
    return (rapid.end.x - rapid.start.x) * dx + (rapid.end.z - rapid.start.z) * dz > 0


def known_places(effect: Effect) -> bool:
    """Whether both ends of a changed place are counted from the same point."""
    before, after = effect.before, effect.after
    return isinstance(before, tuple) and isinstance(after, tuple) and before[0] == after[0]


def _size(facts: Facts, effect: Effect) -> bool:
    return effect.field in ("x", "z") and known_places(effect) and not facts.in_cycle(effect) and not facts.free(effect)


def _clearance(approach: bool) -> Test:
    def test(facts: Facts, effect: Effect) -> bool:
        if effect.field not in ("x", "z") or not known_places(effect) or facts.in_cycle(effect):
            return False
        found = facts.clearance_of(effect) if facts.free(effect) else None
        return found is not None and found.approach is approach and found.weight == "major"

    return test


CLAIMS: tuple[Claim, ...] = (
    Claim("remark-changed", _field("remark")),
    Claim("sequence-removed", _sequence_gone),
    Claim("sequence-added", _sequence_came),
    Claim("skip-changed", _skips),
    Claim("units-changed", _units),
    Claim("call-changed", _call),
    Claim("contour-label-moved", _labels),
    Claim("sign-lost", _sign),
    Claim("decimal-point-lost", _point),
    Claim("increment-word-exchanged", _exchange),
    Claim("cycle-amount-changed", _amounts),
    Claim("thread-lead-changed", _lead_in_cycle),
    Claim("tool-changed", _field("tool")),
    Claim("work-offset-changed", _field("work_offset", "frame")),
    Claim("spindle-sense-changed", _sense_reversed),
    Claim("spindle-state-changed", _field("sense")),
    _nobody(_while_stopped),
    Claim("speed-mode-changed", _field("speed_mode")),
    _nobody(_speed_by_mode),
    Claim("speed-clamp-added", _clamp(False, True)),
    Claim("speed-clamp-removed", _clamp(True, False)),
    Claim("speed-clamp-lowered", _clamp_lowered),
    Claim("speed-clamp-raised", _field("clamp")),
    Claim("speed-changed", _field("speed")),
    Claim("direction-changed", lambda facts, effect: effect.field == "kind" and "rapid" not in (effect.before, effect.after)),
    _nobody(lambda facts, effect: effect.field in ("feed", "feed_mode") and _thread_kind(effect)),
    Claim("feed-mode-changed", _field("feed_mode")),
    _nobody(_feed_by_mode),
    Claim("thread-lead-changed", _thread),
    Claim("feed-changed", _field("feed")),
    Claim("coolant-changed", _field("coolant")),
    Claim("compensation-changed", _field("compensation")),
    Claim("plane-or-path-mode-changed", _field("plane", "path_mode")),
    Claim("auxiliary-changed", _field("auxiliaries")),
    Claim("auxiliary-changed", _event("auxiliary", "machine-code")),
    Claim("order-changed", _event("stop", "optional-stop", "dwell", "message", fields=("order",))),
    Claim("stop-removed", _event("stop", "optional-stop", fields=("removed",))),
    Claim("stop-added", _event("stop", "optional-stop", fields=("added",))),
    Claim("dwell-changed", _event("dwell")),
    Claim("message-changed", _event("message")),
    Claim("program-end-changed", _event("program-end", "text-end", "repeat")),
    Claim("feed-became-rapid", _fed_to_rapid),
    Claim("rapid-became-feed", _rapid_to_fed),
    Claim("feed-became-rapid", _rapid_along("added", 0)),
    Claim("rapid-became-feed", _rapid_along("removed", 1)),
    Claim("order-changed", lambda facts, effect: effect.field == "order" and is_path(effect) and not facts.in_cycle(effect)),
    Claim("curve-changed", lambda facts, effect: effect.field == "arc" and not facts.in_cycle(effect)),
    Claim("approach-clearance-changed", _clearance(True)),
    Claim("retract-clearance-changed", _clearance(False)),
    Claim("position-changed", _size),
)  # fmt: skip
"""The order in which effects are asked for: causes that explain most first, then states, then events, then the path."""
