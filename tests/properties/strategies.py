"""Generators of real-looking lathe programs as `Job` values: bars, faces, shoulders, grooves, threads and holes of sizes that a shop has.

Everything lies on a grid: 0.05 mm, or 0.005 in (which is 0.127 mm, so that an inch job can be said in metric without finer steps than the least
increment); `FINE` jobs use the least increment itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from random import Random

from hypothesis import strategies as st

from tests.properties.model import (
    Arc,
    Call,
    Coolant,
    Dwell,
    Face,
    Groove,
    Job,
    Move,
    Op,
    Rough,
    Sequence,
    Skipped,
    Speed,
    Step,
    Stop,
    ThreadCycle,
    ThreadPasses,
    Turn,
)

SUBPROGRAM = 8100


@dataclass(slots=True)
class Shop:
    """Draws sizes in millimetres and gives them on the grid of the job's units."""

    random: Random
    units: str
    grid: Decimal

    def at(self, millimetres: float) -> Decimal:
        """The grid point nearest to a size in millimetres."""
        size = Decimal(repr(round(millimetres, 6))) / (Decimal("25.4") if self.units == "inch" else 1)
        return (size / self.grid).to_integral_value() * self.grid

    def pick(self, least: float, most: float) -> Decimal:
        """A size between two limits in millimetres."""
        return self.at(self.random.uniform(least, most))

    def feed(self, least: float, most: float) -> Decimal:
        """A feed per revolution: hundredths of a millimetre, or thousandths of an inch."""
        value = Decimal(repr(round(self.random.uniform(least, most), 6)))
        if self.units == "inch":
            return max((value / Decimal("25.4")).quantize(Decimal("0.001")), Decimal("0.001"))
        return max(value.quantize(Decimal("0.01")), Decimal("0.01"))

    def chance(self, share: float) -> bool:
        """True with this share."""
        return self.random.random() < share


def job_of(
    seed: int,
    units: str,
    *,
    fine: bool = False,
    kinds: tuple[str, ...] = (),
    repeats: bool = False,
    skips: bool = False,
) -> Job:
    """The job of a seed: one to four sequences of these kinds (default: any)."""
    random = Random(seed)
    grid = {"mm": Decimal("0.001" if fine else "0.05"), "inch": Decimal("0.0001" if fine else "0.005")}[units]
    shop = Shop(random, units, grid)
    bar = shop.pick(30, 80)
    names = kinds or tuple(_SEQUENCES)
    chosen = [random.choice(names) for _ in range(random.randrange(1, 4))]
    subprograms: dict[int, tuple[Op, ...]] = {}
    made = []
    for number, name in enumerate(chosen, start=1):
        ops, inside = _SEQUENCES[name](shop, bar, number, subprograms)
        made.append(_sequence(shop, bar, number, name, ops, inside=inside, last=number == len(chosen)))
    if skips:
        made = [_with_skip(shop, sequence) for sequence in made]
    return Job(1000 + seed % 1000, units, tuple(made), subprograms, repeats)


def _with_skip(shop: Shop, sequence: Sequence) -> Sequence:
    """A move or a stop behind a skip mark at the end of the work."""
    z = shop.pick(2, 5)
    op: Op = Stop(0) if shop.chance(0.3) else Move(sequence.approach[0], z, None)
    return replace(sequence, ops=(*sequence.ops, Skipped(op, shop.random.choice((0, 2, 3)))))


def _sequence(shop: Shop, bar: Decimal, number: int, name: str, ops: list[Op], *, inside: bool, last: bool) -> Sequence:
    surface = name not in ("thread", "drill") and shop.chance(0.8)
    inch = shop.units == "inch"
    speed = (
        Decimal(shop.random.randrange(80, 250, 10) * (4 if inch else 1))
        if surface
        else Decimal(shop.random.randrange(300, 1500, 50))
    )
    approach = (Decimal(0) if name == "drill" else shop.at(15) if inside else bar + shop.at(4), shop.at(5))
    return Sequence(
        number=number,
        note=name.upper(),
        tool=number,
        offset=number,
        surface=surface,
        speed=speed,
        clamp=Decimal(shop.random.randrange(1200, 3600, 100)) if surface else None,
        sense="forward" if shop.chance(0.8) else "reverse",
        approach=approach,
        ops=tuple(ops),
        away=(bar + shop.at(30), shop.at(60)),
        coolant=shop.chance(0.85),
        home=shop.chance(0.4),
        stop=None if last else shop.random.choice((1, 1, 0)),
        work_offset=shop.random.choice((None, None, "G54")),
    )


Made = tuple[list[Op], bool]
Subs = dict[int, tuple[Op, ...]]


def _face(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    feed = shop.feed(0.08, 0.3)
    if shop.chance(0.5):
        places = tuple(shop.at(z) for z in (1, 0.5, 0)[: shop.random.randrange(1, 4)])
        taper = shop.random.choice((Decimal(0), Decimal(0), -shop.grid * 4))
        return [Face(places, -shop.at(1.6), taper, feed)], False
    ops: list[Op] = [Move(None, Decimal(0)), Move(-shop.at(1.6), None, feed), Move(None, shop.at(2))]
    return ops, False


def _turn(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    depth, z, feed = shop.pick(1, 4), -shop.pick(10, 60), shop.feed(0.1, 0.4)
    count = shop.random.randrange(1, 4)
    if shop.chance(0.5):
        taper = shop.random.choice((Decimal(0), Decimal(0), -shop.grid * 10))
        return [Turn(tuple(bar - depth * (k + 1) for k in range(count)), z, taper, feed)], False
    ops: list[Op] = []
    for k in range(count):
        diameter = bar - depth * (k + 1)
        ops += [
            Move(diameter, None),
            Move(None, z, feed),
            Move(diameter + shop.at(2), None, feed),
            Move(None, shop.at(5)),
        ]
        ops += [Speed(Decimal(700 + 50 * k))] if shop.chance(0.1) else []
    return ops, False


def _contour(shop: Shop, bar: Decimal) -> tuple[Op, ...]:
    """Shoulders that rise to the bar, with chamfers and rounds; the first block goes in X only."""
    feed = shop.feed(0.05, 0.25)
    small = shop.pick(10, 20)
    ops: list[Op] = [Move(small - shop.at(2) - shop.at(2), None)]
    z = -shop.at(0)
    ops.append(Move(small - shop.at(2), Decimal(0), feed))
    ops.append(Move(small, z - shop.at(1), feed))
    x, z = small, -shop.pick(8, 20)
    ops.append(Move(None, z, feed))
    if shop.chance(0.6):
        r = shop.pick(0.5, 2.5)
        centre_out = shop.chance(0.5)
        # A fillet (clockwise, centre outside) or a rounded corner (counterclockwise, centre inside) by a quarter turn.
        if centre_out:
            ops.append(Arc(True, x + 2 * r, z - r, r, Decimal(0), r, feed))
            x, z = x + 2 * r, z - r
        else:
            ops.append(Move(x + shop.at(2), None, feed))
            x = x + shop.at(2)
            ops.append(Arc(False, x + 2 * r, z - r, Decimal(0), -r, r, feed))
            x, z = x + 2 * r, z - r
    second = x + shop.pick(2, 6)
    ops.append(Move(second, z, feed))
    if shop.chance(0.4):
        unit = shop.grid * shop.random.randrange(4, 10)
        # On the circle of the 3-4-5 triangle: from (3, 4) units off the centre (X, Z) to (4, 3).
        ops.append(Arc(False, second + 2 * unit, z - unit, -3 * unit, -4 * unit, 5 * unit, feed))
        second, z = second + 2 * unit, z - unit
    z -= shop.pick(5, 20)
    ops.append(Move(None, z, feed))
    ops.append(Move(bar + shop.at(1), None, feed))
    return tuple(ops)


def _finish(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    return list(_contour(shop, bar)), False


def _rough(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del subs
    which = shop.random.choice(("G71", "G71", "G73"))
    contour = _contour(shop, bar)
    common = {
        "contour": contour,
        "label": 100 * number,
        "allowance_x": shop.pick(0.2, 1),
        "allowance_z": shop.pick(0.05, 0.3),
        "feed": shop.feed(0.15, 0.4),
        "finish": shop.chance(0.5),
    }
    if which == "G73":
        return [
            Rough(**common, passes=shop.random.randrange(2, 4), escape_x=shop.pick(2, 4), escape_z=shop.pick(1, 3))
        ], False
    retract = Decimal(0) if shop.chance(0.4) else shop.pick(0.3, 1)
    return [Rough(**common, depth=shop.pick(1, 3), retract=retract)], False


def _to_groove(shop: Shop, bar: Decimal) -> list[Op]:
    return [Move(bar + shop.at(2), None), Move(None, -shop.pick(10, 30))]


def _groove(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    ops = _to_groove(shop, bar)
    ops += [Move(bar - shop.pick(2, 12), None, shop.feed(0.03, 0.12)), Dwell(shop.random.randrange(100, 1000, 100))]
    ops.append(Move(bar + shop.at(2), None))
    if shop.chance(0.4):
        ops += [Coolant(False), Stop(0), Coolant(True)]
    return ops, False


def _pecked(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    start = _to_groove(shop, bar)
    z = start[-1].z if isinstance(start[-1], Move) and start[-1].z is not None else Decimal(0)
    step = shop.random.choice((None, shop.pick(1, 2)))
    end = z if step is None else z - shop.pick(1, 6)
    feed = shop.feed(0.03, 0.12)
    return [*start, Groove(bar - shop.pick(2, 12), end, shop.pick(0.5, 2), step, shop.pick(0.2, 0.5), feed)], False


def _pattern(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    """Grooves side by side by a subprogram that moves by increments."""
    depth, pitch = -shop.pick(4, 12), -shop.pick(3, 8)
    subs[SUBPROGRAM + number] = (
        Step(depth, Decimal(0), shop.feed(0.03, 0.12)), Dwell(500), Step(-depth, Decimal(0)), Step(Decimal(0), pitch)
    )  # fmt: skip
    return [*_to_groove(shop, bar), Call(SUBPROGRAM + number, shop.random.randrange(2, 5))], False


def _drill(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del bar, number, subs
    feed, depth = shop.feed(0.05, 0.25), -shop.pick(15, 60)
    ops: list[Op] = [Move(None, shop.at(2))]
    if shop.chance(0.6):
        return [*ops, Groove(Decimal(0), depth, shop.pick(4, 10), None, shop.pick(0.5, 1), feed, along_z=True)], True
    return [*ops, Move(None, depth, feed), Dwell(300), Move(None, shop.at(5))], True


def _thread(shop: Shop, bar: Decimal, number: int, subs: Subs) -> Made:
    del number, subs
    lead = Decimal("1.5") if shop.units == "mm" else Decimal("0.05")
    height = shop.at(0.9)
    z = -shop.pick(10, 30)
    root = bar - 2 * height
    if shop.chance(0.5):
        return [ThreadPasses((bar - height, bar - 2 * height), z, lead)], False
    profile = shop.units == "mm" and shop.chance(0.5)
    return [
        ThreadCycle(
            root, z, height, shop.at(0.3),
            Decimal("0.05") if profile else shop.at(0.127),
            Decimal(0) if profile else shop.at(0.127),
            1 if profile else shop.random.randrange(1, 3), 10 if profile else shop.random.randrange(0, 12), 60, lead, profile,
        )
    ], False  # fmt: skip


_SEQUENCES = {
    "face": _face, "turn": _turn, "finish": _finish, "rough": _rough, "groove": _groove, "pecked": _pecked, "pattern": _pattern,
    "drill": _drill, "thread": _thread,
}  # fmt: skip

KINDS = tuple(_SEQUENCES)


def jobs(
    *,
    units: tuple[str, ...] = ("mm", "inch"),
    fine: bool = False,
    kinds: tuple[str, ...] = (),
    repeats: bool = False,
    skips: bool = False,
) -> st.SearchStrategy[Job]:
    """Jobs in these units, of these kinds of sequences."""
    return st.builds(
        lambda seed, unit, again: job_of(seed, unit, fine=fine, kinds=kinds, repeats=repeats and again, skips=skips),
        st.integers(0, 2**32 - 1),
        st.sampled_from(units),
        st.booleans(),
    )
