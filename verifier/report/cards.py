"""One card per edit: what somebody did and what it does. The same change made in several places is one card."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from verifier.compare import CHANGED, Comparison, Edit
from verifier.control import BEHIND, outside_marks
from verifier.findings import Finding, Status
from verifier.findings.touched import Touched
from verifier.findings.view import ChangeView, ProgramView
from verifier.report.change_report import Card, WordRow
from verifier.report.part_made import PartMade
from verifier.report.resequenced import resequenced
from verifier.syntax import block_text

TEXTS = 8
"""So many blocks of an edit are shown on its card; the rest is counted."""


def cards(change: ChangeView, findings: Sequence[Finding], touched: Iterable[Touched]) -> tuple[Card, ...]:
    """Cards in reading order: that of their heaviest finding."""
    touches: dict[int, list[str]] = {}
    for touch in touched:
        touches.setdefault(touch.edit, []).append(touch.text)
    alike = _members(change.comparison, findings)
    members = _joined(change.comparison, findings, alike, touches)
    moved, stops = resequenced(change)
    _put_together(members, (*moved, *stops))
    of_edit: dict[int, list[int]] = {}
    loose: list[int] = []
    for number, finding in enumerate(findings):
        if finding.status is Status.STANDING:
            continue
        groups = dict.fromkeys(members.get(edit, edit) for edit in finding.edits)
        for group in groups:
            of_edit.setdefault(group, []).append(number)
        if not groups and finding.status is not Status.GONE:
            loose.append(number)
    for edit in touches:
        of_edit.setdefault(members.get(edit, edit), [])
    together: dict[int, list[Edit]] = {}
    for edit_ in change.edits:
        together.setdefault(members.get(edit_.index, edit_.index), []).append(edit_)
    made = [
        _card(change, together[group], _reading(findings, numbers), touches, (alike, stops))
        for group, numbers in of_edit.items()
    ]
    made += _loose(findings, loose)
    return tuple(sorted(made, key=lambda card: _order(card, findings)))


def with_features(
    made: tuple[Card, ...], findings: Sequence[Finding], numbers: Mapping[int, int], part: PartMade | None
) -> tuple[Card, ...]:
    """The cards with the sizes of the finished part that each moves; `numbers` gives for each edit the number of its card, from 1.

    What nothing but the profile or the setup sheet moved stands on the first card about them.
    """
    if part is None:
        return made
    outside = next((k for k, card in enumerate(made, 1) if card.outside), 0)
    own: dict[int, list[int]] = {}
    for row, feature in enumerate(part.report.features):
        found = {numbers.get(edit, 0) if edit >= 0 else outside for edit in feature.edits}
        for number in found - {0}:
            own.setdefault(number, []).append(row)
    return tuple(replace(card, features=tuple(own.get(k, ()))) for k, card in enumerate(made, 1))


def card_numbers(comparison: Comparison, made: Sequence[Card], findings: Sequence[Finding]) -> dict[int, int]:
    """For each edit the number of its card: the card that stands at its place, else the first that speaks of it."""
    edits, found = comparison.edits, dict[int, int]()
    for number, card in enumerate(made, 1):
        for place in card.places:
            owner = edits.of_old if place.side == "old" else edits.of_new
            if 0 <= place.block < len(owner) and owner[place.block] >= 0:
                found.setdefault(int(owner[place.block]), number)
    for number, card in enumerate(made, 1):
        for edit in (edit for index in card.findings for edit in findings[index].edits):
            found.setdefault(edit, number)
    return found


def _loose(findings: Sequence[Finding], numbers: Iterable[int]) -> list[Card]:
    """Cards of what no edit did: one for all that the same keys of profile and setup sheet made, else one for each finding."""
    together: dict[tuple[object, ...], list[int]] = {}
    for number in numbers:
        keys = findings[number].outside
        together.setdefault(keys or ("alone", number), []).append(number)
    return [
        Card(
            tuple(found),
            findings[found[0]].causes if not findings[found[0]].outside else (),
            (), (), (), 0, (), findings[found[0]].outside,
        )
        for found in together.values()
    ]  # fmt: skip


_ROOTS = frozenset(
    (
        "run-does-not-end", "unreadable-block", "contour-label-missing", "cycle-not-possible", "integer-word-with-point",
        "jump-or-loop-wrong", "contour-label-moved",
    )
)  # fmt: skip
"""Rules about what cannot be run as it is written: the others of the same weight on their card follow from it."""


def _reading(findings: Sequence[Finding], numbers: Iterable[int]) -> list[int]:
    """The findings of a card in reading order: heavy before light, what the others follow from first."""
    return sorted(numbers, key=lambda k: (findings[k].weight.rank, findings[k].rule not in _ROOTS, k))


def _order(card: Card, findings: Sequence[Finding]) -> tuple[object, ...]:
    first = min(card.findings, default=len(findings))
    place = card.places[0] if card.places else None
    return (first, place.block if place else -1)


def _members(comparison: Comparison, findings: Sequence[Finding]) -> dict[int, int]:
    """Edits that are one thing done in several places -> the first of them: one changed word of the same letter, changed alike.

    Alike means from the same value to the same value, or (three times and more) by the same factor or the same amount.
    """
    rules: dict[int, set[str]] = {}
    for finding in findings:
        for index in finding.edits:
            rules.setdefault(index, set()).add(finding.rule)
    same: dict[tuple[tuple[object, ...], tuple[str, ...]], list[int]] = {}
    for edit in comparison.edits.edits:
        for key in _signatures(edit):
            same.setdefault((key, tuple(sorted(rules.get(edit.index, ())))), []).append(edit.index)
    members: dict[int, int] = {}
    for (key, _), found in sorted(same.items(), key=lambda entry: (-len(entry[1]), entry[1])):
        least = 2 if key[0] == "value" else 3
        free = [index for index in found if index not in members]
        if len(free) >= least:
            members.update(dict.fromkeys(free, free[0]))
    return members


def _joined(
    comparison: Comparison, findings: Sequence[Finding], members: dict[int, int], touches: Container[int]
) -> dict[int, int]:
    """An edit that no finding speaks of, right beside one that has a finding, belongs to it (a G01 put where a G00 came before it).

    So do two side by side that only touch safety-relevant words: a word that moved to the block beside it.
    """
    told = {index for finding in findings for index in finding.edits}
    joined = dict(members)
    for before, after in pairwise(comparison.edits.edits):
        if not _beside(before, after):
            continue
        only_touched = not {before.index, after.index} & told and before.index in touches and after.index in touches
        if only_touched or (before.index in told and after.index not in told):
            joined.setdefault(after.index, joined.get(before.index, before.index))
        elif after.index in told and before.index not in told:
            joined.setdefault(before.index, joined.get(after.index, after.index))
    return _shared(findings, joined)


def _shared(findings: Sequence[Finding], members: dict[int, int]) -> dict[int, int]:
    """An edit that no finding speaks of alone is part of one story with the others that its first finding names."""
    alone = {f.edits[0] for f in findings if len({members.get(k, k) for k in f.edits}) == 1}
    joined = dict(members)
    for finding in findings:
        groups = dict.fromkeys(joined.get(index, index) for index in finding.edits)
        if len(groups) < 2:
            continue
        first, *rest = groups
        for group in rest:
            parts = [index for index in {group, *joined} if joined.get(index, index) == group]
            if not any(index in alone for index in parts):
                joined.update(dict.fromkeys(parts, first))
    return joined


def _put_together(members: dict[int, int], edits: Sequence[int]) -> None:
    """Make edits, and all that belongs to them already, one story."""
    groups = {members.get(index, index) for index in edits}
    if len(groups) > 1:
        first = min(groups)
        parts = [index for index in {*groups, *members} if members.get(index, index) in groups]
        members.update(dict.fromkeys(parts, first))


def _beside(before: Edit, after: Edit) -> bool:
    """Whether two edits stand on neighbouring blocks of the new program (or of the old one, where blocks went)."""
    if before.new and after.new:
        return after.new[0] - before.new[-1] == 1
    return bool(before.old and after.old) and after.old[0] - before.old[-1] == 1


def _signatures(edit: Edit) -> list[tuple[object, ...]]:
    told = [w for w in edit.words if w.kind != "respelled" and w.letter != "N"]
    if edit.kind != CHANGED or len(told) != 1 or told[0].kind != "changed":
        return []
    word = told[0]
    if word.old is None or word.new is None or word.old.number is None or word.new.number is None:
        return []
    old, new = word.old.number, word.new.number
    found: list[tuple[object, ...]] = [("value", word.letter, old.value, old.pointed, new.value, new.pointed)]
    if old.pointed == new.pointed:
        if word.letter in "FS" and old.value:
            found.append(("factor", word.letter, new.value / old.value))
        elif word.letter in "XZUW":
            found.append(("amount", word.letter, new.value - old.value))
    return found


def _card(
    change: ChangeView,
    edits: list[Edit],
    numbers: list[int],
    touches: dict[int, list[str]],
    known: tuple[Mapping[int, int], Container[int]],
) -> Card:
    """The card of some edits. `known`: the edits that are one thing done in several places, and those whose blocks are not shown."""
    alike, aside = known
    one_kind = len({alike.get(edit.index, -1 - edit.index) for edit in edits}) == 1
    repeated = len(edits) > 1 and one_kind and not any(_beside(a, b) for a, b in pairwise(edits))
    shown = edits[:1] if repeated else [edit for edit in edits if edit.index not in aside]
    old = _texts(change.old, [block for edit in shown for block in edit.old])
    new = _texts(change.new, [block for edit in shown for block in edit.new])
    words = tuple(
        WordRow(w.old.text if w.old else None, w.new.text if w.new else None)
        for edit in shown
        for w in edit.words
        if w.kind not in ("respelled", "moved")
    )
    told = tuple(dict.fromkeys(text for edit in edits for text in touches.get(edit.index, ())))
    places = change.cause_places(edit.index for edit in edits)
    return Card(tuple(numbers), places[:12], old, new, words, len(edits) if repeated else 1, told)


def _texts(view: ProgramView, blocks: list[int]) -> tuple[str, ...]:
    """The first blocks as text, and how many more there are."""
    behind = outside_marks(view.program).get(BEHIND, -1)
    texts = [("% " if block == behind else "") + block_text(view.block(block)) for block in blocks[:TEXTS]]
    if len(blocks) > TEXTS:
        texts.append(f"... and {len(blocks) - TEXTS} more blocks")
    return tuple(texts)
