"""Safety-relevant words that an edit touches: added, removed, changed in value, or put in another order.

Another spelling is not a touch, nor is a repetition of what is already in force and established earlier in the same sequence. The list of
words: common practice, no source (it follows what the trade agrees must not change unseen).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import NamedTuple

from verifier.compare import Comparison, Edit
from verifier.control import CYCLES, Lasts, canonical_word, meant, whole
from verifier.findings.model import Place
from verifier.findings.view import ChangeView, ProgramView
from verifier.machines import ABSOLUTE, INCREMENTAL, TO_INITIAL, TO_R, Machine, code_name
from verifier.syntax import Block, Word


class Token(NamedTuple):
    """A safety-relevant word: the group in which the last one counts, its comparable text by meaning, its kind, and how its machine calls it."""

    group: str
    text: str
    kind: str
    column: int
    shown: str


@dataclass(frozen=True, slots=True)
class Touched:
    """A touched word: what kind it is, as it was and as it is (None: not there; both the same: at another place), and where."""

    kind: str
    old: str | None
    new: str | None
    place: Place
    edit: int

    @property
    def text(self) -> str:
        """The touch in words."""
        if self.old is None:
            return f"{self.kind}: {self.new} added"
        if self.new is None:
            return f"{self.kind}: {self.old} removed"
        if self.old == self.new:
            return f"{self.kind}: {self.new} at another place"
        return f"{self.kind}: {self.old} is now {self.new}"


_G_KINDS: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("G96", "G97"), ("speed-mode", "speed mode")),
    **dict.fromkeys(("G20", "G21"), ("units", "units")),
    **dict.fromkeys(("G98", "G99"), ("feed-mode", "feed mode")),
    **dict.fromkeys(("G00", "G01"), ("motion", "rapid against feed")),
    **dict.fromkeys(("G40", "G41", "G42"), ("compensation", "compensation")),
    **dict.fromkeys(tuple(f"G{n}" for n in range(54, 60)), ("work-offset", "work offset")),
    **dict.fromkeys(("G10", "G52"), ("", "offset write")),
    **dict.fromkeys(("G28", "G29", "G30", "G53"), ("", "reference or machine position")),
    **dict.fromkeys((ABSOLUTE, INCREMENTAL), ("distance", "coordinates or increments")),
    **dict.fromkeys((TO_INITIAL, TO_R), ("return-level", "return level")),
    "G50": ("", "clamp or coordinate preset"),
    "G04": ("", "dwell"),
    **dict.fromkeys(("G65", "G66", "G67"), ("", "call")),
}
_WITH_WORDS = {
    **dict.fromkeys(("G10", "G52"), "LPQRXYZUVWCKI"),
    **dict.fromkeys(("G28", "G29", "G30", "G53"), "PXYZUVWC"),
}
"""Codes that mean nothing without the words beside them: a changed value there touches them. The words' order says nothing."""
_OTHER_MOTION = ("G02", "G03", "G32", "G34", *(code for code, cycle in CYCLES.items() if cycle.lasts is Lasts.PASSES))
_HARMLESS_G = frozenset((*_OTHER_MOTION, *CYCLES, "G17", "G18", "G19", "G61", "G64", "G80"))
_M_KINDS: dict[int, tuple[str, str]] = {
    **dict.fromkeys((3, 4, 5), ("spindle", "spindle sense")),
    **dict.fromkeys((7, 8, 9), ("coolant", "coolant")),
    **dict.fromkeys((0, 1), ("", "stop")),
    **dict.fromkeys((2, 30), ("", "program end")),
    6: ("", "tool change"),
    98: ("", "call"),
    99: ("", "return or repeat"),
}


WORD_KINDS = tuple(
    sorted(
        {kind for _, kind in (*_G_KINDS.values(), *_M_KINDS.values())}
        | {"block skip", "variable or branch", "machine code", "unknown code", "speed clamp", "speed", "tool or offset"}
        | {"call or repeat", "coordinate preset"}
    )
)
"""Every kind that the product itself knows; states of a machine's own M codes are kinds beside them."""


def tokens(block: Block, machine: Machine) -> list[Token]:
    """The safety-relevant words of one block, in order."""
    found = [_same(f"/{skip.level or ''}", "block skip", skip.column) for skip in block.skips]
    codes = {meant(word, machine) for word in block.words if word.letter == "G"}
    letters = {word.letter for word in block.words}
    calls = any(word.letter == "M" and whole(word) in (98, 99) for word in block.words)
    told = "GMST" + "PLQ" * calls + "XZUW" * ("G50" in codes)
    for word in block.words:
        token = _token(word, block, codes, letters, machine) if word.letter in told else None
        if token is not None:
            found.append(token)
    found += [_same(macro.text, "variable or branch", macro.column) for macro in block.macros if macro.kind != "output"]
    return found


def _same(text: str, kind: str, column: int, group: str = "") -> Token:
    """A word that every machine calls the same."""
    return Token(group, text, kind, column, text)


def _token(word: Word, block: Block, codes: set[str], letters: set[str], machine: Machine) -> Token | None:
    text = canonical_word(word)
    clamp = code_name("G50", machine.code_set)
    if word.letter == "G":
        code = meant(word, machine) or text
        group, kind = _G_KINDS.get(code, ("", "unknown code"))
        if code in _HARMLESS_G:
            return Token("motion", code, "", word.column, text) if code in _OTHER_MOTION else None
        if code in _WITH_WORDS:
            code = text = " ".join(
                (code, *sorted(canonical_word(w) for w in block.words if w.letter in _WITH_WORDS[code]))
            )
        if code == "G50" and letters & set("SXZUW"):
            return None  # what it sets is told by those words
        return Token(group, code, kind, word.column, text)
    if word.letter == "M":
        number = whole(word)
        entry = machine.m_codes.get(number) if number is not None else None
        default = (
            (entry.sets[0][0], entry.sets[0][0])
            if entry and entry.sets
            else ("", "machine code" if entry else "unknown code")
        )
        group, kind = _M_KINDS.get(number if number is not None else -1, default)
        return _same(f"M{number:02d}" if number is not None else text, kind, word.column, group)
    if word.letter == "S":
        return (
            Token("clamp", f"G50 {text}", "speed clamp", word.column, f"{clamp} {text}")
            if "G50" in codes
            else _same(text, "speed", word.column, "speed")
        )
    if word.letter == "T":
        return _same(text, "tool or offset", word.column, "tool")
    if word.letter in "PLQ":
        return _same(text, "call or repeat", word.column)
    return Token("", f"G50 {text}", "coordinate preset", word.column, f"{clamp} {text}")


def touched(change: ChangeView) -> tuple[Touched, ...]:
    """Every safety-relevant word that the edits touch."""
    comparison = change.comparison
    before = _standing(change.old, set(_edited(comparison, "old")))
    after = _standing(change.new, set(_edited(comparison, "new")))
    found: list[Touched] = []
    for edit in comparison.edits.edits:
        found += _of_edit(change, edit, before, after)
    return tuple(found)


def _edited(comparison: Comparison, side: str) -> Iterator[int]:
    for edit in comparison.edits.edits:
        yield from edit.old if side == "old" else edit.new


Standing = dict[int, dict[str, str]]


def _standing(view: ProgramView, wanted: set[int]) -> Standing:
    """For each wanted block, what its sequence has established before it: group -> text."""
    found: Standing = {}
    if not wanted:
        return found
    starts = {sequence.first for sequence in view.sequences}
    now: dict[str, str] = {}
    last = max(wanted)
    for index, block in enumerate(view.program.blocks):
        if index in starts:
            now = {}
        if index in wanted:
            found[index] = dict(now)
        if index >= last:
            break
        for token in tokens(block, view.machine):
            if token.group:
                now[token.group] = token.text
    return found


def _of_edit(change: ChangeView, edit: Edit, before: Standing, after: Standing) -> Iterator[Touched]:
    olds = [(b, t) for b in edit.old for t in tokens(change.old.block(b), change.old.machine)]
    news = [(b, t) for b in edit.new for t in tokens(change.new.block(b), change.new.machine)]
    if edit.kind == "moved":
        # The same words at another place: whatever they govern, or are governed by, may be on the other side of them now.
        for block, token in news:
            if token.kind:
                yield Touched(
                    token.kind,
                    token.shown,
                    token.shown,
                    change.new.place(block, token.column),
                    edit.index,
                )
        return
    matcher = SequenceMatcher(None, [t[:2] for _, t in olds][:400], [t[:2] for _, t in news][:400], autojunk=False)
    for tag, i1, i2, j1, j2 in matcher.get_opcodes():
        if tag == "equal":
            continue
        gone = [(b, t) for b, t in olds[i1:i2] if t.kind]
        come = [(b, t) for b, t in news[j1:j2] if t.kind]
        repeats = (lambda b, t: _repeats(b, t, olds, before), lambda b, t: _repeats(b, t, news, after))
        yield from _pairs(change, edit, gone, come, repeats)
    for block, token in [*olds[400:], *news[400:]]:
        if token.kind:
            view, name = (change.new, "new") if block in edit.new else (change.old, "old")
            yield Touched(
                token.kind,
                token.shown,
                None if name == "old" else token.shown,
                view.place(block, token.column),
                edit.index,
            )


def _repeats(block: int, token: Token, among: list[tuple[int, Token]], standing: Standing) -> bool:
    """Whether a word only repeats what its sequence has established before it."""
    if not token.group:
        return False
    said = standing.get(block, {}).get(token.group)
    for other, earlier in among:
        if other == block and earlier.column >= token.column:
            break
        if other == block and earlier.group == token.group:
            said = earlier.text
    return said == token.text


Repeats = Callable[[int, Token], bool]


def _pairs(
    change: ChangeView,
    edit: Edit,
    gone: list[tuple[int, Token]],
    come: list[tuple[int, Token]],
    repeats: tuple[Repeats, Repeats],
) -> Iterator[Touched]:
    """What went and what came of one kind are one word that changed; of the rest, what only repeated is no touch."""
    rest = list(come)
    for block, token in gone:
        match = next((k for k, (_, t) in enumerate(rest) if t.kind == token.kind), None)
        if match is not None:
            at, other = rest.pop(match)
            yield Touched(token.kind, token.shown, other.shown, change.new.place(at, other.column), edit.index)
        elif not repeats[0](block, token):
            yield Touched(token.kind, token.shown, None, change.old.place(block, token.column), edit.index)
    for block, token in rest:
        if not repeats[1](block, token):
            yield Touched(token.kind, None, token.shown, change.new.place(block, token.column), edit.index)


def summary(found: Iterable[Touched]) -> tuple[str, ...]:
    """The touches as reasons for a sign-off, each once, in order."""
    return tuple(dict.fromkeys(touch.text for touch in found))


__all__ = ["WORD_KINDS", "Token", "Touched", "summary", "tokens", "touched"]
