"""The variables of a control: local ones by level of call, common, kept and system ones; what each holds and which blocks it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from verifier.control.expressions import Stored
from verifier.control.functions import Impossible
from verifier.control.values import Value, symbol
from verifier.machines import VariableRanges

UNSET = Stored(None)

WHO = {
    "common": "a common variable, which an earlier program, the setter or the operator may have set",
    "kept": "a variable kept after power-off, which the setter, the operator or another program may have set",
    "system": "a system variable, which the control itself sets",
}
"""Who could have set a variable that the program does not set."""


@dataclass(slots=True)
class Variables:
    """Every variable. `given` are the values of the setup sheet; `cleared` whether common variables are unset at the start of a run."""

    ranges: VariableRanges
    given: Mapping[int, Fraction]
    cleared: bool
    stored: dict[int, Stored] = field(default_factory=dict)
    levels: list[dict[int, Stored]] = field(default_factory=lambda: [{}])
    clouds: tuple[str, frozenset[int]] = ("", frozenset())
    """A write to a variable whose number is not known: any may be another since. Its text and the blocks it rests on."""
    reads: dict[int, int] = field(default_factory=dict)
    """How often each system variable was read so far: what it holds may change from one moment to the next. -1: number not known."""
    feeds: dict[int, set[int]] = field(default_factory=dict)
    """For each variable, those it was computed from."""
    used: set[int] = field(default_factory=set)
    """Variables that decided something or stood in a word."""

    def __deepcopy__(self, memo: dict[int, Any]) -> Variables:
        return Variables(
            self.ranges, self.given, self.cleared, dict(self.stored), [dict(level) for level in self.levels], self.clouds,
            dict(self.reads), {k: set(v) for k, v in self.feeds.items()}, set(self.used),
        )  # fmt: skip

    def kind(self, number: int) -> str:
        """The kind of a variable; Impossible where the control has none of that number."""
        found = self.ranges.kind_of(number)
        if found is None:
            raise Impossible(f"this machine has no variable #{number}")
        return found

    def read(self, number: int) -> Stored:
        """What a variable holds."""
        if number == 0:
            return UNSET
        kind = self.kind(number)
        known = (self.levels[-1] if kind == "local" else self.stored).get(number)
        if kind == "system" and known is None:
            again = self._read_again(number)
            return Stored(symbol(f"#{number}" if again == 1 else f"#{number}'{again}"))
        if known is not None:
            return known
        cloud, blocks = self.clouds
        if cloud:
            return Stored(symbol(f"#{number} after {cloud}"), blocks)
        if number in self.given:
            return Stored(self.given[number])
        if kind == "local" or (kind == "common" and self.cleared):
            return UNSET
        return Stored(symbol(f"#{number}"))

    def peek(self, number: int) -> Stored:
        """What a variable holds, looked at without a reading that counts."""
        known = self.stored.get(number)
        if number and self.kind(number) == "system" and known is None:
            return Stored(symbol(f"#{number}"))
        return self.read(number)

    def read_unknown(self, index: str) -> Stored:
        """A variable whose number is not known: which one it is, and so what it holds, is an unknown of its own until anything is written."""
        return Stored(symbol(f"#[{index}]'{self._read_again(-1)}"), self.clouds[1])

    def _read_again(self, number: int) -> int:
        self.reads[number] = self.reads.get(number, 0) + 1
        return self.reads[number]

    def write(self, number: int, value: Stored) -> str:
        """Set a variable; gives its kind. Impossible for #0 and where there is none of that number."""
        if number == 0:
            raise Impossible("#0 is always unset and cannot be written")
        kind = self.kind(number)
        (self.levels[-1] if kind == "local" else self.stored)[number] = value
        return kind

    def write_unknown(self, text: str, blocks: frozenset[int]) -> None:
        """A write to a variable whose number is not known: from here on none is sure."""
        self.stored.clear()
        self.levels[-1].clear()
        self.clouds = (text, self.clouds[1] | blocks)

    def left(self) -> list[tuple[int, Stored]]:
        """The common variables that the program set, in order: they outlive it."""
        return sorted((n, held) for n, held in self.stored.items() if self.ranges.kind_of(n) == "common")

    def snapshot(self) -> tuple[tuple[int, int, Value], ...]:
        """Every variable that was set: its level (-1: not local), number and value, in order."""
        found = [(-1, n, held.value) for n, held in self.stored.items()]
        found += [(k, n, held.value) for k, level in enumerate(self.levels) for n, held in level.items()]
        return tuple(sorted(found, key=lambda entry: entry[:2]))

    def that_matter(self) -> tuple[tuple[int, int, Value], ...]:
        """Of `snapshot` those that decided something or stood in a word, or from which such a one was computed."""
        matter, queue = set(self.used), list(self.used)
        while queue:
            for source in self.feeds.get(queue.pop(), ()):
                if source not in matter:
                    matter.add(source)
                    queue.append(source)
        return tuple(entry for entry in self.snapshot() if entry[1] in matter)
