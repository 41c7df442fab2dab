"""Roughing cycles: level by level down to a contour, along Z (G71) or along X (G72).

One engine, seen in a frame: outside turning toward the spindle. The boundary of roughing is the contour moved by the
allowances: a translation, not an offset along the normal. Skeleton and signs are read in public sources; the details
(levels counted from the moved start point, 45-degree retract, last level at the boundary, one pass along it) are
common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control.cycles.frame import Frame, sign
from verifier.control.cycles.path import Path, pieces_of, shifted, shifted_segment, too_many
from verifier.control.cycles.pockets import boundary_from, cut_levels, openings
from verifier.control.cycles.profile import Profile, profile_of
from verifier.control.strokes import Beat, Contour, CycleFault, Expansion, Kind, Point, Segment

WORK_LIMIT = 4_000_000
"""Levels times pieces of contour that are followed where there are pockets; beyond it nobody would wait for the answer."""


@dataclass(frozen=True, slots=True)
class _Job:
    """A roughing cycle seen in its frame: where it starts, the moved start and contour, and the amounts."""

    start: Point
    begin: Point
    lead_in: Segment
    segments: tuple[Segment, ...]
    profile: Profile
    depth: int
    retract: int
    infeed: Kind
    pockets: bool

    @property
    def levels(self) -> tuple[int, ...]:
        """The X of every level, from the first one below the start down to the boundary."""
        whole = self.begin.x - self.profile.lowest
        count = pieces_of(whole, self.depth)
        return tuple(self.begin.x - min(number * self.depth, whole) for number in range(1, count + 1))


def rough_turn(
    start: Point,
    contour: Contour,
    depth: int,
    retract: int,
    allowance_x: int,
    allowance_z: int,
    infeed: Kind,
    pockets: bool,
) -> Expansion:
    """Rough down to the contour in cuts along Z; lengths in ticks, X as radius, allowances signed.

    `infeed` is how the tool goes to the next level (RAPID or FEED: the kind of the contour's first block). Outside or
    bore, and the Z direction, follow from where the contour lies as seen from `start`. Faults: "contour-too-short",
    "contour-kind", "contour-without-travel", "contour-turns-back", "contour-with-pocket", "start-inside-contour",
    "depth-not-positive", "amount-negative", "too-many-strokes".
    """
    return _rough(False, start, contour, depth, retract, (allowance_x, allowance_z), infeed, pockets)


def rough_face(
    start: Point,
    contour: Contour,
    depth: int,
    retract: int,
    allowance_x: int,
    allowance_z: int,
    infeed: Kind,
    pockets: bool,
) -> Expansion:
    """Rough down to the contour in cuts along X, levels along Z: `rough_turn` with the axes exchanged."""
    return _rough(True, start, contour, depth, retract, (allowance_x, allowance_z), infeed, pockets)


def _rough(
    swapped: bool,
    start: Point,
    contour: Contour,
    depth: int,
    retract: int,
    allowance: tuple[int, int],
    infeed: Kind,
    pockets: bool,
) -> Expansion:
    fault = _amount_fault(contour, depth, retract)
    if fault is not None:
        return fault
    frame = _frame(swapped, start, contour)
    if isinstance(frame, CycleFault):
        return frame
    job = _job(frame, start, contour, depth, retract, allowance, infeed, pockets)
    fault = _shape_fault(job)
    if fault is not None:
        return fault
    return frame.real_strokes(_levels_then_profile(job))


def _amount_fault(contour: Contour, depth: int, retract: int) -> CycleFault | None:
    if len(contour.segments) < 2:
        return CycleFault("contour-too-short", "a roughing contour needs a first point and at least one move from it")
    if depth <= 0:
        return CycleFault("depth-not-positive", "the depth of cut is not above zero")
    if retract < 0:
        return CycleFault("amount-negative", "the retract amount is unsigned")
    if any(s.kind is Kind.THREAD for s in contour.segments) or contour.segments[0].kind.arc:
        return CycleFault(
            "contour-kind", "the first block of a contour is a straight move, and no block of it a thread"
        )
    return None


def _frame(swapped: bool, start: Point, contour: Contour) -> Frame | CycleFault:
    """The frame in which the contour lies below the start and is followed toward -Z."""
    look = Frame(swapped, 1, 1)
    begin, points = look.seen(start), [look.seen(s.end) for s in contour.segments]
    far = max(points, key=lambda p: abs(p.z - begin.z))
    if far.z == begin.z:
        return CycleFault("contour-without-travel", "the contour never leaves the Z (facing: X) of the cycle's start")
    # Where the contour begins at the start's own depth, the side is the one it goes to afterwards.
    below = next((p for p in points if p.x != begin.x), begin)
    return Frame(swapped, sign(begin.x - below.x), sign(begin.z - far.z))


def _job(
    frame: Frame,
    start: Point,
    contour: Contour,
    depth: int,
    retract: int,
    allowance: tuple[int, int],
    infeed: Kind,
    pockets: bool,
) -> _Job:
    shift = frame.seen(Point(*allowance))
    segments = tuple(shifted_segment(s, shift.x, shift.z) for s in frame.seen_contour(contour).segments)
    begin = frame.seen(start)
    return _Job(
        start=begin,
        begin=shifted(begin, shift.x, shift.z),
        lead_in=segments[0],
        segments=segments[1:],
        profile=profile_of(segments[1:]),
        depth=depth,
        retract=retract,
        infeed=infeed,
        # The control tells the two forms apart by the first contour block: it names both axes where pockets are meant.
        pockets=pockets and contour.names_both_axes,
    )


def _shape_fault(job: _Job) -> CycleFault | None:
    profile = job.profile
    if profile.turns_back:
        return CycleFault("contour-turns-back", "the contour goes back against the direction of cutting")
    if job.begin.z < profile.first.z:
        return CycleFault("start-inside-contour", "the cycle starts behind the first point of the contour")
    if profile.falls and profile.lowest == profile.last.x and job.begin.x < job.start.x:
        # The allowance says on which side the stock is, and it is not the side of the start.
        return CycleFault("start-inside-contour", "the cycle starts inside the contour, where the finished part is")
    if profile.falls and not job.pockets:
        return CycleFault("contour-with-pocket", "the contour goes deeper again after it has risen")
    if job.pockets and _barred(job):
        return CycleFault("start-inside-contour", "the contour stands higher than the start between two pockets")
    count = pieces_of(job.begin.x - profile.lowest, job.depth)
    if job.pockets and count * len(profile.pieces) > WORK_LIMIT:
        return CycleFault(
            "too-many-strokes",
            f"{count} levels through a contour of {len(profile.pieces)} pieces are too many to follow",
        )
    most = 8 * count * (profile.falling_runs + 1) + len(profile.pieces) if job.pockets else 4 * count
    return too_many(most + len(job.segments) + 5, f"{count} levels; the depth of cut is too small")


def _barred(job: _Job) -> bool:
    """Whether the way at the start's X, from the front to the last pocket, is barred by the boundary."""
    pieces = boundary_from(job.begin.z, job.profile)
    found = openings(pieces, job.begin.x)
    return bool(found) and any(p.end.x > job.begin.x and p.end.z > found[-1].start.z for p in pieces)


def _levels_then_profile(job: _Job) -> tuple[Beat, ...]:
    path = Path(job.start)
    path.rapid(job.begin, "move off by the finish allowance")
    if job.pockets:
        cut_levels(path, job.profile, job.levels, job.retract, job.infeed)
        path.rapid(Point(path.at.x, job.begin.z), "back to the front")
    else:
        _cut_from_front(path, job)
    path.follow((job.lead_in,), "pass along the boundary: to its first point")
    path.follow(job.segments, "pass along the boundary")
    if job.profile.falls:
        # From inside a pocket the straight way back may lead through the part.
        path.rapid(Point(max(path.at.x, job.begin.x), path.at.z), "clear in depth")
    path.rapid(job.start, "return to start")
    return path.strokes


def _cut_from_front(path: Path, job: _Job) -> None:
    """The levels of a contour that only rises: infeed, cut up to the boundary, retract at 45 degrees, rapid back."""
    levels = job.levels
    for number, (level, reach) in enumerate(zip(levels, job.profile.reaches(levels), strict=True), start=1):
        if reach >= job.begin.z:
            continue  # The boundary stands in the way from the front: there is nothing to cut at this level.
        step = f"level {number} of {len(levels)}"
        path.move(job.infeed, Point(level, job.begin.z), f"{step}: infeed")
        path.feed(Point(level, reach), f"{step}: cut")
        path.rapid(shifted(path.at, job.retract, job.retract), f"{step}: retract")
        path.rapid(Point(path.at.x, job.begin.z), f"{step}: back")
