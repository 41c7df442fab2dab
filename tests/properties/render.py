"""Writes a `Job` as the text of a lathe program of code set A, in many ways.

A `Form` chooses among ways of saying the same (increments, centre or radius, cycle forms, calls or in line ...), a `Look`
(`look.py`) among ways of writing the same words. Every choice is drawn from a seeded generator, so a text can be made again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from tests.properties.look import Line, Look, Word, shuffle_words, text_of
from tests.properties.model import (
    MM_PER_INCH,
    Arc,
    Call,
    Code,
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
    ThreadMove,
    ThreadPasses,
    Turn,
)
from tests.properties.written_out import written_out

GRID = {"mm": Decimal("0.001"), "inch": Decimal("0.0001")}


@dataclass(frozen=True, slots=True)
class Form:
    """How the same thing is said. Shares are chances from 0 to 1, drawn anew at each place."""

    repeat_motion: float = 0
    repeat_feed: float = 0
    repeat_axes: float = 0
    repeat_codes: float = 0
    incremental: float = 0
    arc_by_centre: float = 0
    one_block: bool = False
    cycles_out: bool = False
    calls: str = "repeats"
    """ "repeats" (one call, L times), "leading" (the repeats as leading digits of P), "unrolled" (a call for each) or "inline"."""
    split: float = 0
    redundant_rapid: float = 0
    shuffle: bool = False
    units: str = ""
    join_head: bool = False
    """The safety block, tool and clamp in as few blocks as can be."""
    drop_head: frozenset[int] = frozenset()
    """G codes left out of the safety blocks of all sequences but the first."""


def text(job: Job, form: Form | None = None, look: Look | None = None, seed: int = 0) -> bytes:
    """The program as bytes."""
    look = look or Look()
    return text_of(lines(job, form or Form(), seed), look, seed)


def lines(job: Job, form: Form, seed: int = 0) -> list[Line]:
    """The program as blocks."""
    made = list(_Writer(job, form, Random(seed)).program())
    return shuffle_words(made, seed + 2) if form.shuffle else made


def _g(number: int) -> Word:
    return Word("G", number, "code")


def _m(number: int) -> Word:
    return Word("M", number, "code")


class _Writer:
    """Turns operations into blocks, keeping what is in force and where the tool is (None: not known here)."""

    def __init__(self, job: Job, form: Form, random: Random) -> None:
        self.job = job
        self.form = form
        self.random = random
        self.x: Decimal | None = None
        self.z: Decimal | None = None
        self.motion: int | None = None
        self.feed: Decimal | None = None
        self.sequence: Sequence | None = None
        self.tag: tuple[object, ...] = ()
        self.in_contour = False
        self.thread_line = False
        units = form.units or job.units
        self.factor = MM_PER_INCH if (job.units, units) == ("inch", "mm") else Decimal(1)
        self.grid = GRID[units]
        self.units = units

    def chance(self, share: float) -> bool:
        return bool(share) and self.random.random() < share

    # -- words ------------------------------------------------------------------------------------------------------------

    def length(self, letter: str, value: Decimal) -> Word:
        return Word(letter, value * self.factor, "length")

    def increments(self, letter: str, value: Decimal) -> Word:
        counted = value * self.factor / self.grid
        assert counted == counted.to_integral_value(), f"{value} is no whole number of least increments"
        return Word(letter, int(counted), "whole")

    def f(self, value: Decimal) -> Word:
        return Word("F", value * self.factor, "feed")

    def s(self, value: Decimal) -> Word:
        surface = self.sequence is not None and self.sequence.surface
        metres = surface and self.factor != 1
        return Word("S", value * Decimal("0.3048") if metres else value, "speed")

    # -- the program --------------------------------------------------------------------------------------------------------

    def program(self) -> Iterator[Line]:
        self.tag = ("head",)
        yield Line([Word("O", self.job.number, "whole")], self.tag, note="SHAFT", fixed=True)
        yield Line([_g(20 if self.units == "inch" else 21)], self.tag)
        for index, sequence in enumerate(self.job.sequences):
            yield from self.one(index, sequence)
        self.tag = ("end",)
        yield Line([_m(99 if self.job.repeats else 30)], self.tag)
        if self.form.calls != "inline":
            for number, ops in self.job.subprograms.items():
                yield from self.subprogram(number, ops)

    def subprogram(self, number: int, ops: tuple[Op, ...]) -> Iterator[Line]:
        self.tag = ("sub", number)
        yield Line([Word("O", number, "whole")], self.tag, fixed=True)
        self.x = self.z = self.motion = self.feed = None
        for index, op in enumerate(ops):
            self.tag = ("sub", number, index)
            yield from self.op(op)
        yield Line([_m(99)], ("sub", number))

    def one(self, index: int, sequence: Sequence) -> Iterator[Line]:
        self.sequence = sequence
        self.tag = (index, "head")
        yield from self.head(index, sequence)
        for at, op in enumerate(sequence.ops):
            self.tag = (index, at)
            if self.chance(self.form.repeat_codes):
                yield Line(self.repeated(sequence), self.tag)
            yield from self.op(op)
        self.tag = (index, "away")
        yield from self.move(Move(*sequence.away))
        if sequence.home:
            yield Line([_g(28), self.length("U", Decimal(0)), self.length("W", Decimal(0))], self.tag, fixed=True)
            self.x = self.z = None
        self.tag = (index, "off")
        if sequence.coolant:
            yield Line([_m(9)], self.tag)
        yield Line([_m(5)], self.tag)
        if sequence.stop is not None:
            yield Line([_m(sequence.stop)], self.tag)

    def repeated(self, sequence: Sequence) -> list[Word]:
        """A word that is in force already."""
        choices = [[_g(99)], [_g(40)], [_m(3 if sequence.sense == "forward" else 4)]]
        choices.append([_g(96 if sequence.surface else 97)])
        return self.random.choice(choices)

    def head(self, index: int, sequence: Sequence) -> Iterator[Line]:
        tag = (index, "head")
        safety = [_g(0), *(_g(n) for n in (40, 97, 99) if index == 0 or n not in self.form.drop_head)]
        if sequence.work_offset:
            safety.append(_g(int(sequence.work_offset[1:])))
        self.motion = 0
        self.feed = None
        tool = [Word("T", sequence.tool * 100 + sequence.offset, "tool")]
        clamp = [_g(50), Word("S", sequence.clamp, "speed")] if sequence.clamp is not None else []
        speed = [
            _g(96 if sequence.surface else 97), self.s(sequence.speed), _m(3 if sequence.sense == "forward" else 4)
        ]  # fmt: skip
        if self.form.join_head:
            yield Line([*safety, *tool], (*tag, "tool"), number=sequence.number, note=sequence.note)
        else:
            yield Line(safety, (*tag, "safety"), number=sequence.number, note=sequence.note)
            yield Line(tool, (*tag, "tool"))
        if clamp:
            yield Line(clamp, (*tag, "clamp"))
        yield Line(speed, (*tag, "speed"))
        self.tag = (*tag, "approach")
        self.x = self.z = None
        for line in self.move(Move(*sequence.approach)):
            if sequence.coolant:
                line.words.append(_m(8))
            yield line

    # -- operations -------------------------------------------------------------------------------------------------------

    def op(self, op: Op) -> Iterator[Line]:
        if self.form.cycles_out and isinstance(op, Turn | Face | Groove) and self.x is not None and self.z is not None:
            for part in written_out(op, (self.x, self.z)):
                yield from self.op(part)
            return
        yield from _WRITERS[type(op)](self, op)

    def move(self, op: Move | ThreadMove) -> Iterator[Line]:
        feed = op.lead if isinstance(op, ThreadMove) else op.feed
        code = 32 if isinstance(op, ThreadMove) else 0 if feed is None else 1
        if isinstance(op, Move):
            if feed is None and self.chance(self.form.redundant_rapid) and not self.in_contour:
                yield self.redundant()
            if feed is not None and self.chance(self.form.split):
                middle = self.between(op)
                if middle is not None:
                    yield self.straight(middle, 1, feed)
        yield self.straight(Move(op.x, op.z), code, feed)

    def redundant(self) -> Line:
        self.motion = 0
        words = [_g(0)]
        if self.x is not None and self.z is not None and self.chance(0.5):
            words += [self.length("X", self.x), self.length("Z", self.z)]
        return Line(words, self.tag)

    def between(self, op: Move) -> Move | None:
        """A point of the grid that lies exactly on the way."""
        if self.x is None or self.z is None:
            return None
        x, z = self.x if op.x is None else op.x, self.z if op.z is None else op.z
        grid = GRID[self.job.units] if self.factor == 1 else self.grid / self.factor * 5
        share = Decimal(self.random.randrange(1, 8)) / 8
        dx, dz = (x - self.x) * share, (z - self.z) * share
        if (dx / grid) % 1 or (dz / grid) % 1 or not (dx or dz):
            return None
        return Move(self.x + dx if op.x is not None else None, self.z + dz if op.z is not None else None)

    def straight(self, op: Move, code: int, feed: Decimal | None) -> Line:
        words = self.motion_word(code)
        words += self.axis("X", "U", op.x, self.x) + self.axis("Z", "W", op.z, self.z)
        if not self.in_contour and self.chance(self.form.repeat_axes):
            words += [self.length("X", self.x)] if op.x is None and self.x is not None else []
            words += [self.length("Z", self.z)] if op.z is None and self.z is not None else []
        self.x, self.z = self.x if op.x is None else op.x, self.z if op.z is None else op.z
        return Line(words + self.feed_word(feed), self.tag)

    def step(self, op: Step) -> Iterator[Line]:
        code = 0 if op.feed is None else 1
        known = self.x is not None and self.z is not None
        if known and not self.chance(self.form.incremental):
            assert self.x is not None and self.z is not None
            goal = Move(self.x + op.u if op.u else None, self.z + op.w if op.w else None)
            yield self.straight(goal, code, op.feed)
            return
        words = self.motion_word(code)
        words += [self.length("U", op.u)] if op.u else []
        words += [self.length("W", op.w)] if op.w else []
        if known:
            assert self.x is not None and self.z is not None
            self.x, self.z = self.x + op.u, self.z + op.w
        yield Line(words + self.feed_word(op.feed), self.tag)

    def motion_word(self, code: int) -> list[Word]:
        if self.motion == code and not self.chance(self.form.repeat_motion):
            return []
        self.motion = code
        return [_g(code)]

    def feed_word(self, feed: Decimal | None) -> list[Word]:
        if feed is None or (self.feed == feed and not self.chance(self.form.repeat_feed)):
            return []
        self.feed = feed
        return [self.f(feed)]

    def axis(self, letter: str, relative: str, goal: Decimal | None, here: Decimal | None) -> list[Word]:
        if goal is None:
            return []
        if here is not None and self.chance(self.form.incremental):
            return [self.length(relative, goal - here)]
        return [self.length(letter, goal)]

    def arc(self, op: Arc) -> Iterator[Line]:
        words = self.motion_word(2 if op.clockwise else 3)
        words += self.axis("X", "U", op.x, self.x) + self.axis("Z", "W", op.z, self.z)
        if self.chance(self.form.arc_by_centre):
            words += [self.length("I", op.i)] if op.i else []
            words += [self.length("K", op.k)] if op.k else []
        else:
            words.append(self.length("R", op.r))
        self.x, self.z = op.x, op.z
        yield Line(words + self.feed_word(op.feed), self.tag)

    def plain(self, words: list[Word]) -> Iterator[Line]:
        yield Line(words, self.tag)

    def dwell(self, op: Dwell) -> Iterator[Line]:
        yield Line([_g(4), Word("P", op.milliseconds, "whole")], self.tag)

    def skipped(self, op: Skipped) -> Iterator[Line]:
        """After it nothing but the block itself may be taken to be in force."""
        (*before, line) = self.op(op.op)  # a rapid said again in front of it needs no mark
        line.skip = op.level
        yield from (*before, line)
        if not isinstance(op.op, Stop | Dwell | Code | Coolant):
            self.motion = self.feed = self.x = self.z = None

    def call(self, op: Call) -> Iterator[Line]:
        ops = self.job.subprograms[op.number]
        if self.form.calls == "inline":
            for _ in range(op.times):
                for part in ops:
                    yield from self.op(part)
            return
        p = Word("P", op.number, "whole")
        if self.form.calls == "unrolled" or op.times == 1:
            for _ in range(op.times):
                yield Line([_m(98), p], self.tag)
        elif self.form.calls == "leading":
            yield Line([_m(98), Word("P", op.times * 10000 + op.number, "whole")], self.tag)
        else:
            yield Line([_m(98), p, Word("L", op.times, "whole")], self.tag)
        self.motion = self.feed = None
        if self.x is not None and self.z is not None:
            self.x += sum((part.u for part in ops if isinstance(part, Step)), Decimal(0)) * op.times
            self.z += sum((part.w for part in ops if isinstance(part, Step)), Decimal(0)) * op.times

    # -- cycles -----------------------------------------------------------------------------------------------------------

    def single(
        self, code: int, first: list[Word], rest: list[list[Word]], taper: Decimal, feed: Decimal
    ) -> Iterator[Line]:
        words = [_g(code), *first, *([self.length("R", taper)] if taper else [])]
        yield Line([*words, self.f(feed)], self.tag)
        for more in rest:
            yield Line(more, self.tag)
        self.motion, self.feed = None, feed

    def turn(self, op: Turn) -> Iterator[Line]:
        x, z = self.x, self.z
        first, *rest = [self.axis("X", "U", d, x) for d in op.diameters]
        yield from self.single(90, [*first, *self.axis("Z", "W", op.z, z)], rest, op.taper, op.feed)

    def face(self, op: Face) -> Iterator[Line]:
        x, z = self.x, self.z
        first, *rest = [self.axis("Z", "W", place, z) for place in op.places]
        yield from self.single(94, [*self.axis("X", "U", op.x, x), *first], rest, op.taper, op.feed)

    def thread_passes(self, op: ThreadPasses) -> Iterator[Line]:
        first, *rest = [self.axis("X", "U", d, self.x) for d in op.diameters]
        yield from self.single(92, [*first, *self.axis("Z", "W", op.z, self.z)], rest, Decimal(0), op.lead)

    def groove(self, op: Groove) -> Iterator[Line]:
        code = 74 if op.along_z else 75
        amounts = {"X": op.step, "Z": op.peck} if op.along_z else {"X": op.peck, "Z": op.step}
        words = [_g(code)]
        if not op.along_z or amounts["X"] is not None:
            words += self.axis("X", "U", op.x, self.x)
        if op.along_z or amounts["Z"] is not None:
            words += self.axis("Z", "W", op.z, self.z)
        if self.form.one_block:
            letters = {"X": "I", "Z": "K"}
            words += [self.length(letters[a], value) for a, value in amounts.items() if value is not None]
        else:
            letters = {"X": "P", "Z": "Q"}
            words += [self.increments(letters[a], value) for a, value in amounts.items() if value is not None]
        yield Line([_g(code), self.length("R", op.retract)], self.tag)
        yield Line([*words, self.f(op.feed)], self.tag)
        self.motion = self.feed = None

    def thread_cycle(self, op: ThreadCycle) -> Iterator[Line]:
        ends = [*self.axis("X", "U", op.x, self.x), *self.axis("Z", "W", op.z, self.z)]
        # A first line stays in force: after one, the one-block form would take its amounts from there.
        if self.form.one_block and op.of_profile and not self.thread_line:
            yield Line(
                [_g(76), *ends, self.length("K", op.height), self.length("D", op.first), Word("A", op.angle, "whole"), self.f(op.lead)],
                self.tag,
            )  # fmt: skip
        else:
            self.thread_line = True
            code = op.finish_passes * 10000 + op.pull_out_tenths * 100 + op.angle
            first = [_g(76), Word("P", code, "six"), self.increments("Q", op.minimum), self.length("R", op.allowance)]
            yield Line(first, self.tag)
            yield Line(
                [_g(76), *ends, self.increments("P", op.height), self.increments("Q", op.first), self.f(op.lead)],
                self.tag,
            )
        self.motion = self.feed = None

    def rough(self, op: Rough) -> Iterator[Line]:
        code = 73 if op.passes else 72 if op.along_x else 71
        labels = [Word("P", op.label, "label"), Word("Q", op.label + 1, "label")]
        allowances = [self.length("U", op.allowance_x), self.length("W", op.allowance_z)]
        first: list[Word] = []
        one: list[Word] = []
        if op.passes:
            first = [self.length("U", op.escape_x), self.length("W", op.escape_z), Word("R", op.passes, "whole")]
            one = [self.length("I", op.escape_x), self.length("K", op.escape_z), Word("D", op.passes, "whole")]
        else:
            first = [self.length("W" if op.along_x else "U", op.depth)]
            first += [self.length("R", op.retract)] if op.retract else []
            one = [self.length("D", op.depth)] if not op.retract else []
        here = (self.x, self.z)
        if self.form.one_block and one:
            yield Line([_g(code), *labels, *allowances, *one, self.f(op.feed)], self.tag)
        else:
            yield Line([_g(code), *first], self.tag)
            yield Line([_g(code), *labels, *allowances, self.f(op.feed)], self.tag)
        yield from self.contour(op)
        self.x, self.z = here
        if op.finish:
            yield Line([_g(70), *labels], self.tag)
        self.motion = self.feed = None

    def contour(self, op: Rough) -> Iterator[Line]:
        self.motion = self.feed = None
        self.in_contour = True
        made = [line for part in op.contour for line in self.op(part)]
        self.in_contour = False
        made[0].number, made[-1].number = -op.label, -(op.label + 1)
        yield from made


_WRITERS = {
    Move: _Writer.move,
    ThreadMove: _Writer.move,
    Step: _Writer.step,
    Arc: _Writer.arc,
    Dwell: _Writer.dwell,
    Stop: lambda w, op: w.plain([_m(op.code)]),
    Coolant: lambda w, op: w.plain([_m(8 if op.on else 9)]),
    Speed: lambda w, op: w.plain([w.s(op.value)]),
    Code: lambda w, op: w.plain([_m(op.number)]),
    Skipped: _Writer.skipped,
    Call: _Writer.call,
    Turn: _Writer.turn,
    Face: _Writer.face,
    ThreadPasses: _Writer.thread_passes,
    Groove: _Writer.groove,
    ThreadCycle: _Writer.thread_cycle,
    Rough: _Writer.rough,
}
