"""Two programs compared: what was edited, where behaviour parts, who did it, and what can be said of the whole."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from verifier.compare.causes import PROFILE, Attribution, Effect, effects_of
from verifier.compare.differences import STATE_FIELDS, Difference, Matched, is_symbol, match
from verifier.compare.edits import CHANGED, Edit, Edits, find_edits
from verifier.compare.items import Item, Items
from verifier.compare.kept import Kept
from verifier.compare.ways import Pair, Runs, pairs, switched
from verifier.control import (
    TICKS_PER_MM,
    Library,
    Sequence,
    Trace,
    WayIn,
    execute_ways,
    g_code,
    least_increment,
    sequences,
    ways_in,
)
from verifier.geometry import Load, Times, TurnedPart
from verifier.machines import Machine, Setup, code_name
from verifier.syntax import Program

SAME, DIFFERENT, UNDETERMINED = "same behaviour", "changed behaviour", "undetermined"
SKIPS_OFF = "block skips off"


@dataclass(frozen=True, slots=True)
class Side:
    """One program as one machine runs it: skips off, and each other position that can matter (switches, answers of the machine), by its name.

    In a comparison both sides have the same positions in `switched`.
    """

    program: Program
    machine: Machine
    setup: Setup | None
    trace: Trace
    switched: tuple[tuple[str, Trace], ...]
    sequences: tuple[Sequence, ...]
    ways_in: tuple[WayIn, ...]
    runs: Runs = ()
    """Every run by switch position: one for each way through the questions that only the machine can answer."""
    kept: Kept = field(default_factory=Kept, compare=False, repr=False)
    """What was worked out of its traces already; both sides of a comparison keep that together."""

    def items(self) -> tuple[Item, ...]:
        """What the trace does, as it is compared."""
        return self.kept.items(self.trace, self.machine).items

    def times(self) -> Times:
        """How long the trace takes."""
        return self.kept.times(self.trace, self.machine)

    def part(self) -> TurnedPart | None:
        """What the trace makes of the stock, worked out when it is first asked for; None without a setup sheet that names a stock."""
        return self.kept.part(self.trace, self.machine, self.setup)

    def load(self) -> Load | None:
        """What its cuts ask of tool and spindle, and the roughness they leave; None where there is no part."""
        return self.kept.load(self.trace, self.machine, self.setup)


@dataclass(frozen=True, slots=True)
class Switched:
    """The comparison under one position of the block skip switches."""

    position: str
    verdict: str
    effects: tuple[Effect, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that differs between two sides.

    `verdict` is the worst over all switch positions and `position` the first that gives it; `effects` are those with the skips off, then those
    that only another position has. `stops_differ`: the same path, interrupted at other places in single block.
    """

    old: Side
    new: Side
    edits: Edits
    items: tuple[Items, Items]
    effects: tuple[Effect, ...]
    verdict: str
    position: str
    switched: tuple[Switched, ...]
    stops_differ: tuple[tuple[Item | None, Item | None], ...]
    tolerance: int

    def edit(self, index: int) -> Edit:
        """An edit by its index."""
        return self.edits.edits[index]

    def sequence_of(self, side: str, block: int) -> Sequence | None:
        """The sequence a block stands in."""
        found = (self.old if side == "old" else self.new).sequences
        return next((s for s in found if s.first <= block < s.end), None)


def side(
    program: Program,
    machine: Machine,
    *,
    setup: Setup | None = None,
    library: Library | None = None,
    levels: tuple[int, ...] | None = None,
    like: Side | None = None,
) -> Side:
    """Execute one program under every switch position that can matter, and enter its sequences alone.

    `levels`: the block skip levels to try (those of both sides of a comparison); by default the program's own. `like`: another program on the same
    machine with the same sheet and library: sequences that read the same are not entered again.
    """
    positions = (("", ()), *_positions(levels_of(program) if levels is None else levels))
    runs = tuple(
        (name, execute_ways(program, machine, setup=setup, library=library, skips_on=levels))
        for name, levels in positions
    )
    found = sequences(program, machine)
    return Side(
        program,
        machine,
        setup,
        runs[0][1][0],
        switched(runs),
        found,
        ways_in(
            program, machine, found, setup=setup, library=library, like=(like.program, like.ways_in) if like else None
        ),
        runs,
    )


def levels_of(program: Program) -> tuple[int, ...]:
    """The block skip levels a program uses (a bare slash is level 1), in order."""
    columns = program.columns
    odd = [k for k, plain in enumerate(columns.plain.tolist()) if not plain]
    return tuple(sorted({max(skip.level, 1) for k in odd for skip in program.blocks[k].skips}))


def _positions(levels: tuple[int, ...]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    if not levels:
        return ()
    if len(levels) == 1:
        return (("block skip on", levels),)
    return (("all block skips on", levels), *((f"block skip {k} on", (k,)) for k in levels))


def compare(old: Side, new: Side, *, library_changed: bool = False) -> Comparison:
    """Compare two sides. Deterministic; exchanging the sides gives the mirrored result."""
    tolerance = _tolerance(old, new)
    edits = find_edits(old.program, new.program, old.sequences, new.sequences)
    outside = library_changed or old.machine.digest != new.machine.digest or _sheet(old) != _sheet(new)
    paired = pairs(old.runs, new.runs)
    kept = old.kept.copy()
    old = replace(old, switched=tuple((pair.position, pair.old) for pair in paired[1:]), kept=kept)
    new = replace(new, switched=tuple((pair.position, pair.new) for pair in paired[1:]), kept=kept)
    first = _paired(paired[0], old, new, edits, tolerance, outside=outside)
    others = [_paired(pair, old, new, edits, tolerance, outside=outside).switched for pair in paired[1:]]
    verdict, position = _worst(paired, [first.switched, *others])
    more = _only_elsewhere(first.switched.effects, others)
    return Comparison(
        old, new, edits, first.items, first.switched.effects + more, verdict, position,
        tuple(others), first.stops_differ, tolerance,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Compared:
    """One pair of runs compared."""

    items: tuple[Items, Items]
    switched: Switched
    stops_differ: tuple[tuple[Item | None, Item | None], ...]


def _paired(pair: Pair, old: Side, new: Side, edits: Edits, tolerance: int, *, outside: bool) -> _Compared:
    items = old.kept.items(pair.old, old.machine), new.kept.items(pair.new, new.machine)
    matched = match(*items, tolerance)
    effects = _effects(pair.old, pair.new, matched, edits, outside=outside)
    verdict = _verdict(effects, pair, edits, outside=outside)
    return _Compared(items, Switched(pair.position, verdict, effects), matched.stops_differ)


def _worst(paired: tuple[Pair, ...], found: list[Switched]) -> tuple[str, str]:
    """The worst verdict over the positions of the switches, and the first that gives it.

    Where only some of the answers that the machine may give make the sides differ, it is not determined whether they do.
    """
    worst, at = SAME, SKIPS_OFF
    for switch in dict.fromkeys(pair.switch for pair in paired):
        group = [(pair, one) for pair, one in zip(paired, found, strict=True) if pair.switch == switch]
        differ = [pair for pair, one in group if one.verdict != SAME]
        if all(one.verdict == DIFFERENT for _, one in group):
            verdict, position = DIFFERENT, switch
        else:
            verdict = UNDETERMINED if differ else SAME
            position = differ[0].answers if differ else switch
        if _RANK[verdict] > _RANK[worst]:
            worst, at = verdict, position or SKIPS_OFF
    return worst, at


def _only_elsewhere(effects: tuple[Effect, ...], switched: Iterable[Switched]) -> tuple[Effect, ...]:
    """Effects that other switch positions have and none before them had."""
    seen = {effect.key for effect in effects}
    found = []
    for other in switched:
        for effect in other.effects:
            if effect.key not in seen:
                seen.add(effect.key)
                found.append(replace(effect, position=other.position))
    return tuple(found)


_RANK = {SAME: 0, UNDETERMINED: 1, DIFFERENT: 2}


def _tolerance(old: Side, new: Side) -> int:
    """Half the finer least increment of both sides, in ticks of a programmed value."""
    return min(least_increment(one.machine, units) for one in (old, new) for units in _units(one)) // 2


def _units(one: Side) -> tuple[str, ...]:
    """The unit systems that a program is written in: the one it ends with, and every one that it names."""
    program = one.program
    columns = program.columns
    named = columns.mantissa[(columns.letter == ord("G")) & (columns.decimals < 0)]
    inch, mm = (code_name(code, one.machine.code_set) for code in ("G20", "G21"))
    codes = {f"G{number}" for number in named[np.isin(named, (int(inch[1:]), int(mm[1:])))].tolist()}
    odd = [k for k, plain in enumerate(columns.plain.tolist()) if not plain]
    codes |= {code for k in odd for word in program.blocks[k].words if (code := g_code(word)) in (inch, mm)}
    return (one.trace.end_units or "mm", *(units for units, code in (("inch", inch), ("mm", mm)) if code in codes))


def _sheet(one: Side) -> str:
    return one.setup.digest if one.setup is not None else ""


def _effects(old: Trace, new: Trace, matched: Matched, edits: Edits, *, outside: bool) -> tuple[Effect, ...]:
    attribution = Attribution(old, new, edits, outside=outside)
    found = list(effects_of(matched.differences, attribution))
    before, after = old.end, new.end
    for name, was, now in zip(STATE_FIELDS, before, after, strict=True):
        if was != now:
            difference = Difference(name, None, None, was, now)
            sure = not (is_symbol(was) and is_symbol(now))
            found.append(Effect(name, attribution.causes_of_left(name), was, now, (difference,), sure, left=True))
    pairs = (("motion", old.end_motion, new.end_motion), ("distance", old.end_distance, new.end_distance))
    for name, (was, by), (now, since) in pairs:
        if was != now:
            difference = Difference(name, None, None, was, now)
            causes = attribution.causes_of_origins(by, since)
            found.append(Effect(name, causes, was, now, (difference,), True, left=True))
    return tuple(found)


def _verdict(effects: Iterable[Effect], pair: Pair, edits: Edits, *, outside: bool) -> str:
    told = [effect for effect in effects if effect.field != "below-resolution"]
    if any(effect.certain for effect in told):
        # Where the flow itself is unknown a difference met on the way straight through is still one that is there.
        return DIFFERENT
    if told:
        return UNDETERMINED
    followed = pair.complete and not (pair.old.flow_unknown or pair.new.flow_unknown)
    if not followed and (outside or edits.edits or _renumbered(edits)):
        return UNDETERMINED
    return SAME


def _renumbered(edits: Edits) -> bool:
    """Whether a block number changed: where the flow is not executed, something may jump there."""
    return any(w.letter == "N" and w.kind != "respelled" for p in edits.pairings for w in p.words)


__all__ = [
    "CHANGED",
    "DIFFERENT",
    "PROFILE",
    "SAME",
    "TICKS_PER_MM",
    "UNDETERMINED",
    "Comparison",
    "Side",
    "Switched",
    "compare",
    "levels_of",
    "side",
]
