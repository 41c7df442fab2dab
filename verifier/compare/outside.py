"""Which key of a profile or setup sheet makes a difference that no edit of the text makes.

Found by trying: each program runs again with keys taken from the other side, halves of them first, then halves of those halves that do
something, down to single keys. Where keys act only together, or there are too many moves to try, all that may have done it are named: never none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from verifier.compare.causes import PROFILE, Effect
from verifier.compare.comparison import Comparison, Side, compare, side
from verifier.compare.outside_keys import Outside, differing, with_key
from verifier.control import Library, execute_ways
from verifier.machines import Machine, Setup

MOST_RUN = 2_000_000
"""Keys times executed moves: beyond this the keys are not tried."""

At = tuple[str, str, int]
Keys = tuple[int, ...]
T = TypeVar("T")


@dataclass(frozen=True)
class Tried:
    """The keys that differ, and what each did where it was tried alone: (field, side, block), block -1 for the state left at the end."""

    keys: tuple[Outside, ...]
    did: tuple[frozenset[At], ...]
    comparison: Comparison = field(repr=False)
    programs: Library | None = field(repr=False)
    entered: dict[tuple[str, Keys], Side] = field(default_factory=dict, repr=False, compare=False)
    """Sides that were run for `without`, kept for the next question."""

    def behind(self, effect: Effect) -> Keys:
        """The keys behind an effect, as indices: those that do the same at its places; where no edit is behind it either, those that do
        it elsewhere, else anything, else all.
        """
        spots = frozenset(_spots((effect,)))
        there = tuple(k for k, did in enumerate(self.did) if did & spots)
        if there or PROFILE not in effect.causes:
            return there
        return (
            tuple(k for k, did in enumerate(self.did) if effect.field in {name for name, _, _ in did})
            or tuple(k for k, did in enumerate(self.did) if did)
            or tuple(range(len(self.keys)))
        )

    def without(self, name: str, stands: Callable[[Side], bool]) -> Keys:
        """The keys without which something does not stand on one side ("old" or "new"), each tried alone; none where none does it alone."""
        own, other = _sides(self.comparison, name)
        if not _affordable(self.comparison, len(self.keys)):
            return ()

        def gone(keys: Keys) -> bool:
            if (name, keys) not in self.entered:
                machine, setup = _taken(own, other, [self.keys[k] for k in keys])
                self.entered[name, keys] = side(own.program, machine, setup=setup, library=self.programs)
            return not stands(self.entered[name, keys])

        return tuple(k for k, _ in _single(tuple(range(len(self.keys))), gone))


def try_keys(comparison: Comparison, library: Library | None = None) -> Tried:
    """The keys in which the profiles and setup sheets of both sides differ, tried on both programs."""
    old, new = comparison.old, comparison.new
    keys = (*differing("profile", old.machine, new.machine), *differing("setup sheet", old.setup, new.setup))
    did: list[set[At]] = [set() for _ in keys]
    if keys and comparison.effects and _affordable(comparison, len(keys)):
        for name in ("old", "new"):
            for key, spots in _single(tuple(range(len(keys))), _parting(comparison, keys, name, library)):
                did[key] |= spots
    return Tried(keys, tuple(map(frozenset, did)), comparison, library)


def _parting(
    comparison: Comparison, keys: tuple[Outside, ...], name: str, library: Library | None
) -> Callable[[Keys], set[At]]:
    """Gives, for some keys, where the program of one side parts from itself when they are taken from the other side."""
    own, other = _sides(comparison, name)
    base = _plain(own, own, (), library)

    def parts(tried: Keys) -> set[At]:
        effects = compare(base, _plain(own, other, [keys[k] for k in tried], library)).effects
        return {(what, name if block >= 0 else at, block) for what, at, block in _spots(effects)}

    return parts


def _single(keys: Keys, does: Callable[[Keys], T]) -> Iterator[tuple[int, T]]:
    """The single keys that do something, with what they do. Keys that contradict the others cannot be tried so; their halves are."""
    if not keys:
        return
    try:
        outcome = does(keys)
    except Exception:  # no machine could have just these keys of another
        if len(keys) == 1:
            return
    else:
        if not outcome:
            return
        if len(keys) == 1:
            yield keys[0], outcome
            return
    middle = len(keys) // 2
    yield from _single(keys[:middle], does)
    yield from _single(keys[middle:], does)


def _affordable(comparison: Comparison, keys: int) -> bool:
    return keys * sum(len(one.trace.moves) for one in (comparison.old, comparison.new)) <= MOST_RUN


def _sides(comparison: Comparison, name: str) -> tuple[Side, Side]:
    """The side of that name, and the other."""
    return (comparison.old, comparison.new) if name == "old" else (comparison.new, comparison.old)


def _taken(own: Side, other: Side, keys: Iterable[Outside]) -> tuple[Machine, Setup | None]:
    """The profile and the sheet of a side, with these keys as the other side has them."""
    machine, setup = own.machine, own.setup
    for key in keys:
        if key.what == "profile":
            machine = with_key(machine, other.machine, key.path) or machine
        else:
            setup = with_key(setup, other.setup, key.path)
    return machine, setup


def _plain(own: Side, other: Side, keys: Iterable[Outside], library: Library | None) -> Side:
    """A side run with the skips off and some keys of the other."""
    machine, setup = _taken(own, other, keys)
    ways = execute_ways(own.program, machine, setup=setup, library=library)
    return Side(own.program, machine, setup, ways[0], (), own.sequences, (), (("", ways),))


def _spots(effects: Iterable[Effect]) -> Iterator[At]:
    for effect in effects:
        for difference in effect.differences:
            if difference.old is None and difference.new is None:
                yield effect.field, "new", -1  # the state left at the end
            for name, item in (("old", difference.old), ("new", difference.new)):
                if item is not None:
                    yield effect.field, name, item.block
