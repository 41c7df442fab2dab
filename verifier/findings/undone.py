"""Increments that undo each other: the later one changes no move behind it, and still has an effect. It takes the earlier one's back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from verifier.compare import CHANGED, Edit
from verifier.findings.model import Finding, Status
from verifier.findings.view import ChangeView

_INCREMENTS = "UVW"


def with_undone(view: ChangeView, found: Sequence[Finding]) -> list[Finding]:
    """The findings; those about a changed increment speak also of the one further on that takes it back."""
    behind = _undone(view.edits, {k for effect in view.comparison.effects for k in effect.causes})
    told = {edit for finding in found for edit in finding.edits}
    left = {first: last for first, last in behind.items() if not told.issuperset(last)}
    made = []
    for finding in found:
        last = next((left.pop(edit) for edit in finding.edits if edit in left), None)
        if last is None or finding.status is not Status.CHANGE:
            made.append(finding)
            continue
        places = view.cause_places(last)
        title = f"{finding.title}; line {places[-1].line} takes it back"
        made.append(
            replace(
                finding,
                title=title,
                edits=tuple(dict.fromkeys((*finding.edits, *last))),
                causes=(*finding.causes, *places),
            )
        )
    return made


def _undone(edits: Iterable[Edit], felt: set[int]) -> dict[int, tuple[int, ...]]:
    """For each edit that moves what follows it, the later ones without an effect of their own that bring the sum back to what it was."""
    found: dict[int, tuple[int, ...]] = {}
    open_: dict[str, tuple[int, Fraction, tuple[int, ...]]] = {}
    for edit in edits:
        for letter, amount in _amounts(edit):
            first, total, passed = open_.get(letter, (-1, Fraction(0), ()))
            if edit.index in felt:
                open_[letter] = (first if first >= 0 else edit.index, total + amount, passed)
            elif first >= 0:
                open_[letter] = (first, total + amount, (*passed, edit.index))
            else:
                continue
            first, total, passed = open_[letter]
            if not total:
                if passed:
                    found[first] = tuple(dict.fromkeys((*found.get(first, ()), *passed)))
                del open_[letter]
    return found


def _amounts(edit: Edit) -> list[tuple[str, Fraction]]:
    """By how much an edit changes the increments of its block."""
    if edit.kind != CHANGED:
        return []
    pairs = [(word.letter, word.old, word.new) for word in edit.words if word.letter in _INCREMENTS]
    return [
        (letter, new.number.value - old.number.value)
        for letter, old, new in pairs
        if old is not None and new is not None and old.number is not None and new.number is not None
        and old.number.pointed == new.number.pointed
    ]  # fmt: skip
