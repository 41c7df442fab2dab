"""The rule `search-number-moved`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from verifier.control import Sequence
from verifier.findings.examples import turning
from verifier.findings.model import Place, Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_CUT = "G01 X58. F0.2\nX62.\nG00 X100. Z50.\nM01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nX62."


class SearchNumberMoved(ChangeRule):
    """The block number at which a sequence is started is another one, or stands at another block.

    People start there after a tool broke. Searching the old number, they find nothing, or another tool's sequence, and start that.
    """

    id = "search-number-moved"
    revision = 3
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
        Example("N02 for N2", turning(_CUT.replace("N2 ", "N02 ")), False, old=turning(_CUT)),
        Example("inside a sequence", turning(_CUT.replace("G01 X50.", "N25 G01 X50.")), False, old=turning(_CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for all sequences that both programs have and that are started elsewhere."""
        found = list(_moved(change))
        if not found:
            return
        at = tuple(place for _, _, place, _ in found)
        yield Drawn(
            f"Search number moved: {joined(words for words, _, _, _ in found)}",
            before=found[0][1][0],
            after=found[0][1][1],
            at=at,
            edits=tuple(sorted({edit for *_, edits in found for edit in edits})),
        )


def _moved(change: ChangeView) -> Iterator[tuple[str, tuple[str, str], Place, tuple[int, ...]]]:
    """Each move in words, the number before and after, where it stands now, and the edits of the blocks where it is or was entered."""
    edits = change.comparison.edits
    alignment = change.comparison.edits.alignment
    partner, back = alignment.old_to_new.tolist(), alignment.new_to_old.tolist()
    for old in change.old.sequences:
        new = change.new.sequence_of(partner[old.called]) if old.called >= 0 and partner[old.called] >= 0 else None
        if new is None or new.called != partner[old.called] or not (_number(old) or _number(new)):
            continue
        name = f" (tool {new.tool})" if new.tool is not None else ""
        numbers = (_number(old) or "no number", _number(new) or "no number")
        place = change.new.place(new.entry)
        own = tuple(k for k in (int(edits.of_old[old.entry]), int(edits.of_new[new.entry])) if k >= 0)
        if numbers[0] != numbers[1]:
            yield f"{numbers[0]} is now {numbers[1]}{name}", numbers, place, own
        elif partner[old.entry] != new.entry and (partner[old.entry] >= 0 or back[new.entry] >= 0):
            yield f"{numbers[1]} stands at another block{name}", numbers, place, own


def _number(sequence: Sequence) -> str:
    """The search number without leading zeros, or nothing where the sequence has none."""
    if not sequence.label.startswith("N"):
        return ""
    return "N" + (sequence.label[1:].lstrip("0") or "0")
