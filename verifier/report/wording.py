"""Text differences that leave the machine's behaviour as it was, each with its kind: nothing is dropped."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from verifier.compare import WORDING, Edit, Pairing
from verifier.findings import Place, changed_notes
from verifier.findings.view import ChangeView, ProgramView
from verifier.report.change_report import WordingChange
from verifier.source import Source
from verifier.syntax import block_text


def wording(change: ChangeView, harmless: Iterable[Edit]) -> tuple[WordingChange, ...]:
    """Blocks with other spelling, edits without effect, notes, and changes of the whole file (line ends, byte-order mark)."""
    found: list[WordingChange] = []
    for pairing in change.comparison.edits.pairings:
        if pairing.kind == WORDING:
            found.append(
                WordingChange(_place(change.old, pairing.old), _place(change.new, pairing.new), _kind(change, pairing))
            )
    for edit in harmless:
        pairs = max(len(edit.old), len(edit.new))
        olds = [*edit.old, *[None] * (pairs - len(edit.old))]
        news = [*edit.new, *[None] * (pairs - len(edit.new))]
        for old, new in zip(olds, news, strict=True):
            found.append(
                WordingChange(
                    _place(change.old, old),
                    _place(change.new, new),
                    "no effect",
                    _text(change.old, old),
                    _text(change.new, new),
                )
            )
    found += _notes(change)
    if _ends(change.old.program.source) != _ends(change.new.program.source):
        found.append(WordingChange(None, None, "line ends"))
    return tuple(found)


def wording_counts(kinds: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """How many text differences of each kind, in words, from the kind of each."""
    return tuple(Counter("words that change nothing" if kind == "no effect" else kind for kind in kinds).items())


def _place(view: ProgramView, block: int | None) -> Place | None:
    return None if block is None else view.place(block)


def _text(view: ProgramView, block: int | None) -> str | None:
    return None if block is None else block_text(view.block(block))


def _kind(change: ChangeView, pairing: Pairing) -> str:
    """What differs in a block whose words say the same."""
    assert pairing.old is not None and pairing.new is not None
    old, new = change.old.block(pairing.old), change.new.block(pairing.new)
    if any(word.letter == "N" and word.kind != "respelled" for word in pairing.words):
        return "block number"
    if [w.text for w in old.words] != [w.text for w in new.words]:
        return "spelling"
    if [c.text for c in old.comments] != [c.text for c in new.comments]:
        return "note"
    return "layout"


def _notes(change: ChangeView) -> list[WordingChange]:
    """Notes on lines of their own that differ in prose only: one entry for all. Those that matter have a finding each, and are no wording."""
    programs = change.old.program, change.new.program
    told = list(changed_notes(*(program.comments for program in programs)))
    sides = []
    for side, program in enumerate(programs):
        lines = set(program.columns.line.tolist()) | {note.line for pair in told if (note := pair[side]) is not None}
        sides.append([comment.text for comment in program.comments if comment.line not in lines])
    return [WordingChange(None, None, "note")] if sides[0] != sides[1] else []


def _ends(source: Source) -> tuple[bool, bool, bool]:
    data = source.data
    crlf = data.count(b"\r\n")
    return crlf > 0, data.count(b"\n") > crlf, data.count(b"\r") > crlf
