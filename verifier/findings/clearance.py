"""How near a rapid ends to the stock, or to the cut it serves where no stock is given."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import hypot

from verifier.compare import Item, Place
from verifier.control import TICKS_PER_MM
from verifier.findings.model import Weight
from verifier.findings.paths import Path
from verifier.machines import Stock


@dataclass(frozen=True, slots=True)
class Clearance:
    """Distances in mm before and after (None: cannot be computed), what they are to, and how much their change weighs.

    `matters`: whether this change, or the same one backwards, is more than minor (then it is told for itself).
    """

    approach: bool
    before: float | None
    after: float | None
    against: str
    weight: Weight
    matters: bool


def clearance(paths: tuple[Path, Path], old: Item, new: Item, limit: Fraction, *, approach: bool) -> Clearance:
    """The change of the place where one rapid ends; `limit` in mm."""
    stock = [_to_stock(path, item) for path, item in zip(paths, (old, new), strict=True)]
    if stock[0] is not None and stock[1] is not None and (stock[0] > 0 or stock[1] > 0):
        weight = Weight.MAJOR if stock[1] < float(limit) and stock[1] < stock[0] else Weight.MINOR
        return Clearance(approach, stock[0], stock[1], "the stock", weight, _reached(stock[0], stock[1], limit))
    served = [_served(path, item, approach=approach) for path, item in zip(paths, (old, new), strict=True)]
    against = "the end of the cut that follows" if approach else "the end of the cut before it"
    before, after = served
    if before is None or after is None:
        return Clearance(approach, before, after, against, Weight.MAJOR, False)
    # Where the material begins is not known: coming nearer by a whole clearance is as much as using it up.
    used_up = approach and abs(before - after) >= float(limit)
    near = after < before and (after < float(limit) or used_up)
    matters = used_up or _reached(before, after, limit)
    return Clearance(approach, before, after, against, Weight.MAJOR if near else Weight.MINOR, matters)


def _reached(before: float, after: float, limit: Fraction) -> bool:
    """Whether one of two distances that differ is below the clearance."""
    return before != after and min(before, after) < float(limit)


def _to_stock(path: Path, item: Item) -> float | None:
    """The distance of a rapid's end from the raw stock in mm, 0 inside it; None where stock or place is not known."""
    setup = path.side.setup
    if setup is None or setup.stock is None or item.end.bx or item.end.bz:
        return None
    return _distance(setup.stock, abs(item.end.x) / TICKS_PER_MM, item.end.z / TICKS_PER_MM)


def _distance(stock: Stock, x: float, z: float) -> float:
    out = max(x - float(stock.diameter) / 2, 0.0)
    ahead = max(z - float(stock.face_z), float(stock.face_z - stock.length) - z, 0.0)
    inner = float(stock.inner) / 2 if stock.inner is not None else 0.0
    if not out and not ahead and x < inner:
        return inner - x
    return hypot(out, ahead)


def _served(path: Path, item: Item, *, approach: bool) -> float | None:
    """The distance from a rapid's end to the far end of the cut it leads to, or leaves."""
    cut = path.next_cut(item) if approach else path.last_cut(item)
    return _between(item.end, cut.end) if cut is not None else None


def _between(one: Place, other: Place) -> float | None:
    if one.bx != other.bx or one.bz != other.bz:
        return None
    return hypot(one.x - other.x, one.z - other.z) / TICKS_PER_MM
