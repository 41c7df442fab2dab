"""The prove-out list: for each sequence that a change can reach, where to restart, where to go slowly, what the numbers read, what to measure.

A sequence is affected where behaviour differs in it, where a finding that is not minor stands in it, where everything behind a changed reference,
unit or offset lies, where it cuts a surface that was cut otherwise before it, and where it is entered from a changed retract. Others are not on
the list.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Sequence as Several

import numpy as np

from verifier.compare import Item
from verifier.control import TICKS_PER_MM, InForce, Sequence
from verifier.findings import (
    ChangeView,
    Finding,
    ProgramView,
    Status,
    Weight,
    coordinate,
    cutting,
    millimetres,
    shop,
)
from verifier.geometry import spindle_speed
from verifier.report.change_report import ProveOut
from verifier.report.cut_sizes import MEASURED, commanded
from verifier.report.here import owners, sequence_here
from verifier.report.part_made import PartMade
from verifier.report.reached import Box, measured, of_called, of_part, of_stock, reached
from verifier.syntax import block_text

_FOLLOWED_BY_ALL = frozenset(
    (
        "units-changed", "work-offset-changed", "offset-write-changed", "datum-return-changed", "variable-changed",
        "call-changed", "repeat-count-changed",
    )
)  # fmt: skip
"""Rules about something that everything behind it rests on."""
_SIZES = frozenset(("compensation-changed", "tool-offset-changed", "tool-changed", "moves-added", "moves-removed"))
"""Rules about something that every size of the tool can show."""
_MARGIN = TICKS_PER_MM
"""Two cuts nearer than this are on one surface: more than a finishing allowance (common practice, no source)."""
_MOST = 400
"""So many changed cuts are held against the other sequences' cuts; a change with more of them reaches every sequence that cuts."""


def prove_out(change: ChangeView, findings: Several[Finding], made: PartMade | None = None) -> tuple[ProveOut, ...]:
    """The list for a change, in the order of the findings; what only follows from another sequence comes last.

    `made`: the finished part, where it was computed; without it nobody knows which feature a sequence leaves, and sizes are those
    that the changed blocks command.
    """
    told = [f for f in findings if f.status in (Status.CHANGE, Status.NEW)]
    view = _Numbers(change.new, findings)
    reasons: dict[int, dict[str, None]] = {}
    by_sequence: dict[int, list[Finding]] = {}
    for finding in told:
        for index in _sequences_of(change, finding):
            if finding.weight is not Weight.MINOR or finding.covers:
                reasons.setdefault(index, {})[finding.title] = None
                by_sequence.setdefault(index, []).append(finding)
        if finding.rule in _FOLLOWED_BY_ALL and finding.weight is not Weight.MINOR and finding.causes:
            for sequence in change.new.sequences:
                if sequence.end > finding.causes[0].block and finding.title not in reasons.get(sequence.index, ()):
                    reasons.setdefault(sequence.index, {})[f"comes after: {finding.title}"] = None
    for index, reason in (*reached(change, view), *of_called(change)):
        reasons.setdefault(index, {})[reason] = None
    for index, reason in (*of_stock(change, tuple(reasons)), *of_part(made, tuple(reasons))):
        reasons.setdefault(index, {})[reason] = None
    order = {index: k for k, index in enumerate(dict.fromkeys((*by_sequence, *sorted(reasons))))}
    changed = _changed_blocks(change)
    return tuple(
        view.entry(
            change.new.sequences[index],
            tuple(reasons[index]),
            by_sequence.get(index, ()),
            changed.get(index),
            _measure(change, by_sequence.get(index, ()), made, index),
        )
        for index in sorted(reasons, key=lambda index: order[index])
    )


def first_prove_out(view: ProgramView, findings: Several[Finding]) -> tuple[ProveOut, ...]:
    """The list for a program that nobody has run yet: every sequence, in order."""
    numbers = _Numbers(view, findings)
    return tuple(
        numbers.entry(
            sequence,
            ("never run before", *(f.title for f in found if f.weight is not Weight.MINOR)),
            found,
            None,
        )
        for sequence in view.sequences
        for found in ([f for f in findings if f.causes and f.causes[0].sequence == sequence.index],)
    )


# -- which sequences --------------------------------------------------------------------------------------------------------


def _sequences_of(change: ChangeView, finding: Finding) -> tuple[int, ...]:
    """The sequences of the new program in which a finding shows: by its effects, else by its causes."""
    found: dict[int, None] = {}
    for number in finding.covers:
        for difference in change.comparison.effects[number].differences:
            for view, item in ((change.new, difference.new), (change.old, difference.old)):
                if item is not None and (index := sequence_here(change, view, view.main_block(item))) is not None:
                    found[index] = None
                    break
    for place in (*finding.causes[:1], *finding.effects) if not found else ():
        view = change.new if place.side == "new" else change.old
        if finding.rule == "setup-note-changed" and _in_the_head(view, place.line):
            continue  # a note of the whole job, for the setter: no sequence is run more slowly for it
        if (index := sequence_here(change, view, place.block)) is not None:
            found[index] = None
    return tuple(found)


def _in_the_head(view: ProgramView, line: int) -> bool:
    """Whether a line stands before the block at which the first sequence is started."""
    return bool(view.sequences) and line < view.place(view.sequences[0].entry).line


def _changed_blocks(change: ChangeView) -> dict[int, int]:
    """For each sequence the first block in which behaviour differs; where only something is gone from it, the first edit that took it.

    Variables that are left otherwise at the end of the program are no place to go slowly.
    """
    found: dict[int, int] = {}
    edited: dict[int, int] = {}
    for effect in change.comparison.effects:
        new = {block for k in effect.causes if k >= 0 for block in change.edits[k].new[:1]}
        items = [d.new for d in effect.differences if d.new is not None and d.new.kind != "event:variable"]
        for first, blocks in ((edited, new), (found, {change.new.main_block(item) for item in items})):
            for block in blocks:
                if (sequence := change.new.sequence_of(block)) is not None:
                    first[sequence.index] = min(first.get(sequence.index, block), block)
    return edited | found


# -- what the numbers read ----------------------------------------------------------------------------------------------------


class _Numbers:
    """The first pass of a program by sequence: its cuts, and what the control shows in front of the first of them."""

    def __init__(self, view: ProgramView, findings: Several[Finding]) -> None:
        self._view = view
        stuck = [f for f in findings if f.rule == "sequence-start-incomplete" and f.status is not Status.GONE]
        self._not_alone = {place.sequence for f in stuck for place in f.causes[:1]}
        trace = view.trace
        owner = owners(view)
        rows = cutting(trace)
        self._rows = rows[rows < trace.first_pass]
        self._owner = owner[self._rows]

    def leaves(self, index: int, item: Item) -> bool:
        """Whether a move lies behind the last cut of its sequence."""
        own = self._rows[self._owner == index]
        return not len(own) or item.first > int(own[-1])

    def touching(self, boxes: Several[Box | None]) -> list[int]:
        """The sequences with a cut within a millimetre of one of the boxes; where one is not known, or there are too many, all that cut."""
        if len(boxes) > _MOST or None in boxes:
            return [int(index) for index in np.unique(self._owner) if index >= 0]
        m, rows = self._view.trace.moves, self._rows
        known = (m.bx0[rows] == 0) & (m.bz0[rows] == 0) & (m.bx1[rows] == 0) & (m.bz1[rows] == 0)
        rows, owner = rows[known], self._owner[known]
        low_x, high_x = np.minimum(m.x0[rows], m.x1[rows]), np.maximum(m.x0[rows], m.x1[rows])
        low_z, high_z = np.minimum(m.z0[rows], m.z1[rows]), np.maximum(m.z0[rows], m.z1[rows])
        met: set[int] = set()
        for x0, x1, z0, z1 in filter(None, boxes):
            near = (
                (low_x <= x1 + _MARGIN) & (high_x >= x0 - _MARGIN) & (low_z <= z1 + _MARGIN) & (high_z >= z0 - _MARGIN)
            )
            met.update(np.unique(owner[near]).tolist())
        return sorted(index for index in met if index >= 0)

    def entry(
        self,
        sequence: Sequence,
        why: tuple[str, ...],
        findings: Iterable[Finding],
        changed: int | None,
        measure: tuple[str, ...] | None = None,
    ) -> ProveOut:
        """One entry of the list; `measure` is told by its findings where it is not given."""
        view, own = self._view, self._rows[self._owner == sequence.index]
        found = list(findings)
        alone = sequence.index not in self._not_alone
        restart = view.place(sequence.entry)
        slow = ["Single block and the lowest rapid override from the restart to the first cut."]
        if changed is not None and changed > sequence.entry:
            line = view.place(changed).line
            slow.append(f"Single block again at line {line}: {block_text(view.block(changed))}")
        first = int(own[0]) if len(own) else None
        return ProveOut(
            restart,
            block_text(view.block(sequence.entry)) if alone else "",
            why,
            tuple(slow),
            self._distance(first),
            self._reads(first),
            _sizes(why, found) if measure is None else measure,
        )

    def _distance(self, row: int | None) -> str:
        """What to check before the first cut."""
        if row is None:
            return "It cuts nothing: see that the way is free."
        m, view = self._view.trace.moves, self._view
        if m.bx0[row] or m.bz0[row] or m.bx1[row] or m.bz1[row]:
            return (
                "Where it starts to cut is known to the machine only: stop a hand's width before the part and measure."
            )
        x, z = int(m.x0[row]), int(m.z0[row])
        told = []
        stock = view.side.setup.stock if view.side.setup is not None else None
        if stock is not None:
            gap_z = z / TICKS_PER_MM - float(stock.face_z)
            gap_x = abs(x) / TICKS_PER_MM - float(stock.diameter) / 2
            told += [f"{millimetres(gap_z, view.units)} in front of the face of the raw piece"] if gap_z > 0 else []
            told += [f"{millimetres(gap_x, view.units)} (on the radius) outside its diameter"] if gap_x > 0 else []
        shown = f"X {coordinate('x', ('', x), view.units)} Z {coordinate('z', ('', z), view.units)}"
        if not told:
            return f"Stop at {shown}, where the first cut starts, and check that the tool stands clear of the part."
        return f"Stop at {shown}, where the first cut starts, and check: it should stand {', '.join(told)}."

    def _reads(self, row: int | None) -> tuple[str, ...]:
        """What the control shows where the first cut starts."""
        if row is None:
            return ()
        view, m = self._view, self._view.trace.moves
        state = view.trace.states[int(m.state[row])]
        bases, units = view.trace.bases, view.units
        x, z = ((bases[int(b[row])] if b[row] else "", int(v[row])) for b, v in ((m.bx0, m.x0), (m.bz0, m.z0)))
        return (
            f"position X {coordinate('x', x, units)}, Z {coordinate('z', z, units)}",
            _spindle(view, state, None if x[0] else x[1]),
            f"feed {shop.feed(state.feed, state.feed_mode, units)}",
            f"tool {_shown(state.tool)}, offset {_shown(state.offset)}, work offset {_shown(state.work_offset)}",
        )


def _measure(change: ChangeView, found: Several[Finding], made: PartMade | None, index: int) -> tuple[str, ...] | None:
    """What a sequence leaves: features of the computed part, else the surfaces that changed blocks command; None where neither is known."""
    return measured(change, made, index) if made is not None else commanded(change, found, index) or None


def _sizes(why: tuple[str, ...], found: list[Finding]) -> tuple[str, ...]:
    """What to measure where no single size is named."""
    shown = any(f.rule in _SIZES or f.rule in MEASURED for f in found) or any(
        reason.startswith("cuts a surface") for reason in why
    )
    return ("the sizes that this tool cuts",) if shown else ()


def _spindle(view: ProgramView, state: InForce, x: int | None) -> str:
    said = shop.speed(state.speed, state.speed_mode, view.units)
    sense = f", {state.sense}" if state.sense else ""
    if state.speed_mode != "surface":
        return f"spindle {said}{sense}"
    turns = spindle_speed(state, x, view.machine) if x is not None else None
    now = f", {turns:.0f} rev/min there" if turns is not None else ""
    return f"spindle {said}{now}, clamp {shop.clamp(state.clamp)}{sense}"


def _shown(value: object) -> str:
    return shop.NOT_SET if value is None else str(value)
