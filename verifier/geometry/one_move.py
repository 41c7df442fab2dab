"""One move of a sweep: what it takes off, what it meets, and what of it cannot be judged."""

from __future__ import annotations

from fractions import Fraction
from math import inf

import numpy as np
import shapely

from verifier.control import Kind, Trace
from verifier.geometry.nearby import known, nearby
from verifier.geometry.part import (
    BLADE_SIDEWAYS,
    BODY_INTO_KEEP_OUT,
    BODY_INTO_MATERIAL,
    BORE_LEFT_SIDEWAYS,
    CHANGE_NEAR,
    CUT_FREE,
    DRILL_PAST_FLUTE,
    INTO_KEEP_OUT,
    LOOSE_PIECE_MET,
    NEIGHBOUR_MET,
    RAPID_INTO_MATERIAL,
    SWING_MET,
    Contact,
    ThreadPass,
    doubts_of,
    stock_section,
    zone_section,
)
from verifier.geometry.paths import Path, Paths
from verifier.geometry.place import Places
from verifier.geometry.plunge import Plunge, goes_on
from verifier.geometry.progress import Progress
from verifier.geometry.section import THIN, Box, Geometries, Meeting, Section, box_of, meeting, overlap
from verifier.geometry.sweep import folded, swept_body, swept_path
from verifier.geometry.taken import Taken
from verifier.geometry.tool_changes import ToolChange
from verifier.geometry.tool_outline import Points, ToolOutline, tool_outline, works_inside
from verifier.geometry.turret import WHAT, TurretRoom
from verifier.machines import Machine, Setup, Stock, Tool

_CATCHERS = ("catcher", "quill", "tailstock", "sub-chuck", "sub-spindle")
_READY = ("out", "forward", "on", "closed", "clamped")
_ON_CENTRE = 1e-6
_FAR_SIDE = 1.0
"""How far past the centre line a tool may face, in mm, before it works on the other side."""


class OneMove:
    """A trace on its way through the stock of a setup sheet, and how far it has come (`Progress`)."""

    def __init__(self, trace: Trace, machine: Machine, setup: Setup, stock: Stock) -> None:
        self._trace, self._setup = trace, setup
        self._places = Places(trace, machine, setup)
        self._stock = stock_section(stock)
        self._outlines = {station: tool_outline(tool) for station, tool in setup.tools.items()}
        zones = setup.work_holding.keep_out if setup.work_holding is not None else ()
        self._zones = [(zone.name, zone_section(zone)) for zone in zones]
        self._zone_boxes = [box_of(area) for _, area in self._zones]
        self._room = TurretRoom(setup, self._outlines)
        self._now = Progress(Section(self._stock))
        self._now.uncertain |= {(gap.what, gap.reason) for gap in doubts_of(stock) if gap.cuts}
        self._held = float(shapely.bounds(self._stock)[0])
        reach = shapely.total_bounds([self._stock, *(area for _, area in self._zones)])
        self._outermost = float(reach[3])
        self._nearby = nearby(trace, self._places, self._outlines, self._room, reach)
        rows = np.flatnonzero(self._nearby.near & known(trace, self._places, self._outlines))
        self._paths = Paths(trace, self._places, machine, self._outlines, rows)
        self._columns = np.zeros((len(trace.moves), 4))
        self._taken = Taken(self._columns)
        self._unswept = np.zeros(len(trace.moves), np.bool_)
        self._hulls: dict[int, Points] = {}
        self._put_off: list[int] = []
        self._plunge = Plunge()
        self._took = False
        """Whether the last cut took something off: where it took nothing, the next one on its line hardly goes through nothing but material."""
        self._told = 0

    def _gap(self, what: str, reason: str, move: int, *, cuts: bool) -> None:
        first, count = self._now.gaps.get((what, reason), (move, 0))
        self._now.gaps[(what, reason)] = (first, count + 1)
        self._told += 1
        if cuts:
            self._unswept[move] = True
            self._now.uncertain.add((what, reason))

    def _move(self, k: int, kind: Kind, tool: Tool, outline: ToolOutline) -> None:
        path = self._paths.of(k)
        if kind is Kind.RAPID and self._is_clear(tool, path.way):
            return
        self._keep_outs(k, INTO_KEEP_OUT, path.swept, path.box)
        self._loose(k, path)
        if kind is Kind.RAPID or tool.kind == "threading":
            self._plunge.end(self._now.section, path.box[0], path.box[2])
        if kind is Kind.RAPID:
            self._rapid(k, tool, path)
        elif tool.kind == "threading":
            self._threading(k, kind, tool, outline, path)
        elif kind is Kind.THREAD:
            self._gap(f"T{tool.station}", f"a thread cut with a tool of kind {tool.kind}", k, cuts=True)
        elif self._may_cut(k, tool, path):
            self._cut(k, tool, path)
            start, *more = path.way.tolist()
            # A feed that goes nowhere has no line to come back on.
            self._now.cleared = (tool.station, start, more[0]) if len(more) == 1 and start != more[0] else None
        for body in outline.bodies:
            self._body(k, body, path.way)

    def _is_quiet(self, k: int, kind: Kind, tool: Tool, outline: ToolOutline) -> bool:
        """Go over a move, and tell whether all that it did was to take off what is told in the columns: nothing met, said or to be remembered."""
        before = self._told, len(self._now.contacts)
        self._move(k, kind, tool, outline)
        return (self._told, len(self._now.contacts)) == before and tool.kind not in ("drill", "threading")

    def _up_to_date(self, low: float = -inf, high: float = inf) -> None:
        """Take off all that is told and not yet taken off, as far as it reaches between two places on Z."""
        self._plunge.end(self._now.section, low, high)
        self._caught_up(low, high)

    def _caught_up(self, low: float, high: float) -> None:
        """Take off what cuts that were put off took, as far as they reach between two places on Z."""
        stretch = self._nearby.stretch
        due = [k for k in self._put_off if stretch[k, 0] <= high and stretch[k, 1] >= low]
        if due:
            reached = set(due)
            self._put_off = [k for k in self._put_off if k not in reached]
            for swept, box in self._paths.swept(due):
                self._now.section.take(swept, box)

    def _body(self, k: int, body: Points, way: Points) -> None:
        """What a holder or a shank meets. The hull around it, which is quick to move, meets at least as much."""
        hull = folded(swept_path(self._hull(body), way))
        box = box_of(hull)
        self._plunge.end(self._now.section, box[0], box[2])
        zones = any(overlap(around, box) for around in self._zone_boxes)
        if not zones and not self._now.section.touches(hull, box):
            return
        area = folded(swept_body(body, way))
        box = box_of(area)
        self._keep_outs(k, BODY_INTO_KEEP_OUT, area, box)
        found = self._now.section.meets(area, box)
        if found is not None:
            self._material(k, BODY_INTO_MATERIAL, found)

    def _hull(self, body: Points) -> Points:
        """The convex polygon around a body, anticlockwise."""
        found = self._hulls.get(id(body))
        if found is None:
            around = shapely.convex_hull(shapely.multipoints(body))
            found = shapely.get_coordinates(shapely.orient_polygons(around))[:-1]
            self._hulls[id(body)] = found
        return found

    def _is_clear(self, tool: Tool, way: Points) -> bool:
        """Whether a rapid stays on the straight line that this tool has just cut, as a retract of a peck does: it can meet nothing there."""
        if self._now.cleared is None or self._now.cleared[0] != tool.station:
            return False
        _, (z0, r0), (z1, r1) = self._now.cleared
        line_z, line_r = z1 - z0, r1 - r0
        long = line_z * line_z + line_r * line_r
        for z, r in way.tolist():
            along = (z - z0) * line_z + (r - r0) * line_r
            aside = (z - z0) * line_r - (r - r0) * line_z
            if abs(aside) > 1e-9 * max(long, 1.0) or not -1e-9 <= along <= long:
                return False
        return True

    def _threading(self, k: int, kind: Kind, tool: Tool, outline: ToolOutline, path: Path) -> None:
        if kind is Kind.THREAD:
            groove = path.swept if outline.groove is None else swept_path(outline.groove, path.way)
            self._now.threads.append(groove)
            self._thread(k, tool)
        elif self._beside_threads(path) is not None:
            self._gap(f"T{tool.station}", "a feed of a threading tool into material is not swept", k, cuts=True)

    def _beside_threads(self, path: Path) -> Meeting | None:
        """What a threading tool meets beside the grooves that its passes have cut: its way out leads through them."""
        found = self._now.section.meets(path.swept, path.box)
        if found is not None and self._now.threads:
            found = self._now.section.meets(shapely.difference(path.swept, shapely.union_all(self._now.threads)))
        return found

    def _thread(self, k: int, tool: Tool) -> None:
        state = self._trace.states[int(self._trace.moves.state[k])]
        if not isinstance(state.feed, Fraction) or isinstance(state.lead_change, str):
            self._gap(f"T{tool.station}", "a thread whose lead is not known", k, cuts=True)
            return
        (z0, r0), (z1, r1) = self._places.start[k].tolist(), self._places.end[k].tolist()
        inside = tool.orientation == 6
        self._now.passes.append(
            ThreadPass(k, (z0, r0), (z1, r1), state.feed, state.lead_change, state.start_angle, state.sense, inside)
        )

    def _material(self, k: int, kind: str, found: Meeting) -> None:
        """Material is met; after a cut that was not swept it may not be there any more, and nothing is said of it but that."""
        if self._now.uncertain:
            reason = "material where an earlier cut could not be swept: whether it is still there is not known"
            self._gap(kind, reason, k, cuts=False)
        else:
            self._now.contacts.append(Contact(kind, k, "", found.deep, found))

    def _rapid(self, k: int, tool: Tool, path: Path) -> None:
        threading = tool.kind == "threading"
        found = self._beside_threads(path) if threading else self._now.section.meets(path.swept, path.box)
        if found is not None:
            self._material(k, BORE_LEFT_SIDEWAYS if self._leaves_bore(k, tool) else RAPID_INTO_MATERIAL, found)

    def _leaves_bore(self, k: int, tool: Tool) -> bool:
        """Whether a move of a tool for bores goes outward from where there is a wall around it."""
        (z, r), (_, out) = self._places.start[k].tolist(), self._places.end[k].tolist()
        if out <= r or not works_inside(tool):
            return False
        outward = shapely.linestrings([(z, r), (z, max(self._outermost, r) + 1)])
        return float(shapely.length(shapely.intersection(outward, self._now.section.whole()))) > THIN

    def _keep_outs(self, k: int, kind: str, swept: shapely.Geometry, box: Box) -> None:
        for (name, zone), around in zip(self._zones, self._zone_boxes, strict=True):
            if overlap(around, box) and shapely.intersects(zone, swept):
                found = meeting(np.array([shapely.intersection(zone, swept)], object))
                if found is not None:
                    self._now.contacts.append(Contact(kind, k, name, found.deep, found))

    # -- the turret around the tool -------------------------------------------------------------------------------------

    def _neighbours(self, k: int, kind: Kind, station: int) -> None:
        for name, passed in self._room.beside(station, self._paths.way(k)):
            self._turret_meets(k, NEIGHBOUR_MET, name, passed)

    def _turret_meets(self, at: int, kind: str, name: str, area: shapely.Geometry) -> None:
        box = box_of(area)
        self._up_to_date(box[0], box[2])
        found = None if self._now.uncertain else self._now.section.meets(area, box)
        if found is not None:
            self._now.contacts.append(Contact(kind, at, f"{name} and the piece", found.deep, found))
        for zone, section in self._zones:
            found = meeting(np.array([shapely.intersection(section, area)], object))
            if found is not None:
                self._now.contacts.append(Contact(kind, at, f"{name} and {zone}", found.deep, found))

    def _change(self, change: ToolChange) -> None:
        """How far the turret stands from piece and keep-outs when it changes tools, and what its tools sweep while it does."""
        last, outline = change.at - 1, self._outlines.get(change.before)
        if not self._places.ends_known[last]:
            if self._setup.turret is not None:
                self._gap(
                    WHAT, "at a tool change the tool stands at a place that only the machine knows", last, cuts=False
                )
            return
        at = self._places.end[last]
        if isinstance(outline, ToolOutline) and not self._now.uncertain:
            here = shapely.union_all(
                [shapely.make_valid(shapely.polygons(s + at)) for s in (outline.edge, *outline.bodies)]
            )
            self._near_at_change(change.at, here)
        for name, ring in self._room.swing(change.before, at):
            self._turret_meets(change.at, SWING_MET, name, ring)

    def _near_at_change(self, at: int, tool: shapely.Geometry) -> None:
        self._up_to_date()
        things = [("", self._now.section.whole()), *self._zones]
        name, nearest = min(things, key=lambda thing: float(shapely.distance(thing[1], tool)))
        line = shapely.shortest_line(nearest, tool)
        if line is not None:
            z0, r0, z1, r1 = shapely.bounds(line).tolist()
            away = float(shapely.distance(nearest, tool))
            self._now.contacts.append(Contact(CHANGE_NEAR, at, name, away, Meeting(0.0, z0, z1, r0, r1)))

    # -- cuts -----------------------------------------------------------------------------------------------------------

    def _may_cut(self, k: int, tool: Tool, path: Path) -> bool:
        """Whether what the tool passes over is turned off; what is not is told where it meets material."""
        sense = self._trace.states[int(self._trace.moves.state[k])].sense
        radii = (float(self._places.start[k][1]), float(self._places.end[k][1]))
        why = ""
        if sense not in (None, "forward", "reverse"):
            why = f"the spindle is {sense}: what the tool takes off is no turned shape"
        elif tool.kind == "drill" and max(map(abs, radii)) > _ON_CENTRE:
            why = "a drill beside the centre line makes no turned shape"
        elif min(radii) < -_FAR_SIDE - 2 * float(tool.nose_radius or 0):
            why = "a cut on the far side of the centre line is not computed"
        far = why.startswith("a cut on the far side")
        if why:
            self._up_to_date(path.box[0], path.box[2])
        if why and (far or self._now.section.meets(path.swept, path.box) is not None):
            self._gap("cuts", why, k, cuts=True)
        self._told += bool(why)
        return not why

    def _let_go(self, k: int) -> None:
        """Pieces that this cut has parted from what is held, unless a catcher is out or a quill stands in front of them."""
        self._up_to_date()
        self._told += 1
        caught = any(
            word in name and state in _READY
            for name, state in self._trace.states[int(self._trace.moves.state[k])].auxiliaries
            for word in _CATCHERS
        )
        for piece in self._now.section.let_go(self._held):
            self._now.loose.append(piece)
            where = meeting(np.array([piece], object))
            if where is not None and not caught and self._now.uncertain:
                self._material(k, CUT_FREE, where)
            elif where is not None and not caught:
                self._now.contacts.append(Contact(CUT_FREE, k, "", where.z_to - where.z_from, where))

    def _loose(self, k: int, path: Path) -> None:
        for piece in self._now.loose:
            if shapely.intersects(piece, path.swept):
                found = meeting(np.array([shapely.intersection(piece, path.swept)], object))
                if found is not None:
                    self._material(k, LOOSE_PIECE_MET, found)

    def _cut(self, k: int, tool: Tool, path: Path) -> None:
        removed = self._going_on(tool, path) if self._took else None
        if removed is None:
            self._plunge.end(self._now.section, path.box[0], path.box[2])
            removed = self._now.section.cut(path.swept, path.box)
        self._took = removed is not None
        if removed is None:
            return
        way = self._places.end[k] - self._places.start[k]
        self._taken.add(k, removed, (float(way[0]), float(way[1])))
        # What is cut free was parted off, or turned away down to the centre line.
        if tool.kind == "parting" or (path.box[1] <= _ON_CENTRE and _box(removed)[1] <= _ON_CENTRE):
            self._let_go(k)
        if tool.kind in ("grooving", "parting"):
            self._sideways(k, tool, removed, way)
        elif tool.kind == "drill":
            self._flute(k, tool, removed)

    def _going_on(self, tool: Tool, path: Path) -> Geometries | None:
        """What a cut takes that goes on along the line of the last one, through nothing but material, and can cut nothing free."""
        line, way = self._now.cleared, path.way.tolist()
        if line is None or line[0] != tool.station or tool.kind == "parting" or path.box[1] <= _ON_CENTRE:
            return None
        if len(way) != 2 or not goes_on(line, *way):
            return None
        outline = self._outlines[tool.station]
        assert isinstance(outline, ToolOutline)
        found = self._plunge.goes_on(self._now.section, line, way[1], outline.edge)
        return None if found is None else np.array([found], object)

    def _sideways(self, k: int, tool: Tool, removed: Geometries, way: Points) -> None:
        side = float(way[1] if tool.plunges == "Z" else way[0])
        if abs(side) < 1e-6:
            return
        if tool.side_clearance is None:
            reason = "its side_clearance is not given: how deep it may be moved sideways is not checked"
            self._gap(f"T{tool.station}", reason, k, cuts=False)
            return
        z0, r0, z1, r1 = _box(removed)
        deep = z1 - z0 if tool.plunges == "Z" else r1 - r0
        if deep > float(tool.side_clearance) + 1e-3:
            self._now.contacts.append(
                Contact(BLADE_SIDEWAYS, k, "", deep - float(tool.side_clearance), _place_of(removed))
            )

    def _flute(self, k: int, tool: Tool, removed: Geometries) -> None:
        _, _, z1, r1 = _box(removed)
        entry = self._now.entry.setdefault(tool.station, z1)
        end = float(self._places.end[k][0])
        if tool.flute_length is None or entry - end <= float(tool.flute_length) + 1e-3:
            return
        past = entry - end - float(tool.flute_length)
        # What lies deeper than the flutes reach.
        where = Meeting(float(shapely.area(removed).sum()), end, end + past, 0.0, r1)
        self._now.contacts.append(Contact(DRILL_PAST_FLUTE, k, "", past, where))


def _box(parts: Geometries) -> Box:
    z0, r0, z1, r1 = shapely.total_bounds(parts).tolist()
    return z0, r0, z1, r1


def _place_of(parts: Geometries) -> Meeting:
    z0, r0, z1, r1 = _box(parts)
    return Meeting(float(shapely.area(parts).sum()), z0, z1, r0, r1)
