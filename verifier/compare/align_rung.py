"""Rungs, the steps of the ladder: one key per block on each side; and ladders that make a rung when it is first used."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import overload

import numpy as np
from numpy.typing import NDArray

from verifier.source import VerifierError


@dataclass(frozen=True, slots=True, eq=False)
class Rung:
    """One rung of the ladder: a key per old and per new block. `name` is for people.

    `least_move_run`: the shortest run of blocks that may be called a move at this rung; 0 forbids moves.
    Raises VerifierError where keys are not unsigned 64-bit integers.
    """

    old: NDArray[np.uint64]
    new: NDArray[np.uint64]
    name: str
    least_move_run: int

    def __post_init__(self) -> None:
        if self.old.dtype != np.uint64 or self.new.dtype != np.uint64:
            raise VerifierError("keys must be unsigned 64-bit integers")

    def exchanged(self) -> Rung:
        """The same rung for the exchanged sequences."""
        return replace(self, old=self.new, new=self.old)

    def cut(self, old: slice, new: slice) -> Rung:
        """The same rung for a part of each sequence."""
        return replace(self, old=self.old[old], new=self.new[new])

    def fits(self, first: Rung) -> Rung:
        """The rung itself; raises VerifierError where it is not as high as the first one."""
        mine, others = (len(self.old), len(self.new)), (len(first.old), len(first.new))
        if mine != others:
            raise VerifierError(f"all rungs must have the same heights, got {others} and {mine}")
        return self


class Rungs(Sequence[Rung]):
    """Rungs that are made when first asked for: where the strict ones settle all, the loose ones are never made."""

    def __init__(self, makers: Iterable[Callable[[], Rung]]) -> None:
        self._makers = tuple(makers)

    @classmethod
    def made_by(cls, makers: Iterable[Callable[[], Rung]]) -> Rungs:
        """Rungs from functions, each called once at most."""
        return cls(cache(maker) for maker in makers)

    @classmethod
    def mapped(cls, change: Callable[[Rung], Rung], rungs: Sequence[Rung]) -> Rungs:
        """Each rung changed by a function when it is asked for."""

        def at(number: int) -> Rung:
            return change(rungs[number])

        return cls.made_by(partial(at, number) for number in range(len(rungs)))

    def __len__(self) -> int:
        return len(self._makers)

    @overload
    def __getitem__(self, number: int) -> Rung: ...
    @overload
    def __getitem__(self, number: slice) -> Rungs: ...
    def __getitem__(self, number: int | slice) -> Rung | Rungs:
        return Rungs(self._makers[number]) if isinstance(number, slice) else self._makers[number]()
