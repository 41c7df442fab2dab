"""The claims, in order: which rule an effect belongs to by what it is. The first claim that takes an effect has it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from verifier.compare import Effect
from verifier.findings.claims_calls import count_differs
from verifier.findings.claims_causes import (
    COMES_AND_GOES,
    amounts_differ,
    call_differs,
    contour_of_other_blocks,
    is_path,
    item_of,
    lead_in_cycle_differs,
    letters_exchanged,
    point_changed,
    sequence_came,
    sequence_gone,
    sign_changed,
    skips_only,
    units_scaled,
)
from verifier.findings.claims_moves import (
    curve_of_its_own,
    known_places,
    offset_written,
    remark_of_its_own,
    retract_reordered,
    run_again,
    thread_deeper,
    thread_start_moved,
    tool_change_moved,
    way_home,
)
from verifier.findings.facts import Facts
from verifier.findings.uncomputed import uncomputed_amounts, uncomputed_points, uncomputed_signs
from verifier.findings.uncomputed_blocks import arc_words_not_computed, dwell_not_computed

Test = Callable[[Facts, Effect], bool]


@dataclass(frozen=True, slots=True)
class Claim:
    """A rule's id and the test by which it takes an effect."""

    rule: str
    test: Test


def _field(*names: str) -> Test:
    return lambda facts, effect: effect.field in names


def _event(*kinds: str, fields: tuple[str, ...] = ("event", *COMES_AND_GOES)) -> Test:
    wanted = tuple(f"event:{kind}" for kind in kinds)

    def test(facts: Facts, effect: Effect) -> bool:
        item = item_of(effect)
        return effect.field in fields and item is not None and item.kind in wanted

    return test


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


# -- states -------------------------------------------------------------------------------------------------------------------


def _during_others(facts: Facts, effect: Effect) -> bool:
    """Another state during stops and other events only, because what is before them is made at another time."""
    if effect.causes not in facts.reordered or is_path(effect) or effect.field in ("event", *COMES_AND_GOES):
        return False
    return all(item is None or not item.is_move for d in effect.differences for item in (d.old, d.new))


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


_THREADED = ("feed", "feed_mode", "lead_change", "start_angle")


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
        path = facts.paths(effect.position)[fed_side]
        return any(path.fed_along(d.new or d.old) for d in effect.differences)

    return test


def _size(facts: Facts, effect: Effect) -> bool:
    return effect.field in ("x", "z") and known_places(effect) and not facts.in_cycle(effect) and not facts.free(effect)


def _clearance(approach: bool) -> Test:
    def test(facts: Facts, effect: Effect) -> bool:
        if effect.field not in ("x", "z") or not known_places(effect) or facts.in_cycle(effect):
            return False
        found = facts.clearance_of(effect) if facts.free(effect) else None
        return found is not None and found.matters and found.approach is approach

    return test


def _by_compensation(facts: Facts, effect: Effect) -> bool:
    """A place, or whether the tool's path is known, differs with the compensation or with the tool whose nose it is made for."""
    pair = _states(effect)
    if pair is None or effect.field not in ("x", "z", "arc", "remark"):
        return False
    on = [state.compensation in ("G41", "G42") for state in pair]
    return pair[0].compensation != pair[1].compensation or (all(on) and pair[0].tool != pair[1].tool)


CLAIMS: tuple[Claim, ...] = (
    Claim("program-end-changed", run_again),
    _nobody(lambda facts, effect: effect.field == "remark" and _by_compensation(facts, effect) and not facts.bent(effect)),
    Claim("remark-changed", remark_of_its_own),
    Claim("sequence-removed", sequence_gone),
    Claim("sequence-added", sequence_came),
    Claim("skip-changed", skips_only),
    Claim("units-changed", units_scaled),
    Claim("repeat-count-changed", count_differs),
    Claim("call-changed", call_differs),
    Claim("offset-write-changed", offset_written),
    Claim("contour-label-moved", contour_of_other_blocks),
    Claim("sign-lost", sign_changed),
    Claim("decimal-point-lost", point_changed),
    Claim("curve-changed", arc_words_not_computed),
    Claim("datum-return-changed", way_home),
    Claim("increment-word-exchanged", letters_exchanged),
    Claim("thread-depth-changed", thread_deeper),
    Claim("cycle-amount-changed", amounts_differ),
    Claim("sign-lost", uncomputed_signs),
    Claim("decimal-point-lost", uncomputed_points),
    Claim("cycle-amount-changed", uncomputed_amounts),
    Claim("thread-lead-changed", lead_in_cycle_differs),
    Claim("order-changed", _event("tool", fields=("order",))),
    Claim("order-changed", _during_others),
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
    _nobody(lambda facts, effect: effect.field in _THREADED and _thread_kind(effect)),
    Claim("feed-mode-changed", _field("feed_mode")),
    _nobody(_feed_by_mode),
    Claim("thread-lead-changed", _thread),
    Claim("thread-lead-changed", _field("lead_change")),
    Claim("thread-angle-changed", _field("start_angle")),
    Claim("feed-changed", _field("feed")),
    Claim("coolant-changed", _field("coolant")),
    Claim("compensation-changed", _field("compensation")),
    Claim("plane-or-path-mode-changed", _field("plane", "path_mode")),
    Claim("auxiliary-changed", _field("auxiliaries")),
    Claim("auxiliary-changed", _event("auxiliary", "machine-code", "wait")),
    Claim("order-changed", _event("stop", "optional-stop", "alarm", "dwell", "message", fields=("order",))),
    Claim("stop-removed", _event("stop", "optional-stop", "alarm", fields=("removed",))),
    Claim("stop-added", _event("stop", "optional-stop", "alarm", fields=("added",))),
    Claim("variable-changed", _event("variable", "system-read")),
    Claim("dwell-changed", _event("dwell")),
    Claim("dwell-changed", dwell_not_computed),
    Claim("message-changed", _event("message")),
    Claim("message-changed", _event("stop", "alarm", fields=("event",))),
    Claim("program-end-changed", _event("program-end", "text-end", "repeat")),
    Claim("feed-became-rapid", _fed_to_rapid),
    Claim("rapid-became-feed", _rapid_to_fed),
    Claim("feed-became-rapid", _rapid_along("added", 0)),
    Claim("rapid-became-feed", _rapid_along("removed", 1)),
    Claim("retract-order-changed", retract_reordered),
    Claim("tool-change-position-changed", tool_change_moved),
    Claim("thread-start-changed", thread_start_moved),
    Claim("order-changed", lambda facts, effect: effect.field == "order" and is_path(effect) and not facts.in_cycle(effect)),
    _nobody(_by_compensation),
    Claim("curve-changed", curve_of_its_own),
    Claim("approach-clearance-changed", _clearance(True)),
    Claim("retract-clearance-changed", _clearance(False)),
    Claim("position-changed", _size),
)  # fmt: skip
"""The order in which effects are asked for: causes that explain most first, then states, then events, then the path."""
