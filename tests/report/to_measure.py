"""What is to be measured on the first piece, worked out a second time: from the report's own JSON, and from whose tool was at each feature.

A feature's surface is the stretch of the finished outline in the feature's box. A sequence lies on it where its cutting moves, swept once more,
come to that stretch. Where the outline behind a sequence has a piece of the stretch that the outline before it had not, the sequence must be among
them: that is asked of whole sweeps that end earlier, and holds the first against something that knows no tool at all.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import shapely

from tests.report.pairs import ROOT, pairs
from verifier.compare import compare, side
from verifier.control import Kind
from verifier.findings import ChangeView, ProgramView, default_policy, load_policy, main_blocks, sequence_numbers
from verifier.geometry import Feature, ToolOutline, TurnedPart, features_of_both, sweep, tool_outline
from verifier.geometry.place import Places
from verifier.geometry.sweep import path_points, swept_path
from verifier.machines import generic_lathe, load_machine, load_setup
from verifier.report import feature_words, review, to_json
from verifier.source import read_source
from verifier.syntax import parse

NEAR = 1e-4
LONG = 0.02
"""A shorter stretch is a corner that a neighbouring surface shares, mm."""

Named = tuple[str, str]
"""A feature by its name and its place, as the report writes them."""


@dataclass(frozen=True)
class Case:
    """Two programs, and what they are reviewed with."""

    name: str
    old: bytes
    new: bytes
    given: dict[str, Any]


def cases() -> Iterator[Case]:
    """Every pair with a setup sheet, and every edit of the demo shop."""
    for pair in pairs():
        loaders = (
            ("machine", load_machine),
            ("setup", partial(load_setup, machine=None)),
            ("policy", load_policy),
        )
        files = {
            name: (pair.folder if (pair.folder / str(pair.truth.get(name))).is_file() else ROOT / "shop")
            for name, _ in loaders
        }
        given = {name: load(files[name] / pair.truth[name]) for name, load in loaders if name in pair.truth}
        if "setup" in given:
            old, new = ((pair.folder / f"{side}.nc").read_bytes() for side in ("old", "new"))
            yield Case(pair.folder.name, old, new, given)
    shop = tomllib.loads((ROOT / "shop" / "shop.toml").read_text(encoding="utf-8"))
    for part in shop["parts"]:
        machine = load_machine(ROOT / "shop" / part["machine"])
        given = {"machine": machine, "setup": load_setup(ROOT / "shop" / part["setup"], machine)}
        base = (ROOT / "shop" / part["base"]).read_bytes()
        for edit in part["edits"]:
            yield Case(edit["file"], base, (ROOT / "shop" / edit["file"]).read_bytes(), given)


@dataclass(frozen=True)
class Lists:
    """The list of a report, and what it must be: each feature with the labels of the sequences that lie on it."""

    told: dict[Named, frozenset[str]]
    must: dict[Named, frozenset[str]]
    left_by: dict[Named, frozenset[str]]
    """Of those the sequences behind which a piece of the feature's surface is there first."""


def lists_of(case: Case) -> Lists:
    """Both lists for a case."""
    report = to_json(review(case.old, case.new, **case.given))
    part = report["part"]
    told = {(one["name"], one["place"]): frozenset(one["sequences"]) for one in part["measure"]}
    assert len(told) == len(part["measure"]), "two entries that nobody can tell apart"
    changed = {
        (feature_words.named(row["kind"], row["where"], ""), row["place"])
        for row in part["features"]
        if row["dimension"] or row["after"] is not None or row["kind"] == "profile"
    }
    listed = {entry["restart"]["label"] for entry in report["prove_out"]}
    found = _at_features(case)
    must = {name: by for name, (by, _) in found.items() if name in changed or by & listed}
    must |= {name: frozenset() for name in changed if name[0] == "profile"}
    return Lists(told, must, {name: found[name][1] for name in must if name in found})


def _at_features(case: Case) -> dict[Named, tuple[frozenset[str], frozenset[str]]]:
    """For each feature of the revision's part the sequences that touch it, and those that left a piece of it."""
    machine, setup = case.given.get("machine") or generic_lathe(), case.given["setup"]
    both = (side(parse(read_source(text, "program")), machine, setup=setup) for text in (case.old, case.new))
    change = ChangeView(compare(*both), case.given.get("policy") or default_policy())
    before, after = change.old.side.part(), change.new.side.part()
    assert before is not None and after is not None
    found = features_of_both(before, after)[1]
    outline = shapely.boundary(after.left)
    lines = [shapely.intersection(outline, _around(feature)) for feature in found]
    by = list(zip(_touched(change.new, lines), _left(change.new, after, lines), strict=True))
    for k, feature in enumerate(found):
        if feature.moves:
            own = frozenset(_labels(change.new)[row] for row in feature.moves)
            by[k] = by[k][0] | own, by[k][1]
    named = [(feature_words.named(f.kind, f.where, ""), feature_words.place_of(f, change.units)) for f in found]
    return dict(zip(named, by, strict=True))


def _around(feature: Feature) -> shapely.Geometry:
    """Where its surface lies; of a thread its crest."""
    z_from, z_to, r_from, r_to = feature.box
    if feature.kind == "thread":
        r_from = r_to = r_from if feature.where == "inside" else r_to
    return shapely.box(z_from - NEAR, r_from - NEAR, z_to + NEAR, r_to + NEAR)


def _labels(view: ProgramView) -> list[str]:
    """For each move of the first pass the label of its sequence, "" outside all."""
    names = {sequence.index: sequence.label for sequence in view.sequences}
    of_move = sequence_numbers(view, main_blocks(view.trace))[: view.trace.first_pass]
    return [names.get(int(index), "") for index in of_move]


def _touched(view: ProgramView, lines: list[shapely.Geometry]) -> list[frozenset[str]]:
    """Whose cutting moves come to these stretches, by what their tools sweep."""
    trace, setup, labels = view.trace, view.side.setup, _labels(view)
    assert setup is not None
    places = Places(trace, view.machine, setup)
    found: list[set[str]] = [set() for _ in lines]
    tree = shapely.STRtree(lines)
    for row, label in enumerate(labels):
        kind = int(trace.moves.kind[row])
        station = trace.states[int(trace.moves.state[row])].tool
        outline = tool_outline(setup.tools[station]) if isinstance(station, int) and station in setup.tools else None
        if (
            kind not in (Kind.FEED, Kind.ARC_CW, Kind.ARC_CCW)
            or places.why[row]
            or not isinstance(outline, ToolOutline)
        ):
            continue
        way = np.array([places.start[row], places.end[row]])
        if kind != Kind.FEED:
            way = path_points(way[0], way[1], places.centre[row], clockwise_in_zr=kind == Kind.ARC_CW)
        passed = shapely.buffer(swept_path(outline.edge, way), NEAR)
        for k in tree.query(passed).tolist():
            if label and label not in found[k] and shapely.length(shapely.intersection(passed, lines[k])) > LONG:
                found[k].add(label)
    return [frozenset(labels) for labels in found]


def _left(view: ProgramView, part: TurnedPart, lines: list[shapely.Geometry]) -> list[frozenset[str]]:
    """Behind which sequences a piece of these stretches is outline that was none before: the program's sweep, ended behind each of them."""
    trace, labels = view.trace, _labels(view)
    whole = sweep(trace, view.machine, view.side.setup)
    assert whole is not None
    ends = [k for k in range(1, len(labels) + 1) if k == len(labels) or labels[k] != labels[k - 1]]
    found: list[set[str]] = [set() for _ in lines]
    was = shapely.buffer(shapely.boundary(part.stock), NEAR)
    for end in ends:
        swept = sweep(replace(trace, first_pass=end), view.machine, view.side.setup, [whole])
        assert swept is not None
        now = shapely.buffer(shapely.boundary(swept.part.left), NEAR)
        for k, line in enumerate(lines):
            fresh = shapely.difference(shapely.intersection(line, now), was)
            if shapely.length(fresh) > LONG:
                found[k].add(labels[end - 1])
        was = now
    return [frozenset(labels) for labels in found]
