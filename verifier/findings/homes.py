"""Where effects go that follow from something else: the rules they may join, best first, and the rule that has them alone."""

from __future__ import annotations

from verifier.compare import CHANGED, Effect
from verifier.findings.claims_causes import is_path, item_of
from verifier.findings.claims_moves import known_places
from verifier.findings.facts import Facts
from verifier.findings.flow_edits import goes_another_way
from verifier.findings.uncomputed import after_uncomputed

FOLLOWERS: dict[str, tuple[str, ...]] = {
    "offset": ("tool",),
    "speed_mode": ("sense",),
    "speed": ("sense", "speed_mode"),
    "clamp": ("sense", "speed_mode"),
    "feed_mode": ("kind",),
    "feed": ("kind", "feed_mode"),
    "lead_change": ("kind", "feed_mode"),
    "start_angle": ("kind", "feed_mode"),
}
"""Fields that may differ only because another field of the same move does."""

_CALLS = ("repeat-count-changed", "call-changed")
_EXPLAIN_ALL = (
    "units-changed", *_CALLS, "contour-label-moved", "offset-write-changed", "thread-depth-changed", "thread-start-changed",
    "cycle-amount-changed",
)  # fmt: skip
_WORDS = ("sign-lost", "decimal-point-lost", "increment-word-exchanged")
_PLACED = ("position-changed", "curve-changed", "direction-changed")
_CLEAR = ("approach-clearance-changed", "retract-clearance-changed")
_SHIFTED = (
    "tool-changed",
    "tool-offset-changed",
    "work-offset-changed",
    "offset-write-changed",
    "datum-return-changed",
)
_OUT = ("datum-return-changed", "retract-order-changed", "tool-change-position-changed")
_THREADED = ("thread-depth-changed", "thread-start-changed")
_MOVES = ("moves-added", "moves-removed")
_ENDS = ("program-end-changed",)
_BREAKS = (
    "dwell-changed", "stop-added", "stop-removed", "message-changed", "auxiliary-changed", "coolant-changed",
    "spindle-state-changed", "feed-mode-changed", "feed-changed", "speed-mode-changed", "speed-changed",
)  # fmt: skip
_KIND = ("feed-became-rapid", "rapid-became-feed")


def homes(facts: Facts, effect: Effect) -> tuple[str, ...]:
    """The rules whose finding about the same edits an effect may join."""
    if facts.in_cycle(effect):
        # Moves of a cycle that the other side does not make at all are no change of the way to or from its cuts.
        gone = effect.field in ("added", "removed") and facts.cycle_pair_of(effect, effect.first) is None
        placed = () if gone else (*_PLACED, "thread-lead-changed", *_CLEAR)
        return (
            *_EXPLAIN_ALL, *_WORDS, *placed, *_SHIFTED, "compensation-changed",
            "order-changed", *_MOVES,
        )  # fmt: skip
    if is_path(effect) and after_uncomputed(facts, effect):
        return (*_WORDS, "cycle-amount-changed")
    compensated = ("compensation-changed", *_SHIFTED) if _under_compensation(effect) else ()
    if effect.field == "remark":
        return (*compensated, *_EXPLAIN_ALL, *_WORDS, *_KIND, *_PLACED, *_CLEAR, *_MOVES)
    if effect.field == "below-resolution":
        return ()
    if effect.field in ("x", "z") and not known_places(effect):
        return (*_SHIFTED, *_CALLS, "cycle-amount-changed", *compensated, *_OUT, *_PLACED, *_CLEAR, *_MOVES)
    if effect.field in ("added", "removed"):
        if only_divides(facts, effect):
            return (*compensated, *_BREAKS, *_ENDS)
        edits = [facts.comparison.edit(k) for k in effect.causes if k >= 0]
        compensated = (*compensated, *_OUT, "thread-depth-changed")
        if edits and all(edit.kind == CHANGED for edit in edits) and not goes_another_way(facts, effect):
            clear = () if _cuts(effect) else _CLEAR
            return (*compensated, *_ENDS, *_WORDS, *_PLACED, *clear, *_KIND)
        return (*compensated, *_ENDS)
    return (*compensated, *_WORDS, *_OUT, *_THREADED, *_PLACED, *_CLEAR)


def _cuts(effect: Effect) -> bool:
    return any(item is not None and item.cuts for d in effect.differences for item in (d.old, d.new))


def only_divides(facts: Facts, effect: Effect) -> bool:
    """Whether a feed move that came or went only divides one that the other side makes in one piece."""
    path = facts.paths(effect.position)[0 if effect.field == "added" else 1]
    items = [d.new or d.old for d in effect.differences]
    return all(item is not None and item.kind == "feed" and path.fed_along(item) for item in items)


def _under_compensation(effect: Effect) -> bool:
    first = effect.first
    return any(item is not None and item.state.compensation in ("G41", "G42") for item in (first.old, first.new))


def default_home(facts: Facts, effect: Effect) -> str | None:
    """The rule that speaks of an effect which follows from nothing else; None leaves it to the catch-all."""
    if effect.field in ("x", "z"):
        if facts.in_cycle(effect) or not facts.free(effect):
            return "position-changed"
        found = facts.clearance_of(effect)
        return "approach-clearance-changed" if found is None or found.approach else "retract-clearance-changed"
    item = item_of(effect)
    if item is not None and item.kind == "event:tool":
        return _tool_event(effect)
    if effect.field == "offset":
        return "tool-offset-changed"
    alone = {"below-resolution": "below-resolution", "arc": "curve-changed", "remark": "remark-changed"}
    if effect.field in alone:
        return alone[effect.field]
    moves = {"added": "moves-added", "removed": "moves-removed", "order": "order-changed"}
    return moves.get(effect.field) if is_path(effect) else None


def _tool_event(effect: Effect) -> str:
    """A tool call that came, went or changed: another tool, or only another offset of it."""
    texts = [text.split() for text in (effect.before, effect.after) if isinstance(text, str)]
    if len(texts) == 2:
        return "tool-offset-changed" if texts[0][:1] == texts[1][:1] else "tool-changed"
    return "tool-offset-changed" if texts and texts[0][1:3] == ["offset", "0"] else "tool-changed"
