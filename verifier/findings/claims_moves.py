"""Claims about single moves that have a job: on the way home, out of a cut, to a tool change, to the start of a thread."""

from __future__ import annotations

from math import hypot

from verifier.compare import Difference, Effect, Item
from verifier.findings.claims_causes import COMES_AND_GOES, is_path, item_of
from verifier.findings.facts import CyclePair, Facts
from verifier.findings.uncomputed_blocks import arc_without_centre, arc_words_not_computed
from verifier.findings.ways_out import calls, ways_out

HOME = ("G28", "G30", "G53")
"""Codes that lead to the reference point, or to a place in machine coordinates."""
WRITES = ("G10",)
"""Codes that write offsets."""
_ROUNDING = 10_000
"""1e-4 mm in ticks: radii of arcs come from rounded words."""
_AS_BEFORE = ("lead", "end Z")
"""Amounts of a thread cycle that other rules speak of when nothing else changed."""


def known_places(effect: Effect) -> bool:
    """Whether both ends of a changed place are counted from the same point."""
    before, after = effect.before, effect.after
    return isinstance(before, tuple) and isinstance(after, tuple) and before[0] == after[0]


def _sides(effect: Effect) -> tuple[tuple[int, Item], ...]:
    pairs = ((0, effect.first.old), (1, effect.first.new))
    return tuple((side, item) for side, item in pairs if item is not None)


# -- the way home, and writes of offsets --------------------------------------------------------------------------------------


def way_home(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies on the way home, and an edit behind it touched such a block."""
    if not is_path(effect) or facts.in_cycle(effect):
        return False
    if not any(facts.edit_has(k, HOME) for k in effect.causes):
        return False
    found = (
        any(facts.block_has(side, block, HOME) for block in item.blocks)
        for d in effect.differences
        for side, item in enumerate((d.old, d.new))
        if item is not None
    )
    # A whole sequence made at another time takes its way home with it.
    return all(found) if effect.field == "order" else any(found)


def offset_written(facts: Facts, effect: Effect) -> bool:
    """Whether an effect is a write of offsets that came, went or changed."""
    item = item_of(effect)
    if effect.field not in ("event", *COMES_AND_GOES) or item is None or item.is_move:
        return False
    return any(facts.block_has(side, found.block, WRITES) for side, found in _sides(effect))


def run_again(facts: Facts, effect: Effect) -> bool:
    """Whether an effect lies in passes that only one side makes, because only it starts again by itself.

    A program that never ends leaves no variables behind at its end: it still sets them.
    """
    paths = facts.paths(effect.position)
    if effect.field not in ("added", "removed") or paths[0].repeats == paths[1].repeats:
        return False
    if all(
        item is not None and item.kind == "event:variable" for d in effect.differences for item in (d.old or d.new,)
    ):
        return not paths[1 if effect.field == "added" else 0].repeats
    side = 1 if effect.field == "added" else 0
    items = [(d.old, d.new)[side] for d in effect.differences]
    return all(item is not None and paths[side].in_later_pass(item) for item in items)


def curve_of_its_own(facts: Facts, effect: Effect) -> bool:
    """Whether an arc is another one for itself, and not only because its ends moved: its radius differs by more than rounding."""
    if effect.field != "arc" or facts.in_cycle(effect) or arc_without_centre(facts, effect):
        return False
    return any(abs(before - after) > _ROUNDING for before, after in map(_radii, effect.differences))


def _radii(difference: Difference) -> tuple[float, float]:
    items = (difference.old, difference.new)
    found = [hypot(i.start.x - i.centre[0], i.start.z - i.centre[1]) for i in items if i is not None and i.centre]
    return (found[0], found[-1]) if found else (0.0, 0.0)


def remark_of_its_own(facts: Facts, effect: Effect) -> bool:
    """Whether words that are not executed came, went or changed by an edit of them, and not because another word made them so."""
    if effect.field != "remark" or facts.bent(effect) or arc_words_not_computed(facts, effect):
        return False
    letters = {word[:1] for text in (effect.before, effect.after) for word in str(text or "").split()}
    words = facts.words_of(effect)
    return not words or any(w.letters & letters or w.put or w.taken or not w.told for w in words)


# -- out of a cut, and to the next tool ---------------------------------------------------------------------------------------


def retract_reordered(facts: Facts, effect: Effect) -> bool:
    """Whether X and Z leave a cut in another order, or together, because of the edits behind an effect."""
    if effect.field not in ("x", "z", *COMES_AND_GOES) or facts.in_cycle(effect):
        return False
    return ways_out(facts, effect) is not None


def tool_change_moved(facts: Facts, effect: Effect) -> bool:
    """Whether the next tool is called from another place because of an effect."""
    if effect.field not in ("x", "z", "added", "removed") or facts.in_cycle(effect):
        return False
    found = calls(facts, effect)
    if found is None:
        return False
    places = [path.stands(call) for path, call in zip(facts.paths(effect.position), found, strict=True)]
    return places[0] != places[1]


# -- threads ------------------------------------------------------------------------------------------------------------------


def _leads_to_thread(facts: Facts, effect: Effect) -> tuple[bool, bool]:
    """Whether a rapid leads to threading on every side it is on, and whether cycles make that."""
    paths, threads, cycles = facts.paths(effect.position), [], []
    for side, item in _sides(effect):
        following = paths[side].led_to(item, effect.field) if item.kind == "rapid" else None
        call = paths[side].cycle_of(following) if following is not None else None
        threads.append(
            following is not None and (following.kind == "thread" or (call is not None and "lead" in call.amounts))
        )
        cycles.append(call is not None)
    return bool(threads) and all(threads), any(cycles)


def thread_start_moved(facts: Facts, effect: Effect) -> bool:
    """Whether a thread, or one pass of it, starts from another place: along Z, or along X in front of a cycle."""
    if effect.field not in ("x", "z") or not known_places(effect) or facts.in_cycle(effect):
        return False
    threads, cycle = _leads_to_thread(facts, effect)
    return threads and (effect.field == "z" or cycle)


def thread_deeper(facts: Facts, effect: Effect) -> bool:
    """Whether a thread is cut to another depth or in other passes."""
    if _thread_amounts(facts, effect):
        return True
    kinds = {item.kind for _, item in _sides(effect)}
    if effect.field == "x" and known_places(effect):
        if kinds == {"thread"}:
            paths = facts.paths(effect.position)
            return all(paths[side].starts_thread(item) for side, item in _sides(effect))
        threads, cycle = _leads_to_thread(facts, effect)
        return threads and not cycle and not facts.in_cycle(effect)
    return effect.field in ("added", "removed") and kinds == {"thread"} and _one_of_several(facts, effect)


def _thread_amounts(facts: Facts, effect: Effect) -> bool:
    pair = facts.cycle_pair_of(effect, effect.first) if is_path(effect) or effect.field == "kind" else None
    if pair is None or not thread_pair(pair):
        return False
    if not any(change.name not in _AS_BEFORE for change in pair.amounts):
        return False
    return bool(set(pair.edits) & set(effect.causes)) or not pair.edits


def thread_pair(pair: CyclePair) -> bool:
    """Whether a cycle cuts a thread on both sides."""
    return "lead" in pair.old.amounts and "lead" in pair.new.amounts


def _one_of_several(facts: Facts, effect: Effect) -> bool:
    """Whether a pass that came or went is one of a thread that both sides cut: a neighbour has its lead and ends where it does."""
    side, item = _sides(effect)[0]
    own = {id(found) for d in effect.differences for found in (d.old, d.new)}
    near = [
        other for other in facts.paths(effect.position)[side].items if other.kind == "thread" and id(other) not in own
    ]
    return any(
        other.end.z == item.end.z and other.end.bz == item.end.bz and other.state.feed == item.state.feed
        and other.state.tool == item.state.tool
        for other in near
    )  # fmt: skip
