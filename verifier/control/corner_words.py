"""Corner and angle words of a block: chamfers and rounds to the next move, and ends that follow from an angle.

`,C` `,R` `,A`, the same letters without a comma, and I and K as chamfers, as the choice "corner-words" says. Amounts lie in the plane (C, R, I and K
are radius values); an angle is in degrees from +Z towards +X. A corner rests on its block and on the next move's. Source: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from verifier.control.arc_words import centre_of
from verifier.control.codes import MODAL
from verifier.control.context import Ahead, Context, Target, has_axis_words, target
from verifier.control.corners import Corner, CornerRefused, Piece, chamfer, lines_by_angle, rounding
from verifier.control.exact import cosine_sine
from verifier.control.instruction import Instruction, canonical
from verifier.control.numbers import least_increment, length
from verifier.control.state import Coordinate
from verifier.control.strokes import Kind, Point
from verifier.syntax import Word

Place = tuple[Coordinate, Coordinate]

_KINDS = {"G01": Kind.FEED, "G02": Kind.ARC_CW, "G03": Kind.ARC_CCW}
_PLAIN = ("C", "R", "I", "K")
_NOT_SIMULATED = {
    "Y": "the Y axis",
    "V": "the Y axis (V is its increment)",
    "B": "the B axis or the second spindle's slide (B)",
}


def leftover(ctx: Context, ins: Instruction) -> str:
    """What stands in the block beside the words that were understood: a remark on the move, and an entry among the unchecked."""
    left = ins.left()
    if not left:
        return ""
    ins.used.update(word.letter for word in left)
    text = canonical(left)
    other = [word.letter for word in left if word.letter in _NOT_SIMULATED]
    plain = "this word is not executed on a move" if has_axis_words(ins) else "this word is not executed here"
    reason = f"{_NOT_SIMULATED[other[0]]} is not simulated here" if other else plain
    ctx.record.unknown(text, reason, ctx.block)
    return text


# -- which words count --------------------------------------------------------------------------------------------------


def _corner_word(ctx: Context, ins: Instruction, kind: Kind) -> Word | None:
    """The word that asks for a corner behind this move, or None."""
    if kind not in _KINDS.values():
        return None
    commas = [ins.words[letter] for letter in (",C", ",R") if letter in ins.words]
    plain = [ins.words[k] for k in _PLAIN if k in ins.words and k not in ins.used] if kind is Kind.FEED else []
    plain = [word for word in plain if not (word.letter == "C" and "C" in ctx.machine.axes)]
    if not commas and not plain:
        return None
    choice = ctx.assume("corner-words")
    found = (commas if choice != "letter" else []) + (plain if choice != "comma" else [])
    if len(found) > 1:
        raise CornerRefused("corner-not-possible", f"{canonical(found)}: only one corner fits between two moves")
    return found[0] if found else None


def angle_word(ctx: Context, ins: Instruction) -> Word | None:
    """The word that gives the angle of a line, or None."""
    comma, plain = ins.words.get(",A"), ins.words.get("A")
    if comma is None and plain is None:
        return None
    choice = ctx.assume("corner-words")
    return (comma if choice != "letter" else None) or (plain if choice != "comma" else None)


def names_line(ctx: Context, ins: Instruction) -> bool:
    """Whether a block without axis words is a line by its angle, whose end the next block gives."""
    return ctx.modal.values.get("motion") == "G01" and angle_word(ctx, ins) is not None


def _degrees(ctx: Context, word: Word) -> Fraction:
    if word.number is None:
        raise CornerRefused("", "the value of the angle is not known here")
    if word.number.pointed or ctx.assume("number-without-point") == "whole-units":
        return word.number.value
    return word.number.value / 1000  # the least increment of an angle: common practice, no source


# -- ends by an angle ---------------------------------------------------------------------------------------------------


def angled(ctx: Context, ins: Instruction, goal: Target) -> Target:
    """The end of a line with an angle word: the axis not named follows from the angle, or both from the next block."""
    word = angle_word(ctx, ins)
    if word is None:
        return goal
    ins.used.add(word.letter)
    start = ctx.counted_from()
    try:
        return _angled(ctx, ins, goal, start, word, 0)
    except CornerRefused as refusal:
        text = canonical([word])
        if refusal.code:
            ctx.fault(refusal.code, f"{word.text}: {refusal.reason}", word.text)
        ctx.unexecuted(f"line by {text}", refusal.reason)
        x = goal.x if "X" in goal.named else goal.x.through(f"X by {text}")
        z = goal.z if "Z" in goal.named else goal.z.through(f"Z by {text}")
        here = ctx.origin
        return Target(x, z, goal.x_origin if x == goal.x else here, goal.z_origin if z == goal.z else here, goal.named)


def _angled(ctx: Context, ins: Instruction, goal: Target, start: Place, word: Word, behind: int) -> Target:
    """`behind`: which block to come gives the end of a line that has none (0: the next one)."""
    _in_plane(ctx)
    angle = _degrees(ctx, word)
    cosine, sine = cosine_sine(angle)
    if not goal.named:
        return _meeting(ctx, goal, start, angle, behind)
    if goal.named == ("X",):
        _same_bases(start[0], goal.x)
        if sine == 0:
            raise CornerRefused("angle-not-possible", "a line along Z does not reach another X")
        away = round((goal.x.ticks - start[0].ticks) * cosine / sine)
        return replace(goal, z=start[1].plus(away), z_origin=ctx.record.origin(ctx.block, goal.x_origin, goal.z_origin))
    if goal.named == ("Z",):
        _same_bases(start[1], goal.z)
        if cosine == 0:
            raise CornerRefused("angle-not-possible", "a line along X does not reach another Z")
        away = round((goal.z.ticks - start[1].ticks) * sine / cosine)
        return replace(goal, x=start[0].plus(away), x_origin=ctx.record.origin(ctx.block, goal.z_origin, goal.x_origin))
    _agrees(ctx, start, goal, (cosine, sine))
    return goal


def _agrees(ctx: Context, start: Place, goal: Target, way: tuple[Fraction, Fraction]) -> None:
    """Beside both axis words the angle says nothing new: it must be that of the line."""
    if any(a.base != b.base for a, b in zip(start, goal.point, strict=True)):
        return
    dx, dz = goal.x.ticks - start[0].ticks, goal.z.ticks - start[1].ticks
    if abs(dz * way[1] - dx * way[0]) > 2 * least_increment(ctx.machine, ctx.units):
        raise CornerRefused("angle-not-possible", "the line to the point named has another angle")


def _meeting(ctx: Context, goal: Target, start: Place, angle: Fraction, behind: int) -> Target:
    """A line by its angle alone: it ends where the line of the next block, by its own angle to its own end, meets it."""
    coming = _coming(ctx, behind)
    word = angle_word(ctx, coming.ins)
    if (
        word is None
        or _motion(ctx, coming.ins) != "G01"
        or coming.ins.has("UW")
        or not (coming.ins.has("X") and coming.ins.has("Z"))
    ):
        raise CornerRefused(
            "angle-line-without-end", "the next block must name X, Z and the angle of its own line for the two to meet"
        )
    with ctx.quietly():
        end = target(ctx, coming.ins, start)
        other = _degrees(ctx, word)
    for a, b in zip(start, end.point, strict=True):
        _same_bases(a, b)
    meet = lines_by_angle(
        Point(start[0].ticks, start[1].ticks), cosine_sine(angle), Point(end.x.ticks, end.z.ticks), cosine_sine(other)
    )
    both = ctx.record.origin(ctx.block, ctx.record.origin(coming.block, ctx.governed_by))
    return Target(
        Coordinate(start[0].base, meet.x),
        Coordinate(start[1].base, meet.z),
        ctx.record.origin(ctx.block, goal.x_origin, both),
        ctx.record.origin(ctx.block, goal.z_origin, both),
        ("X", "Z"),
    )


# -- moves with their corners -------------------------------------------------------------------------------------------


def go(ctx: Context, ins: Instruction, kind: Kind, goal: Target, centre: Point | None = None, remark: str = "") -> None:
    """Make a block's move and the corner behind it."""
    start = ctx.counted_from()
    word: Word | None = None
    corner: _Made | None = None
    try:
        word = _corner_word(ctx, ins, kind)
        if word is not None:
            ins.used.add(word.letter)
            corner = _made(ctx, kind, goal, start, centre, word)
    except CornerRefused as refusal:
        remark = " ".join(filter(None, (remark, _refused(ctx, ins, word, refusal))))
    remark = " ".join(filter(None, (remark, leftover(ctx, ins))))
    motion = ctx.modal.origins.get("motion", -1)
    if corner is None:
        ctx.travel(
            kind, goal.point, origins=(goal.x_origin, goal.z_origin), centre=centre, remark=remark, motion_origin=motion
        )
        return
    first = ctx.record.count
    origins = corner.origins
    ctx.travel(kind, corner.start, origins=origins, centre=centre, remark=remark, motion_origin=motion)
    ctx.travel(corner.kind, corner.end, origins=origins, centre=corner.centre, motion_origin=origins[0])
    ctx.record.mark_ends(first)
    ctx.corner = (goal.point, corner.end)


@dataclass(frozen=True, slots=True)
class _Made:
    """A corner as moves: where it starts and ends, and who set that (its own block and the next move's)."""

    kind: Kind
    start: Place
    end: Place
    centre: Point | None
    origins: tuple[int, int]


def _refused(ctx: Context, ins: Instruction, word: Word | None, refusal: CornerRefused) -> str:
    words = [word] if word is not None else [ins.words[k] for k in (",C", ",R", *_PLAIN) if k in ins.words]
    ins.used.update(one.letter for one in words)
    text = canonical(words)
    if refusal.code:
        ctx.fault(refusal.code, f"{text}: {refusal.reason}", words[0].text)
    ctx.record.unknown(text, refusal.reason, ctx.block)
    return text


def _made(ctx: Context, kind: Kind, goal: Target, start: Place, centre: Point | None, word: Word) -> _Made | None:
    """The corner between this move and the next; None where the two go on without one."""
    _in_plane(ctx)
    size = _size(ctx, word)
    coming = _coming(ctx, 0)
    if coming.passed:
        ctx.record.unknown(
            f"{canonical([word])} before {coming.passed}",
            "a block without motion stands between a corner and its next move: some controls stop with an alarm",
            ctx.block,
        )
    here = ctx.position()  # where the move really starts: behind the corner before, if there was one
    two, beyond = _next_piece(ctx, coming, goal)
    for axis in (0, 1):
        _same_bases(here[axis], goal.point[axis])
        _same_bases(goal.point[axis], beyond[axis])
    one = Piece(kind, Point(here[0].ticks, here[1].ticks), Point(goal.x.ticks, goal.z.ticks), centre)
    if kind.arc and centre is None:
        raise CornerRefused("", "the arc before the corner is not known")
    _directed(word, one, two, size)
    found = _shape(word, one, two, abs(size))
    if found is None:
        return None
    both = ctx.record.origin(coming.block, ctx.governed_by)
    bases = goal.x.base, goal.z.base
    return _Made(
        found.kind,
        (Coordinate(bases[0], found.start.x), Coordinate(bases[1], found.start.z)),
        (Coordinate(bases[0], found.end.x), Coordinate(bases[1], found.end.z)),
        found.centre,
        (
            ctx.record.origin(ctx.block, goal.x_origin, both),
            ctx.record.origin(ctx.block, goal.z_origin, both),
        ),
    )


def _shape(word: Word, one: Piece, two: Piece, size: int) -> Corner | None:
    if size == 0:
        return None
    return rounding(one, two, size) if word.letter in ("R", ",R") else chamfer(one, two, size)


def _size(ctx: Context, word: Word) -> int:
    if word.number is None:
        raise CornerRefused("", "the size of the corner is not known here")
    if not word.number.pointed and word.number.mantissa:
        ctx.assume("number-without-point")
    if word.number.mantissa < 0 and word.letter.startswith(","):
        raise CornerRefused("corner-not-possible", "a corner below zero")
    return length(word.number, ctx.units, ctx.machine)


def _directed(word: Word, one: Piece, two: Piece, size: int) -> None:
    """Without a comma a corner stands between moves along one axis each, and a sign says which way the next one goes."""
    if word.letter.startswith(","):
        return
    first = (one.end.x - one.start.x, one.end.z - one.start.z)
    then = (two.end.x - two.start.x, two.end.z - two.start.z)
    square = not two.kind.arc and 0 in first and 0 in then and first[0] * then[0] + first[1] * then[1] == 0
    if not square or first == (0, 0) or then == (0, 0):
        raise CornerRefused(
            "corner-not-possible", "without a comma a corner stands only between two moves along one axis each"
        )
    if word.letter == ("I" if then[1] else "K"):
        raise CornerRefused("corner-not-possible", "I leads to a move along X, K to one along Z")
    signed = word.letter in ("I", "K") or size < 0
    if signed and (sum(then) > 0) != (size > 0):
        raise CornerRefused("corner-not-possible", "its sign says that the next move goes the other way")


def _next_piece(ctx: Context, coming: Ahead, goal: Target) -> tuple[Piece, Place]:
    """The move that the block to come makes from the corner, read without making it."""
    motion = _motion(ctx, coming.ins)
    if motion not in _KINDS:
        raise CornerRefused("corner-without-next-move", "the next move is none at feed (G01, G02 or G03)")
    kind = _KINDS[motion]
    with ctx.quietly():
        end = target(ctx, coming.ins, goal.point)
        word = angle_word(ctx, coming.ins) if kind is Kind.FEED else None
        if word is not None:
            end = _angled(ctx, coming.ins, end, goal.point, word, 1)
        centre, wrong = centre_of(ctx, coming.ins, kind, goal.point, end) if kind.arc else (None, "")
    if kind.arc and centre is None:
        raise CornerRefused("", f"the arc behind the corner is not known{': ' if wrong else ''}{wrong}")
    return Piece(kind, Point(goal.x.ticks, goal.z.ticks), Point(end.x.ticks, end.z.ticks), centre), end.point


def _coming(ctx: Context, count: int) -> Ahead:
    found = ctx.ahead(count)
    if found is None:
        raise CornerRefused("corner-without-next-move", "no next move follows that it could lead to")
    return found


def _motion(ctx: Context, ins: Instruction) -> str | None:
    codes = [code for code, _ in ins.g if MODAL.get(code, ("",))[0] == "motion"]
    value: str | None = codes[-1] if codes else ctx.modal.values.get("motion")
    return value


def _in_plane(ctx: Context) -> None:
    if ctx.modal.values["plane"] in ("G17", "G19"):
        raise CornerRefused(
            "corner-in-other-plane", f"the plane is {ctx.modal.values['plane']}, not that of X and Z (G18)"
        )


def _same_bases(one: Coordinate, other: Coordinate) -> None:
    if one.base != other.base:
        raise CornerRefused("", "one of the places that it rests on is not known here")
