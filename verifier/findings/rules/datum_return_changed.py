"""The rule `datum-return-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Item
from verifier.findings.claims_moves import HOME
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import end_of, items_of_effects, joined, stands_words
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.findings.ways_out import ways_out
from verifier.syntax import block_text

_CUT = "G01 X58. F0.2\nZ-30.\nX62.\n{}M01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."
_HOME = _CUT.format("G28 U0.\nG28 W0.\n")
_MACHINE = _CUT.format("G53 G00 X-20.\nG53 Z-50.\n")


class DatumReturnChanged(ChangeRule):
    """The way to the reference point, or to a place in machine coordinates, is changed (G28, G30, G53).

    The tool goes there at rapid, by way of the point that the block names, and the next tool is often called there. Another point, another
    order of the axes or a return that is missing leads it through the part or the tailstock, or turns the turret beside them.
    """

    id = "datum-return-changed"
    revision = 2
    weight = Weight.MAJOR
    people = True
    mirror = "datum-return-changed"
    title = "The return to the reference point is changed."
    watch = "Lowest rapid override and single block on the way out; see where the turret stands before it turns."
    examples = (
        Example("return taken out before a tool change", turning(_CUT.format("")), True, old=turning(_HOME), line=10),
        Example("both axes at once", turning(_HOME.replace("G28 U0.\nG28 W0.", "G28 U0. W0.")), True, old=turning(_HOME)),
        Example("by way of another point", turning(_HOME.replace("G28 U0.", "G28 U10.")), True, old=turning(_HOME), line=10),
        Example("place U0 became place X0", turning(_HOME.replace("G28 U0.", "G28 X0.")), True, old=turning(_HOME), line=10),
        Example("machine position", turning(_MACHINE.replace("X-20.", "X-2.")), True, old=turning(_MACHINE), line=10),
        Example("the cut before it", turning(_HOME.replace("Z-30.", "Z-31.")), False, old=turning(_HOME)),
        Example("the same in other words", turning(_HOME.replace("G28 U0.", "G0 G28 U0")), False, old=turning(_HOME)),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the blocks before and after, the order of the axes, and what is called there."""
        for share in change.shares(self.id):
            yield self._drawn(change, share)

    def _drawn(self, change: ChangeView, share: Share) -> Drawn:
        before, after = _texts(change, share, 0), _texts(change, share, 1)
        left = _left_words(change, share) if before and not after else ""
        if before and after and before != after:
            title = f"Way home changed: {before} is now {after}"
        elif before and after:
            title = f"Way home changed: {after} at another place of the program"
        else:
            title = f"Return home {'removed' if before else 'added'}: {before or after}"
            title += f"; {left} is a place of the part now" if left else ""
        point, centre = _point(change, share)
        called, astray = _called(change, share)
        weight = Weight.CRITICAL if centre or astray or left else Weight.MAJOR
        return Drawn(
            title + _order(change, share) + point + called,
            share.covers,
            edits=tuple(dict.fromkeys((*share.edits, *_merged(change, share)))),
            before=before or None,
            after=after or None,
            weight=weight,
        )


def _merged(change: ChangeView, share: Share) -> list[int]:
    """Edits of such blocks in the same sequence with no effect of their own: what they did is done by another block now."""
    told = {k for effect in change.comparison.effects for k in effect.causes}
    sequences = {place.label for place in change.cause_places(share.causes)}
    return [
        edit.index
        for edit in change.edits
        if edit.index not in told
        and change.facts.edit_has(edit.index, HOME)
        and {place.label for place in change.cause_places((edit.index,))} & sequences
    ]


def _texts(change: ChangeView, share: Share, side: int) -> str:
    view = change.views()[side]
    blocks = [b for k in share.causes if k >= 0 for b in (change.edits[k].old, change.edits[k].new)[side]]
    found = [block_text(view.block(b)) for b in blocks if change.facts.block_has(side, b, HOME)]
    return joined(found)


def _left_words(change: ChangeView, share: Share) -> str:
    """The words X and Z that stand on without the code that made a place of the machine of them ("X0 Z-2.")."""
    kept = [
        word.text
        for k in share.causes
        if k >= 0 and change.edits[k].old
        for block in change.edits[k].new
        for word in change.new.block(block).words
        if word.letter in "XZ"
    ]
    return " ".join(kept)


def _order(change: ChangeView, share: Share) -> str:
    """In which order the axes leave, where that differs."""
    found = next((pair for e in share.leads if (pair := ways_out(change.facts, e)) is not None), None)
    if found is None:
        return ""
    words = ["X and Z together" if len(way.first) > 1 else f"{next(iter(way.first))} first" for way in found]
    return f"; {words[1]} now, {words[0]} before"


def _point(change: ChangeView, share: Share) -> tuple[str, bool]:
    """The points by way of which it goes, and whether one of them newly lies on or beyond the centre line."""
    found: list[list[Item]] = [[], []]
    for effect in share.leads:
        for d in effect.differences:
            for side, item in enumerate((d.old, d.new)):
                if item is not None and item.step == "by way of":
                    found[side].append(item)
    views = change.views()
    old, new = (
        joined(dict.fromkeys(end_of(i, view.units) for i in items)) for items, view in zip(found, views, strict=True)
    )
    crossing = [any(_beyond(item) for item in items) for items in found]
    words = ""
    if old != new:
        words = f"; by way of {new}" if new else "; straight there"
        words += f", by way of {old} before" if old else ", straight there before"
    return words, crossing[1] and not crossing[0]


def _beyond(item: Item) -> bool:
    known = not (item.start.bx or item.end.bx)
    return known and item.start.x != 0 and item.end.x * item.start.x <= 0


def _called(change: ChangeView, share: Share) -> tuple[str, bool]:
    """Where the next tool is called, if that is another place now; and whether it is no longer called from home."""
    paths = change.facts.paths(share.leads[0].position)
    for item in items_of_effects(share.leads):
        side = 1 if any(d.new is item for e in share.leads for d in e.differences) else 0
        call = paths[side].next_call(item)
        partner = (change.comparison.edits.alignment.new_to_old, change.comparison.edits.alignment.old_to_new)[1 - side]
        other = paths[1 - side].call_at.get(int(partner[call.block])) if call is not None else None
        if call is None or other is None:
            continue
        calls = (other, call) if side else (call, other)
        places = [path.stands(found) for path, found in zip(paths, calls, strict=True)]
        if places[0] == places[1] or None in places:
            return "", False
        words = [stands_words(place, view.units) for place, view in zip(places, change.views(), strict=True)]
        home = [bool(place and place.bx and place.bz) for place in places]
        tool = calls[1].value.split(" ")[0]
        return f"; {tool} is then called from {words[1]}, from {words[0]} before", home[0] and not home[1]
    return "", False
