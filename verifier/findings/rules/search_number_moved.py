"""The rule `search-number-moved`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from verifier.control import Sequence, layout, whole
from verifier.findings.examples import turning
from verifier.findings.model import Place, Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView
from verifier.syntax import block_text

_CUT = "G01 X58. F0.2\nX62.\nG00 X100. Z50.\nM01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


class SearchNumberMoved(ChangeRule):
    """The block number at which a sequence is started is another one, is gone, or stands at another block.

    People start there after a tool broke. Searching the old number, they find nothing, or another tool's sequence, and start that.
    """

    id = "search-number-moved"
    revision = 6
    weight = Weight.MAJOR
    people = True
    mirror = "search-number-moved"
    title = "A search number is changed or stands elsewhere."
    watch = "Write the new numbers on the setup sheet, and cross out the old ones."
    examples = (
        Example("N2 became N20", turning(_CUT.replace("N2 ", "N20 ")), True, old=turning(_CUT), line=11),
        Example(
            "moved behind the tool call",
            turning(_CUT.replace("N2 T0303\nG97", "T0303\nN2 G97")),
            True,
            old=turning(_CUT),
        ),
        Example(
            "alone behind the tool call",
            turning(_CUT.replace("N2 T0303\nG97", "T0303\nN2\nG97")),
            True,
            old=turning(_CUT.replace("N2 T0303\nG97", "N2\nT0303\nG97")),
            line=12,
        ),
        Example("N02 for N2", turning(_CUT.replace("N2 ", "N02 ")), False, old=turning(_CUT)),
        Example(
            "behind the safety block",
            turning(_CUT.replace("N2 T0303\nG97", "G97 G99\nN2\nT0303\nG97")),
            True,
            old=turning(_CUT.replace("N2 T0303\nG97", "N2\nG97 G99\nT0303\nG97")),
        ),
        Example("N2 gone", turning(_CUT.replace("N2 ", "")), True, old=turning(_CUT)),
        Example("inside a sequence", turning(_CUT.replace("G01 X50.", "N25 G01 X50.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding each for the sequences that both programs have and that are started elsewhere, no more, or newly at a number."""
        groups: dict[str, list[_Move]] = {}
        for move in _moved(change):
            groups.setdefault(move.kind, []).append(move)
        for kind, moves in groups.items():
            yield Drawn(
                f"{_OPENINGS[kind]}: {joined(move.words for move in moves)}",
                before=moves[0].before,
                after=moves[0].after,
                at=tuple(move.place for move in moves),
                edits=tuple(sorted({edit for move in moves for edit in move.edits})),
                weight=Weight.MINOR if kind == _GIVEN and not _taken(change, moves) else None,
            )


_GIVEN, _GONE, _MOVED = "given", "gone", "moved"
_OPENINGS = {_GIVEN: "Search number where there was none", _GONE: "Search number gone", _MOVED: "Search number moved"}
_NONE = "no number"


@dataclass(frozen=True, slots=True)
class _Move:
    """One sequence that is started elsewhere: how, in words, before and after, where it is entered now, and the edits there."""

    kind: str
    words: str
    before: str
    after: str
    place: Place
    edits: tuple[int, ...]


def _moved(change: ChangeView) -> Iterator[_Move]:
    edits = change.comparison.edits
    alignment = change.comparison.edits.alignment
    partner, back = alignment.old_to_new.tolist(), alignment.new_to_old.tolist()
    for old in change.old.sequences:
        new = change.new.sequence_of(partner[old.called]) if old.called >= 0 and partner[old.called] >= 0 else None
        if new is None or new.called != partner[old.called] or not (_number(old) or _number(new)):
            continue
        name = f" (tool {new.tool})" if new.tool is not None else ""
        before, after = _number(old) or _NONE, _number(new) or _NONE
        kind = _GIVEN if before == _NONE else _GONE if after == _NONE else _MOVED
        shown = change.new.place(new.entry) if kind != _GONE else change.old.place(old.entry)
        number = before if kind == _GONE else after
        stood, stands = (
            (-1, -1) if kind == _MOVED else (_standing(change.old, old, number), _standing(change.new, new, number))
        )
        ends = [int(edits.of_old[old.entry]), int(edits.of_new[new.entry])]
        if kind == _GONE and stood < 0 <= stands:
            words = f"{before} stands behind {block_text(change.new.block(new.called))}{name}"
            kind, after, shown = _MOVED, before, change.new.place(stands)
            ends[1] = int(edits.of_new[stands])
        elif kind == _GIVEN and stands < 0 <= stood:
            words = f"{after} stands in front of {block_text(change.new.block(new.called))}{name}"
            kind, before = _MOVED, after
            ends[0] = int(edits.of_old[stood])
        elif before != after and kind == _MOVED and _stand_as_before(change, old, new):
            continue  # only the tool word changed, and with it which of the numbers in its head is taken for the search number
        elif before != after:
            words = {_GIVEN: after, _GONE: before}.get(kind, f"{before} is now {after}") + name
        elif partner[old.entry] != new.entry and (partner[old.entry] >= 0 or back[new.entry] >= 0):
            words = f"{after} stands at another block{name}"
        elif passed := _passed(change, old, new):
            words = f"{after} {passed}{name}"
        else:
            continue
        yield _Move(kind, words, before, after, shown, tuple(k for k in ends if k >= 0))


def _stand_as_before(change: ChangeView, old: Sequence, new: Sequence) -> bool:
    """Whether the blocks at which a sequence was and is started are in both programs with the numbers that they had."""
    alignment = change.comparison.edits.alignment
    pairs = ((old.entry, int(alignment.old_to_new[old.entry])), (int(alignment.new_to_old[new.entry]), new.entry))
    return all(
        before >= 0 <= after and _n_words(change.old, before) == _n_words(change.new, after) for before, after in pairs
    )


def _n_words(view: ProgramView, block: int) -> list[int | None]:
    return [whole(word) for word in view.block(block).words if word.letter == "N"]


def _standing(view: ProgramView, sequence: Sequence, number: str) -> int:
    """The block behind a sequence's tool word that bears this number, or -1: a search finds it there, with the tool not called."""
    wanted = int(number[1:])
    for block in range(sequence.called + 1, sequence.end):
        if any(word.letter == "N" and whole(word) == wanted for word in view.block(block).words):
            return block
    return -1


def _passed(change: ChangeView, old: Sequence, new: Sequence) -> str:
    """The first block of a sequence's head that stood behind the number and stands in front of it now, or the other way round, in words."""
    partner = change.comparison.edits.alignment.old_to_new.tolist()
    for block in range(old.first, old.called + 1):
        other = partner[block]
        if new.first <= other <= new.called and (block < old.entry) != (other < new.entry):
            side = "behind" if other < new.entry else "in front of"
            return f"stands {side} {block_text(change.new.block(other))}"
    return ""


def _taken(change: ChangeView, moves: list[_Move]) -> bool:
    """Whether one of the numbers given stood, or stands, at another block: a search finds either."""
    labels = [layout(view.program).labels for view in change.views()]
    return any(sum(len(side.get(int(move.after[1:]), ())) for side in labels) > 1 for move in moves)


def _number(sequence: Sequence) -> str:
    """The search number without leading zeros, or nothing where the sequence has none."""
    if not sequence.label.startswith("N"):
        return ""
    return "N" + (sequence.label[1:].lstrip("0") or "0")
