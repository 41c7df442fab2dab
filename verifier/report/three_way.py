"""Base, edit, and what came back from the machine: who changed what, what both changed, and what would be lost.

Each of the two is compared with the base as any revision is; their edits are then laid over each other on the base's blocks. Block numbers,
spelling and notes take no part: a control respells and drops notes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from verifier.compare import Edit, Edits, find_edits
from verifier.control import Library, canonical_word, sequences
from verifier.control import Sequence as Sequence_
from verifier.findings import Place, Policy, Status
from verifier.machines import Machine, Setup, generic_lathe
from verifier.report.change_report import ChangeReport
from verifier.report.review import review
from verifier.source import Source, read_source
from verifier.syntax import Block, Program, block_text, parse_program

EDIT, MACHINE, ALIKE, COLLIDE = "the edit alone", "the machine alone", "both, alike", "both, otherwise"
TEXTS = 6
"""So many blocks of a place are shown; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Changed:
    """One place that was changed: by whom (`kind`), its blocks in the base and as either has them, and what each does at the machine.

    `place` is in the base, where there is a block. `edit_does`, `machine_does` are titles of findings, heaviest first; empty where the machine
    does the same.
    """

    kind: str
    place: Place | None
    base: tuple[str, ...]
    edit: tuple[str, ...]
    machine: tuple[str, ...]
    edit_does: tuple[str, ...]
    machine_does: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ThreeWay:
    """The whole of it: every changed place in program order, and the three reports it rests on.

    `edit`: base to edit; `back`: base to what came back; `between`: what came back to the edit, which is what the machine would get.
    """

    changed: tuple[Changed, ...]
    edit: ChangeReport
    back: ChangeReport
    between: ChangeReport

    def of(self, kind: str) -> tuple[Changed, ...]:
        """The places changed in that way."""
        return tuple(place for place in self.changed if place.kind == kind)

    @property
    def lost(self) -> tuple[Changed, ...]:
        """What the machine's people changed and the edit does not have: a release of the edit takes it away."""
        return tuple(place for place in self.changed if place.kind in (MACHINE, COLLIDE))

    @property
    def reports(self) -> tuple[ChangeReport, ...]:
        """All three reports."""
        return (self.edit, self.back, self.between)


@dataclass(frozen=True, slots=True)
class _Sides:
    """What places are told from: base, edit and what came back; base against either; the base's sequences."""

    programs: tuple[Program, ...]
    reports: tuple[ChangeReport, ChangeReport]
    edits: tuple[Edits, ...]
    sequences: tuple[Sequence_, ...]


def three_way(
    base: bytes | Source | Program,
    edit: bytes | Source | Program,
    back: bytes | Source | Program,
    *,
    machine: Machine | None = None,
    setup: Setup | None = None,
    policy: Policy | None = None,
    library: Library | None = None,
) -> ThreeWay:
    """Tell apart what the programmer changed and what came back changed from the machine. Pure; raises as `review`."""
    machine = machine or generic_lathe()
    programs = [_program(given, name) for given, name in ((base, "base"), (edit, "edit"), (back, "came back"))]
    first, ours, theirs = programs
    pairs = ((first, ours), (first, theirs), (theirs, ours))
    reports = [review(a, b, machine=machine, setup=setup, policy=policy, library=library) for a, b in pairs]
    cut = [sequences(program, machine) for program in programs]
    edits = [find_edits(first, other, cut[0], cut[k]) for k, other in ((1, ours), (2, theirs))]
    groups = _together(edits[0].edits, edits[1].edits)
    sides = _Sides(tuple(programs), (reports[0], reports[1]), tuple(edits), cut[0])
    return ThreeWay(tuple(_changed(group, sides) for group in groups), *reports)


def _program(given: bytes | Source | Program, name: str) -> Program:
    if isinstance(given, Program):
        return given
    return parse_program(given if isinstance(given, Source) else read_source(given, name))


Group = tuple[tuple[Edit, ...], tuple[Edit, ...]]


def _together(ours: Sequence[Edit], theirs: Sequence[Edit]) -> tuple[Group, ...]:
    """Edits of either that touch the same blocks or the same gap of the base, in one group; groups in the base's order."""
    marked = [(*_span(edit), side, edit) for side, edits in enumerate((ours, theirs)) for edit in edits]
    marked.sort(key=lambda entry: (entry[0], entry[1], entry[2]))
    groups: list[tuple[list[Edit], list[Edit]]] = []
    reach = -1
    for start, end, side, edit in marked:
        if not groups or start > reach:
            groups.append(([], []))
            reach = end
        groups[-1][side].append(edit)
        reach = max(reach, end)
    return tuple((tuple(a), tuple(b)) for a, b in groups)


def _span(edit: Edit) -> tuple[int, int]:
    """Where an edit stands in the base, in half steps: block k is 2k + 1, the gap in front of it 2k."""
    if edit.old:
        return 2 * min(edit.old) + 1, 2 * max(edit.old) + 1
    return 2 * edit.at[0], 2 * edit.at[0]


def _changed(group: Group, sides: _Sides) -> Changed:
    programs, reports, edits = sides.programs, sides.reports, sides.edits
    base = sorted({block for side in group for edit in side for block in edit.old})
    after = [_after(side, base, found) for side, found in zip(group, edits, strict=True)]
    words = [[_words(program.blocks[k]) for k in blocks] for program, blocks in zip(programs[1:], after, strict=True)]
    if not group[1]:
        kind = EDIT
    elif not group[0]:
        kind = MACHINE
    else:
        kind = ALIKE if words[0] == words[1] else COLLIDE
    does = [_does(report, side) for report, side in zip(reports, group, strict=True)]
    at = base[0] if base else min(edit.at[0] for side in group for edit in side)
    texts = [_texts(program, blocks) for program, blocks in zip(programs, (base, *after), strict=True)]
    return Changed(kind, _place(sides, at), texts[0], texts[1], texts[2], does[0], does[1])


def _place(sides: _Sides, block: int) -> Place | None:
    """A block of the base as a place; the last one for what was put behind it."""
    lines = sides.programs[0].columns.line
    if not len(lines):
        return None
    block = min(block, len(lines) - 1)
    found = next((s for s in sides.sequences if s.first <= block < s.end), None)
    return Place("old", block, int(lines[block]), 1, found.index if found else None, found.label if found else "")


def _after(side: Iterable[Edit], base: Iterable[int], found: Edits) -> list[int]:
    """What one side has at a place: the blocks of its own edits, and those that stand there as they were."""
    partners = (int(found.alignment.old_to_new[block]) for block in base)
    return sorted({k for k in partners if k >= 0} | {k for edit in side for k in edit.new})


def _words(block: Block) -> tuple[str, ...]:
    """A block's words as compared: without its number, as a control renumbers."""
    skips = tuple(f"/{skip.level or ''}" for skip in block.skips)
    words = tuple(canonical_word(word) for word in block.words if word.letter != "N")
    return (*skips, *words, *(macro.text for macro in block.macros))


def _texts(program: Program, blocks: Sequence[int]) -> tuple[str, ...]:
    told = [block_text(program.blocks[k]) for k in blocks[:TEXTS]]
    return (*told, *([f"... and {len(blocks) - TEXTS} more blocks"] if len(blocks) > TEXTS else []))


def _does(report: ChangeReport, side: Iterable[Edit]) -> tuple[str, ...]:
    """What these edits do at the machine, by the report's findings, heaviest first, and the safety-relevant words they touch."""
    wanted = {edit.index for edit in side}
    told = [
        f"{finding.weight}: {finding.title}" if finding.status is not Status.GONE else f"gone: {finding.title}"
        for finding in report.findings
        if finding.status is not Status.STANDING and wanted & {*finding.edits}
    ]
    told += [f"touched: {touch.text}" for touch in report.touched if touch.edit in wanted]
    return tuple(dict.fromkeys(told))
