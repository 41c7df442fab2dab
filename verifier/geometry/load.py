"""What every cut of a turned part asks of tool, spindle and grip, and the roughness that it leaves: columns by move, and in words what is not known.

By Kienzle from the swarf's section: what the move takes off, measured on the swept part, times the feed of a revolution. Nothing is guessed:
without a material there is no force, without a known speed no power.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import NDArray

from verifier.control import Kind, Trace
from verifier.geometry.engagement import Edges, edge_angles, edge_in_cut, tool_edges
from verifier.geometry.finished import Surface, Ways, finished_surface, nose_columns, ways_of
from verifier.geometry.kienzle import cutting_force, cutting_power, power_at_cut
from verifier.geometry.part import Gap, TurnedPart
from verifier.geometry.place import Places
from verifier.geometry.surface import parabola, true_depth
from verifier.geometry.thread_load import ThreadCut, thread_cuts
from verifier.geometry.tool_outline import tool_outline
from verifier.geometry.turns import Turns, by_state, turns
from verifier.geometry.unmade import REASON, unmade
from verifier.machines import Machine, Setup, Tool

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Load:
    """Columns by move; with two columns, at its start and at its end. 0: the move cuts nothing; NaN: it is not known.

    `speed` of the spindle and `top_speed`, its greatest on the way, rev/min; `cutting_speed` in the middle of the swarf, m/min; `feed` mm/rev;
    `depth` of cut, mm; `section` of the swarf, mm2, and its `thickness`, mm; `force` N; `power` kW at the cut, `torque` N m, and `available`, what
    of the spindle's power arrives there at most. `finishes` tells whether the move leaves finished surface, `roughness` its theoretical
    depth Rt and `simple_roughness` the handbook's f^2/8r for it, micrometres (NaN where there is none); `surface` where it lies.
    """

    speed: Floats
    top_speed: Floats
    cutting_speed: Floats
    feed: Floats
    depth: Floats
    section: Floats
    thickness: Floats
    force: Floats
    power: Floats
    torque: Floats
    available: Floats
    finishes: NDArray[np.bool_]
    roughness: Floats
    simple_roughness: Floats
    surface: Surface
    threads: tuple[ThreadCut, ...]
    gaps: tuple[Gap, ...]

    @cached_property
    def cuts(self) -> NDArray[np.bool_]:
        """The moves that take something off."""
        return np.asarray(self.depth > 0, np.bool_)


def cutting_load(trace: Trace, machine: Machine, setup: Setup, part: TurnedPart) -> Load:
    """The load of every move of the first pass. `part` is what the trace turns on that machine with that sheet."""
    return _Work(trace, machine, setup, part).done()


class _Work:
    def __init__(self, trace: Trace, machine: Machine, setup: Setup, part: TurnedPart) -> None:
        self._trace, self._machine, self._setup, self._part = trace, machine, setup, part
        self._moves = trace.moves
        self._count = len(trace.moves)
        self._places = Places(trace, machine, setup)
        self._gaps: dict[tuple[str, str], tuple[int, int]] = {}
        known = {station: tool for station, tool in setup.tools.items() if not isinstance(tool_outline(tool), str)}
        tools = [known.get(state.tool) if isinstance(state.tool, int) else None for state in trace.states]
        self._tools = tools
        edges = {station: tool_edges(tool) for station, tool in known.items()}
        self._edges: list[Edges | None] = [edges[tool.station] if tool is not None else None for tool in tools]

    def _gap(self, what: str, reason: str, rows: Rows) -> None:
        if len(rows):
            first, count = self._gaps.get((what, reason), (int(rows[0]), 0))
            self._gaps[(what, reason)] = (min(first, int(rows[0])), count + len(rows))

    def done(self) -> Load:
        count, part, trace = self._count, self._part, self._trace
        rows = np.flatnonzero(part.area > 0)
        ways = ways_of(self._moves, self._places, rows)
        threads, lacking = thread_cuts(part.threads, self._thread_tools(), part.left)
        for move, reason in lacking:
            self._gap("load of a thread", reason, np.array([move]))
        lost = np.array([move for move, _ in lacking], np.int64)
        turning = turns(trace, self._machine)
        speed, top = turning.ends, turning.top
        self._say_why(turning)
        feed = self._feeds(speed)
        depth, section, width = np.zeros(count), np.zeros((count, 2)), np.zeros((count, 2))
        self._turned(rows, ways, feed, depth, section, width)
        middle = self._middle_radius(rows, ways, depth)
        for cut in threads:
            ends = cut.start, cut.end
            depth[cut.move] = cut.deeper
            section[cut.move], width[cut.move] = [bite.section for bite in ends], [bite.width for bite in ends]
            middle[cut.move] = [bite.radius for bite in ends]
        thickness = np.divide(section, width, out=np.zeros_like(section), where=width > 0)
        thickness[np.isnan(section) | np.isnan(width)] = np.nan
        force = self._forces(section, width, thickness)
        fast = np.where(depth[:, None] > 0, 2 * pi * middle * speed / 1000, 0.0)
        power = np.where(force > 0, cutting_power(force, fast), force)
        self._not_swept(lost, depth, section, thickness, force, power)
        finish = self._finish(rows, ways, feed)
        available = power_at_cut(self._machine.spindle, speed)
        self._say_what_lacks()
        return Load(
            speed, top, fast, feed, depth, section, thickness, force, power, force * middle / 1000, available, *finish,
            threads, self._told(),
        )  # fmt: skip

    def _thread_tools(self) -> dict[int, Tool]:
        by_move = ((one.move, self._tools[int(self._moves.state[one.move])]) for one in self._part.threads)
        return {move: tool for move, tool in by_move if tool is not None}

    # -- feeds --------------------------------------------------------------------------------------------------------

    def _feeds(self, speed: Floats) -> Floats:
        """Mm per revolution at both ends of every move at a feed; NaN where it is not known."""
        feed = np.zeros((self._count, 2))
        fed = np.flatnonzero(self._moves.kind[: self._trace.first_pass] != Kind.RAPID)
        for _, state, rows in by_state(self._trace, fed):
            if not isinstance(state.feed, Fraction) or state.feed <= 0 or state.feed_mode is None:
                feed[rows] = np.nan
                self._gap("feed at the cut", "it is not known", rows[self._part.area[rows] > 0])
            elif state.feed_mode == "per-minute":
                rpm = speed[rows]
                feed[rows] = np.where(rpm > 0, float(state.feed) / np.where(rpm > 0, rpm, 1.0), np.nan)
            else:
                feed[rows] = float(state.feed)
        return feed

    # -- turning, facing, grooving, drilling --------------------------------------------------------------------------

    def _turned(self, rows: Rows, ways: Ways, feed: Floats, depth: Floats, section: Floats, width: Floats) -> None:
        """Depth of cut, section and width of the swarf of the moves that take something off."""
        if not len(rows):
            return
        area, taken, length = self._part.area[rows], self._part.depth[rows], ways.length
        # What an arc takes off is measured across its chord, which is not the way the tool goes: along an arc the mean counts.
        bent = np.where(length > 0, area / np.where(length > 0, length, 1.0), taken)
        taken = np.where(ways.turn != 0, np.minimum(self._part.across[rows], bent), taken)
        depth[rows] = taken
        section[rows] = taken[:, None] * feed[rows]
        _, way = ways.at(0.5)
        for _, tool, some in self._by_edges(rows):
            angle, _ = edge_angles(tool, way[some])
            edge = edge_in_cut(taken[some], np.full(len(some), tool.nose), angle)
            width[rows[some]] = (edge * (2 if tool.kind == "drill" else 1))[:, None]

    def _by_edges(self, rows: Rows) -> list[tuple[int, Edges, Rows]]:
        """Station and edges of each tool that cuts there, with the indices into `rows` of its cuts."""
        stations = np.array([-1 if tool is None else tool.station for tool in self._tools] or [-1])
        at = stations[self._moves.state[rows]]
        by_station = {tool.station: self._edges[k] for k, tool in enumerate(self._tools) if tool is not None}
        found = []
        for station in np.unique(at).tolist():
            edges = by_station.get(station)
            if edges is not None:
                found.append((station, edges, np.flatnonzero(at == station)))
        return found

    def _middle_radius(self, rows: Rows, ways: Ways, depth: Floats) -> Floats:
        """The radius of the middle of the swarf at both ends of every cut: at the tip and half the depth beside it, on the material's side.

        Exactly that of what was taken off where the radius does not change on the way; never beyond the stock.
        """
        middle = np.zeros((self._count, 2))
        if not len(rows):
            return middle
        taken = self._part.volume[rows] / (2 * pi * self._part.area[rows])
        ends = np.abs(np.stack((ways.start[:, 1], ways.end[:, 1]), 1))
        _, way = ways.at(0.5)
        side = np.sign(taken - ends.mean(axis=1)) * np.abs(way[:, 0]) * depth[rows] / 2
        beyond = float(self._part.stock.bounds[3])
        level = np.abs(ends[:, 0] - ends[:, 1]) < 1e-6
        middle[rows] = np.where(level[:, None], taken[:, None], np.clip(ends + side[:, None], 0.0, beyond))
        return middle

    def _forces(self, section: Floats, width: Floats, thickness: Floats) -> Floats:
        material = self._setup.material
        if material is None:
            return np.where(section > 0, np.nan, section)
        return np.where(section > 0, cutting_force(material, width, thickness), section)

    def _not_swept(self, more: Rows, *columns: Floats) -> None:
        """What was not swept has no load that is known: its tool or its place is not. So has what is cut behind something that was not made."""
        lost = self._part.unswept.copy()
        missing = next(iter(unmade(self._trace, self._machine)), None)
        if missing is not None:
            behind = np.flatnonzero(self._part.area[missing.at :] > 0) + missing.at
            self._gap("load of a cut", f"behind {missing.what}: {REASON}", behind)
            lost[behind] = True
            lost[[one.move for one in self._part.threads if one.move >= missing.at]] = True
        lost[more] = True
        for column in columns:
            column[lost] = np.nan

    # -- the surface that is left ---------------------------------------------------------------------------------------

    def _finish(self, rows: Rows, ways: Ways, feed: Floats) -> tuple[NDArray[np.bool_], Floats, Floats, Surface]:
        count = self._count
        exact, simple = np.full(count, np.nan), np.full(count, np.nan)
        leaves, radius, face = np.zeros(count, np.bool_), np.full(count, np.nan), np.full(count, np.nan)
        noses, offsets, can = nose_columns(self._edges, self._moves.state)
        fed = np.flatnonzero((self._moves.kind != Kind.RAPID) & (self._moves.kind != Kind.THREAD) & can)
        fed = fed[fed < self._trace.first_pass]
        fed = fed[np.array([not self._places.why[k] for k in fed.tolist()], np.bool_)] if len(fed) else fed
        paths = ways_of(self._moves, self._places, fed)
        found = finished_surface(paths, noses[fed], offsets[fed], np.ones(len(fed), np.bool_), self._part.left)
        leaves[fed], radius[fed], face[fed] = found.leaves, found.radius, found.face
        some = np.flatnonzero(found.leaves)
        _, way = paths.at(0.5)
        for station, tool, which in self._by_edges(fed[some]):
            moves, at = fed[some[which]], some[which]
            _, flattest = edge_angles(tool, way[at])
            flattest = np.where(paths.turn[at] != 0, pi / 2, flattest)
            each, nose = feed[moves].max(axis=1), np.full(len(moves), tool.nose)
            exact[moves], simple[moves] = true_depth(each, nose, flattest), parabola(each, nose)
            reason = "the feed is more than the nose can leave a profile for"
            self._gap(f"roughness of T{station}", reason, moves[np.isnan(exact[moves])])
        return leaves, exact, simple, Surface(leaves, radius, face)

    # -- what is not known ------------------------------------------------------------------------------------------------

    def _say_why(self, turning: Turns) -> None:
        """Why a speed is not known where something is cut."""
        cuts = np.flatnonzero(self._part.area > 0)
        for index, _, rows in by_state(self._trace, cuts):
            if index in turning.why:
                self._gap("speed at the cut", turning.why[index], rows)

    def _say_what_lacks(self) -> None:
        cuts = np.flatnonzero(self._part.area > 0)
        if self._setup.material is None:
            self._gap("force and power", "the setup sheet names no material", cuts[:1])
        elif self._machine.spindle.power_kw is None and self._machine.spindle.torque_nm is None:
            self._gap("power", "the machine profile does not say how much the spindle has", cuts[:1])
        elif self._machine.spindle.efficiency is None and self._machine.spindle.power_kw is not None:
            reason = "the machine profile gives no efficiency: all of the motor's power is taken to arrive at the cut"
            self._gap("power", reason, cuts[:1])
        if any(gap.cuts for gap in self._part.gaps):
            reason = "where a cut could not be swept, what follows is taken to meet the material that it left"
            self._gap("load and surface", reason, cuts[:1])

    def _told(self) -> tuple[Gap, ...]:
        blocks = self._moves.block
        rows = sorted(self._gaps.items(), key=lambda entry: (entry[1][0], entry[0]))
        return tuple(Gap(int(blocks[move]), what, reason, count, False) for (what, reason), (move, count) in rows)
