"""One side's way through the work: which cut comes next, which cycle a move belongs to, what is still in the air."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from math import gcd

from verifier.compare import Item, Place, Side
from verifier.control import TICKS_PER_MM, CycleCall, Trace


@dataclass(frozen=True)
class Path:
    """The items of one side under one switch position, found again from any of them."""

    side: Side
    trace: Trace

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """All items in order."""
        return self.side.kept.items(self.trace, self.side.machine).items

    @cached_property
    def _at(self) -> dict[tuple[bool, int], int]:
        return {(item.is_move, item.first): k for k, item in enumerate(self.items)}

    @cached_property
    def cutting_blocks(self) -> tuple[int, ...]:
        """The blocks that make a cut, once each, in the order in which they are run."""
        return tuple(dict.fromkeys(block for item in self.items if item.cuts for block in item.blocks))

    @cached_property
    def _fed(self) -> dict[tuple[int, int, int], list[tuple[int, int]]]:
        """Straight feed moves by the line and the way they go along it, each from where to where on it."""
        found: dict[tuple[int, int, int], list[tuple[int, int]]] = {}
        for item in self.items:
            if item.kind == "feed" and (along := _along(item)) is not None:
                found.setdefault(along[0], []).append(along[1])
        return found

    def fed_along(self, rapid: Item | None) -> bool:
        """Whether a stretch lies wholly on a straight feed move of this side and goes the same way (exact)."""
        along = _along(rapid) if rapid is not None else None
        if along is None:
            return False
        line, (start, end) = along
        return any(first <= start and end <= last for first, last in self._fed.get(line, ()))

    @cached_property
    def _starts(self) -> list[int]:
        return [call.first_move for call in self.trace.cycles]

    @cached_property
    def _again(self) -> int | None:
        """The event that starts the program again, where one does."""
        return next((k for k, event in enumerate(self.trace.events) if event.kind == "repeat"), None)

    @property
    def repeats(self) -> bool:
        """Whether the program starts again by itself."""
        return self._again is not None

    def in_later_pass(self, item: Item) -> bool:
        """Whether an item is of a pass after the first."""
        if self._again is None:
            return False
        return item.first >= self.trace.first_pass if item.is_move else item.first > self._again

    def remark_of(self, item: Item) -> str:
        """The words on a move that are not executed."""
        return self.trace.remarks[int(self.trace.moves.remark[item.first])]

    def cycle_of(self, item: Item) -> CycleCall | None:
        """The cycle that made a move, if one did."""
        if not item.is_move:
            return None
        k = bisect_right(self._starts, item.first) - 1
        if k < 0:
            return None
        call = self.trace.cycles[k]
        return call if item.first < call.first_move + call.moves else None

    def next_cut(self, item: Item) -> Item | None:
        """The first cut behind an item, not past the next tool call."""
        return self._cut(item, 1)

    def last_cut(self, item: Item) -> Item | None:
        """The last cut in front of an item, not past a tool call."""
        return self._cut(item, -1)

    def leads_to_cut(self, item: Item) -> bool:
        """Whether a rapid is on the way to a cut: no cut lies before it, or it is the last rapid before the next cut or cycle."""
        if self.next_cut(item) is None:
            return False
        if self.last_cut(item) is None:
            return True
        at = self._at.get((True, item.first), -1)
        following = next((other for other in self.items[at + 1 :] if other.is_move), None)
        return following is not None and (following.cuts or self.cycle_of(following) is not None)

    def follows_cut(self, item: Item) -> bool:
        """Whether the last move before an item was a cut."""
        at = self._at.get((item.is_move, item.first), 0)
        before = next((other for other in reversed(self.items[:at]) if other.is_move), None)
        return before is not None and before.cuts

    def next_move(self, item: Item) -> Item | None:
        """The next stretch of path behind an item."""
        at = self._at.get((item.is_move, item.first))
        return None if at is None else next((other for other in self.items[at + 1 :] if other.is_move), None)

    def led_to(self, rapid: Item, axis: str) -> Item | None:
        """The first cut, or move of a cycle, made from the place of a rapid along an axis ("x" or "z"); None where it only passes there."""
        at = self._at.get((True, rapid.first))
        for other in self.items[at + 1 :] if at is not None else ():
            if other.is_move and (other.cuts or self.cycle_of(other) is not None):
                return other
            if other.kind == "event:tool" or (other.is_move and _place(other, axis) != _place(rapid, axis)):
                return None
        return None

    def starts_thread(self, item: Item) -> bool:
        """Whether a threading stretch is a pass of its own, and not the pull-out of one."""
        at = self._at.get((item.is_move, item.first), 0)
        before = next((other for other in reversed(self.items[:at]) if other.is_move), None)
        return item.kind == "thread" and (before is None or before.kind != "thread")

    def next_call(self, item: Item) -> Item | None:
        """The tool call behind an item, where no cut lies between."""
        at = self._at.get((item.is_move, item.first))
        for other in self.items[at + 1 :] if at is not None else ():
            if other.kind == "event:tool":
                return other
            if other.cuts:
                break
        return None

    def stands(self, item: Item) -> Place | None:
        """Where the tool is at an event: the end of the last stretch before it."""
        at = self._at.get((item.is_move, item.first), 0)
        before = next((other for other in reversed(self.items[:at]) if other.is_move), None)
        return before.end if before is not None else None

    def way_out(self, cut: Item) -> tuple[Item, ...]:
        """The rapids behind a cut, up to the next cut or tool call."""
        at = self._at.get((cut.is_move, cut.first))
        found = []
        for other in self.items[at + 1 :] if at is not None else ():
            if other.cuts or other.kind == "event:tool":
                break
            if other.is_move:
                found.append(other)
        return tuple(found)

    @cached_property
    def last_cut_at(self) -> dict[int, Item]:
        """For each block that cuts, the last cut that it makes."""
        return {block: item for item in self.items if item.cuts for block in item.blocks}

    @cached_property
    def call_at(self) -> dict[int, Item]:
        """For each block that calls a tool, the call."""
        return {item.block: item for item in self.items if item.kind == "event:tool"}

    def _cut(self, item: Item, step: int) -> Item | None:
        at = self._at.get((item.is_move, item.first))
        if at is None:
            return None
        k = at + step
        while 0 <= k < len(self.items):
            found = self.items[k]
            if found.cuts:
                return found
            if found.kind == "event:tool":
                return None
            k += step
        return None

    def in_air(self, item: Item) -> bool:
        """Whether a stretch surely cuts nothing: the setup sheet gives the stock, and the stretch stays outside it."""
        setup = self.side.setup
        if setup is None or setup.stock is None or item.start.bx or item.start.bz or item.end.bx or item.end.bz:
            return False
        if item.centre is not None:
            return False
        stock = setup.stock
        radius, face = stock.diameter / 2 * TICKS_PER_MM, stock.face_z * TICKS_PER_MM
        low_x, low_z = min(abs(item.start.x), abs(item.end.x)), min(item.start.z, item.end.z)
        crosses = item.start.x * item.end.x < 0
        return bool((low_x >= radius and not crosses) or low_z >= face)


def _place(item: Item, axis: str) -> tuple[str, int]:
    return (item.end.bx, item.end.x) if axis == "x" else (item.end.bz, item.end.z)


def _along(item: Item) -> tuple[tuple[int, int, int], tuple[int, int]] | None:
    """The directed line of a straight stretch (direction in lowest terms, distance from zero), and start and end counted along it."""
    if item.start.bx or item.start.bz or item.end.bx or item.end.bz:
        return None
    dx, dz = item.end.x - item.start.x, item.end.z - item.start.z
    step = gcd(dx, dz)
    if not step:
        return None
    ux, uz = dx // step, dz // step
    line = (ux, uz, ux * item.start.z - uz * item.start.x)
    return line, (ux * item.start.x + uz * item.start.z, ux * item.end.x + uz * item.end.z)
