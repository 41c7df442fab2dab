"""Places, amounts and counts of a change as pieces of a sentence, and findings drawn from shares."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from verifier.compare import Effect, Item, Place
from verifier.control import TICKS_PER_MM, Amount, Sequence
from verifier.findings import shop
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.uncomputed import uncomputed_cycle, unknown_outcome
from verifier.findings.uncomputed_blocks import arc_without_centre, why_no_arc
from verifier.findings.unknowns import unknown_parts, unknown_place
from verifier.findings.view import ChangeView, Drawn, travelled

UNKNOWN = "unknown"


def each(share: Share, draw: Callable[[Effect], Drawn]) -> Iterator[Drawn]:
    """One finding for each named effect of a share; what goes along goes with the first."""
    for k, effect in enumerate(share.leads):
        yield replace(draw(effect), covers=(effect, *(share.along if not k else ())))


def each_sentence(share: Share, draw: Callable[[Effect], Drawn]) -> Iterator[Drawn]:
    """One finding for all named effects of a share that the same sentence tells."""
    found: dict[str, Drawn] = {}
    for drawn in each(share, draw):
        same = found.get(drawn.title)
        found[drawn.title] = replace(same, covers=(*same.covers, *drawn.covers)) if same is not None else drawn
    yield from found.values()


def coordinate(axis: str, value: object, units: str) -> str:
    """An end point's coordinate ("x" or "z", as base and ticks) with its unit, or what it counts from; X as a diameter."""
    if not isinstance(value, tuple):
        return UNKNOWN
    if value[0]:
        return unknown_place(value[0], value[1], axis, units)
    return shop.length(value[1], units, diameter=axis == "x")


def end_of(item: Item, units: str) -> str:
    """Where a move ends: "X 58 mm Z -30 mm"."""
    return _point(item.end.bx, item.end.x, item.end.bz, item.end.z, units)


def start_of(item: Item, units: str) -> str:
    """Where a move starts."""
    return _point(item.start.bx, item.start.x, item.start.bz, item.start.z, units)


def way_of(moves: Iterable[Item], units: str) -> str:
    """From where to where some moves lead; where they don't follow each other, the stretches, or how many there are and the first."""
    stretches: list[list[Item]] = []
    for move in sorted(moves, key=lambda item: item.first):
        if stretches and stretches[-1][-1].end == move.start:
            stretches[-1].append(move)
        else:
            stretches.append([move])
    told = [f"from {start_of(found[0], units)} to {end_of(found[-1], units)}" for found in stretches]
    if len(told) < 3:
        return " and ".join(told)
    return f"in {len(told)} places, the first {told[0]}"


def stands_words(place: Place | None, units: str) -> str:
    """Where the tool stands, or that it has not moved yet."""
    return "where the program began" if place is None else _point(place.bx, place.x, place.bz, place.z, units)


def _point(bx: str, x: int, bz: str, z: int, units: str) -> str:
    shown_x, shown_z = coordinate("x", (bx, x), units), coordinate("z", (bz, z), units)
    if bx and bz:
        (from_x, since_x), (from_z, since_z) = unknown_parts(bx, x, "x", units), unknown_parts(bz, z, "z", units)
        places = f"X and Z {from_x}" if from_x == from_z else f"X {from_x}, Z {from_z}"
        if since_x == since_z:
            return f"{places} {since_x}".rstrip()
    return f"X {shown_x} Z {shown_z}" if not bx and not bz else f"X {shown_x}, Z {shown_z}"


def programmed(axis: str, ticks: int) -> Fraction:
    """A coordinate in ticks as a programmed value in mm: a diameter along X."""
    return Fraction(ticks * (2 if axis == "x" else 1), TICKS_PER_MM)


def amount(value: Amount | None, units: str) -> str:
    """An amount of a cycle with its unit."""
    if value is None:
        return "not given"
    if value.unit == "mm":
        return shop.millimetres(value.value, units)
    return f"{shop.decimal(value.value, 4)} {value.unit}".rstrip()


def millimetres(value: float | None, units: str) -> str:
    """A computed distance in mm, in the program's unit system, to 0.01 mm or 0.001 in."""
    if value is None:
        return "unknown"
    if units == "inch":
        return f"{shop.decimal(Fraction(round(value / 25.4 * 1000), 1000), 3)} in"
    return f"{shop.decimal(Fraction(round(value * 100), 100), 2)} mm"


def fine(value: float, units: str) -> str:
    """A small computed distance in mm with two digits that count more than `millimetres` shows where that would hide it."""
    if units == "inch":
        places = 3 if value >= 2.54 else 5
        return f"{shop.decimal(Fraction(round(value / 25.4 * 10**places), 10**places), places)} in"
    places = 2 if value >= 0.1 else 4
    return f"{shop.decimal(Fraction(round(value * 10**places), 10**places), places)} mm"


def amounts_of(change: ChangeView, share: Share) -> str:
    """The cycle amounts that differ in the cycles of a share: ": depth of cut is 0.002 mm instead of 2 mm", or nothing."""
    pairs = {p.index: p for e in share.leads if (p := change.facts.cycle_pair_of(e, e.first)) is not None}
    told = dict.fromkeys(
        f"{a.name} is {amount(a.after, change.new.units)} instead of {amount(a.before, change.old.units)}"
        for pair in pairs.values()
        for a in pair.amounts
    )
    return f": {joined(told)}" if told else ""


def not_computed(change: ChangeView, share: Share) -> str:
    """That nobody knows here what the control makes of a share's cycles or arcs, and why, where they could not be computed; else nothing."""
    for effect in share.leads:
        side = arc_without_centre(change.facts, effect)
        if side:
            return f"; {unknown_outcome(side, why_no_arc(change.facts, effect))}"
    found = [u for u in (uncomputed_cycle(change.facts, effect) for effect in share.leads) if u is not None]
    written = max((u.as_written for u in found), default=0)
    contour = f"; here its contour is run as written: {counted(written, 'move')}" if written else ""
    return f"; {joined(dict.fromkeys(u.not_known for u in found))}{contour}" if found else ""


def joined(parts: Iterable[str], limit: int = 4) -> str:
    """Parts in a row; from the limit on only their number."""
    found = list(parts)
    if len(found) > limit:
        return ", ".join(found[: limit - 1]) + f" and {len(found) - limit + 1} more"
    return ", ".join(found)


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def items_of_effects(effects: Iterable[Effect]) -> Iterator[Item]:
    """The items in which effects show, new ones where there are any."""
    for effect in effects:
        for difference in effect.differences:
            item = difference.new or difference.old
            if item is not None:
                yield item


def cut_length(items: Iterable[Item], units: str) -> str:
    """How much is cut along these items ("412 mm of cut"), or "nothing of it at feed"."""
    found = [item for item in items if item.cuts]
    if not found:
        return "nothing of it at feed"
    total = sum(travelled(item) for item in found)
    if units == "mm":
        return f"{total:.0f} mm of cut" if total >= 10 else f"{fine(total, units)} of cut"
    return f"{total / 25.4:.1f} in of cut" if total >= 25.4 else f"{fine(total, units)} of cut"


def heaviest(weights: Iterable[Weight]) -> Weight:
    """The heaviest of some weights; minor for none."""
    return min(weights, key=lambda weight: weight.rank, default=Weight.MINOR)


def labels(change: ChangeView, effects: Iterable[Effect], limit: int = 3) -> str:
    """The sequences in which effects show: "N1, N3"."""
    found: dict[str, None] = {}
    for effect in effects:
        for difference in effect.differences:
            item, view = (difference.new, change.new) if difference.new is not None else (difference.old, change.old)
            sequence = view.sequence_of(item.block) if item is not None else None
            if sequence is not None:
                found[sequence.label] = None
    return joined(found, limit)


def described(sequence: Sequence) -> str:
    """A sequence by its label, tool and note: "N3, tool 3 (SEAL GROOVE)"."""
    tool = f", tool {sequence.tool}" if sequence.tool is not None else ""
    note = f" ({sequence.note})" if sequence.note else ""
    return f"{sequence.label}{tool}{note}"
