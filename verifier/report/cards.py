"""One card per edit: what somebody did and what it does. The same change made in several places is one card."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from verifier.compare import Comparison, Edit
from verifier.findings import Finding, Status
from verifier.findings.touched import Touched
from verifier.findings.view import ChangeView
from verifier.report.change_report import Card, WordRow
from verifier.syntax import block_text

TEXTS = 8
"""So many blocks of an edit are shown on its card; the rest is counted."""


def cards(change: ChangeView, findings: Sequence[Finding], touched: Iterable[Touched]) -> tuple[Card, ...]:
    """Cards in reading order: that of their heaviest finding."""
    members = _members(change.comparison, findings)
    touches: dict[int, list[str]] = {}
    for touch in touched:
        touches.setdefault(touch.edit, []).append(touch.text)
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
    made = [_card(change, together[group], numbers, touches) for group, numbers in of_edit.items()]
    made += [Card((number,), findings[number].causes, (), (), (), 0, ()) for number in loose]
    return tuple(sorted(made, key=lambda card: _order(card, findings)))


def _order(card: Card, findings: Sequence[Finding]) -> tuple[object, ...]:
    first = card.findings[0] if card.findings else len(findings)
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


def _signatures(edit: Edit) -> list[tuple[object, ...]]:
    told = [w for w in edit.words if w.kind != "respelled" and w.letter != "N"]
    if edit.kind != "changed" or len(told) != 1 or told[0].kind != "changed":
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


def _card(change: ChangeView, edits: list[Edit], numbers: list[int], touches: dict[int, list[str]]) -> Card:
    first = edits[0]
    old = [block_text(change.old.block(block)) for block in first.old[:TEXTS]]
    new = [block_text(change.new.block(block)) for block in first.new[:TEXTS]]
    for shown, blocks in ((old, first.old), (new, first.new)):
        if len(blocks) > TEXTS:
            shown.append(f"... and {len(blocks) - TEXTS} more blocks")
    places = change.cause_places(edit.index for edit in edits)
    words = tuple(
        WordRow(w.old.text if w.old else None, w.new.text if w.new else None)
        for w in first.words
        if w.kind not in ("respelled", "moved")
    )
    told = tuple(dict.fromkeys(text for edit in edits for text in touches.get(edit.index, ())))
    return Card(tuple(sorted(numbers)), places[:12], tuple(old), tuple(new), words, len(edits), told)
