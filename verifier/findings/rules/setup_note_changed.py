"""The rule `setup-note-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.identity import identity_notes
from verifier.findings.model import Place, Weight
from verifier.findings.note_edits import BecameNote, NoteEdits
from verifier.findings.notes import NotePair, changed_notes, heavy, shown
from verifier.findings.phrases import counted
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "(JAWS 38 OUT OF THE CHUCK)\nG01 X58. F0.2\nX62."
_ALONE = 6
"""From so many changed notes on they are one finding."""


class SetupNoteChanged(ChangeRule):
    """A number, a tool, an offset, a unit or a word about holding the work is changed in a note.

    The machine does not read notes; people do. They set up by them: how far out of the chuck, which tool at which station, what to measure.
    """

    id = "setup-note-changed"
    revision = 4
    weight = Weight.MINOR
    people = True
    mirror = "setup-note-changed"
    title = "A setup note is changed."
    watch = "Set up by the new note, not by memory; ask whether the machine was set up for the old one."
    examples = (
        Example("another length out of the chuck", turning(_CUT.replace("38", "42")), True, old=turning(_CUT), line=7),
        Example(
            "a bracket in front of a word",
            turning("G01 X58. (F0.2)\nX62."),
            True,
            old=turning("G01 X58. F0.2\nX62."),
            line=7,
        ),
        Example("prose only", turning("(ROUGH IT)\n" + _CUT), False, old=turning("(ROUGHING)\n" + _CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Notes that differ in more than prose; they account for nothing that the machine does."""
        programs = change.old.program, change.new.program
        named = set(identity_notes(*programs))  # `program-identity-changed` speaks of those
        pairs = [pair for pair in changed_notes(*(program.comments for program in programs)) if pair not in named]
        edits = NoteEdits(change) if pairs else None
        rest: list[NotePair] = []
        words: dict[tuple[int, bool], list[tuple[NotePair, BecameNote]]] = {}
        for pair in pairs:
            found = edits.became_note(pair) if edits is not None else None
            if found is not None:
                words.setdefault((found.edit, found.freed), []).append((pair, found))
            elif edits is None or not edits.goes_along(pair):
                rest.append(pair)
        yield from (self._words(change, several) for several in words.values())
        if len(rest) >= _ALONE:
            yield self._many(change, rest)
        else:
            yield from (self._one(change, pair) for pair in rest)

    def _one(self, change: ChangeView, pair: NotePair) -> Drawn:
        before, after = (shown(note) if note is not None else None for note in pair)
        if before is None:
            title = f"Setup note added: {after}"
        elif after is None:
            title = f"Setup note removed: {before}"
        elif before == after:
            title = f"Setup note stands at another place: {after}"
        else:
            title = f"Setup note changed from {before} to {after}"
        weight = Weight.MINOR if before == after else _weight([pair])
        return Drawn(title, before=before, after=after, weight=weight, at=_places(change, [pair]))

    def _words(self, change: ChangeView, found: list[tuple[NotePair, BecameNote]]) -> Drawn:
        """Words that a bracket made a note, or freed: part of the story of the edit that shows it, which tells what that does."""
        pairs = [pair for pair, _ in found]
        first = found[0][1]
        several = len(found) > 1 or len(first.words.split()) > 1
        if first.freed:
            title = f"A note became {'words' if several else 'a word'} that the machine reads: {first.words}"
        else:
            title = f"{'Words' if several else 'A word'} became a note, which the machine does not read: {first.words}"
        title += f", and {counted(len(found) - 1, 'more block')}" if len(found) > 1 else ""
        other = [pair for pair, one in found if one.rest]
        before, after = (shown(note) if note is not None else None for note in pairs[0])
        return Drawn(
            title,
            edits=(first.edit,),
            before=before,
            after=after,
            weight=_weight(other),
            at=_places(change, pairs),
        )

    def _many(self, change: ChangeView, pairs: list[NotePair]) -> Drawn:
        """Many changed notes, a new header for instance: the count and the first one that names a tool or what holds the work."""
        old, new = next((p for p in pairs if heavy(p[0]) or heavy(p[1])), pairs[0])
        before, after = (shown(n) if n is not None else None for n in (old, new))
        return Drawn(
            f"{counted(len(pairs), 'setup note')} changed, one of them from {before or 'nothing'} to {after or 'nothing'}",
            before=before,
            after=after,
            weight=_weight(pairs),
            at=_places(change, pairs),
        )


def _places(change: ChangeView, pairs: list[NotePair]) -> tuple[Place, ...]:
    notes = [(change.new, new) if new is not None else (change.old, old) for old, new in pairs]
    return tuple(view.note_place(note) for view, note in notes if note is not None)


def _weight(pairs: list[NotePair]) -> Weight:
    return Weight.MAJOR if any(heavy(note) for pair in pairs for note in pair) else Weight.MINOR
