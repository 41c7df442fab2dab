"""The rule `order-changed`."""

from __future__ import annotations

from collections.abc import Container, Iterable

from verifier.compare import Item
from verifier.control import Sequence
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import counted, cut_length, end_of, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_ONE = "G00 X62. Z-10.\nG01 X58. F0.1\nX60.\nG00 X62."
_TWO = "G00 X63. Z-40.\nG01 X51. F0.12\nX59.\nG00 X63."
_THREE = "G00 X64. Z-60.\nG01 X40. F0.15\nX61.\nG00 X64."
_MOST = 0.5
"""A sequence counts as moved when so great a part of its moves is made at another time."""


class OrderChanged(ChangeRule):
    """The same moves are made in another order.

    What was cut first held, guided or made room for what came after it: a groove before the roughing, a bore before its drill, a thread before
    its chamfer.
    """

    id = "order-changed"
    revision = 3
    weight = Weight.MAJOR
    mirror = "order-changed"
    title = "Moves are made in another order."
    watch = "Go through the sequences in their new order: is the material there, or gone, that each of them counts on."
    examples = (
        Example(
            "two grooves exchanged",
            turning("\n".join((_TWO, _THREE, _ONE))),
            True,
            old=turning("\n".join((_ONE, _TWO, _THREE))),
        ),
        Example(
            "the same order", turning(f"{_ONE}\n{_TWO}"), False, old=turning(f"{_ONE}\n{_TWO.replace('0.12', '0.1')}")
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Whole sequences by name, all of them at once: it is one new order. Else one finding for each set of edits."""
        shares = change.shares(self.id)
        moved = [item for share in shares for item in _moved(share)]
        whole = _sequences(change, moved)
        inside = {s.index for s in whole}
        of_whole = [share for share in shares if _lies_in(change, inside, _moved(share))]
        if of_whole:
            named = joined(s.label for s in whole)
            covers = tuple(effect for share in of_whole for effect in share.covers)
            yield Drawn(f"Order changed: {named} made at another place in the program", covers)
        for share in shares:
            if share not in of_whole:
                yield _of_moves(change, share, _moved(share))


def _of_moves(change: ChangeView, share: Share, moved: list[Item]) -> Drawn:
    moves = [item for item in moved if item.is_move]
    if not moves:
        number = counted(len(moved), "stop or event", "stops or events")
        return Drawn(f"Order changed: {number} at another time", share.covers)
    first = end_of(moves[0], change.units)
    number = counted(len(moves), "move")
    return Drawn(
        f"Order changed: {number} made at another time, the first to {first} ({cut_length(moves, change.units)})",
        share.covers,
    )


def _moved(share: Share) -> list[Item]:
    """What is made at another time, as the new program has it."""
    return [d.new for e in share.leads if e.field == "order" for d in e.differences if d.new is not None]


def _lies_in(change: ChangeView, sequences: Container[int], items: list[Item]) -> bool:
    homes = [change.new.sequence_at(item) for item in items]
    return bool(homes) and all(home is not None and home.index in sequences for home in homes)


def _sequences(change: ChangeView, moved: list[Item]) -> list[Sequence]:
    """The sequences most of whose moves are made at another time."""
    count: dict[int, int] = {}
    total: dict[int, int] = {}
    for items, found in ((moved, count), (change.facts.paths("")[1].items, total)):
        for item in items:
            sequence = change.new.sequence_at(item)
            if sequence is not None:
                found[sequence.index] = found.get(sequence.index, 0) + 1
    if len(change.new.sequences) < 2:
        return []
    return [s for s in change.new.sequences if count.get(s.index, 0) > _MOST * total.get(s.index, 0)]
