"""The rule `thread-depth-changed`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from verifier.compare import Item
from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.facts import AmountChange
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.paths import Path
from verifier.findings.phrases import amount, coordinate, counted, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.thread_passes import deepest_step, passes_with
from verifier.findings.view import ChangeView, Drawn

_CYCLE = "G97 S800\nG00 X22. Z4.\nG76 P010060 Q50 R0.02\nG76 X18.16 Z-20. P920 Q300 F1.5\nG00 X62."
_PASSES = "G97 S800\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\nX18.9\nX18.6\nG00 X62."


class ThreadDepthChanged(ChangeRule):
    """A thread is cut to another depth, or in other passes: height, first pass, least pass, finish, angle, or a pass that came, went or moved.

    The insert cuts on both flanks and its point at once: a pass that takes too much breaks it, and a digit in thousandths is easily missed. A
    thread that is too deep or too shallow does not fit its gauge.
    """

    id = "thread-depth-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "thread-depth-changed"
    title = "The depth or the infeed of a thread is changed."
    watch = "Run the first pass in single block and look at its depth and at the insert; try the gauge before the last pass."
    examples = (
        Example("height", turning(_CYCLE.replace("P920", "P820")), True, old=turning(_CYCLE), line=10),
        Example("first pass ten times", turning(_CYCLE.replace("Q300", "Q3000")), True, old=turning(_CYCLE), line=10),
        Example(
            "least pass in the first line", turning(_CYCLE.replace("Q50", "Q100")), True, old=turning(_CYCLE), line=9
        ),
        Example("last pass deeper", turning(_PASSES.replace("X18.6", "X18.5")), True, old=turning(_PASSES), line=11),
        Example("a pass taken out", turning(_PASSES.replace("X18.9\n", "")), True, old=turning(_PASSES), line=10),
        Example("another lead", turning(_CYCLE.replace("F1.5", "F1.75")), False, old=turning(_CYCLE)),
        Example("another start", turning(_PASSES.replace("Z4.", "Z5.")), False, old=turning(_PASSES)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: amounts of cycles with their ratio, else the passes and the deepest step between two of them."""
        for share in change.shares(self.id):
            changes = list(_amounts(change, share))
            yield self._cycle(change, share, changes) if changes else self._passes(change, share)

    def _cycle(self, change: ChangeView, share: Share, changes: list[AmountChange]) -> Drawn:
        first = changes[0]
        return Drawn(
            f"Thread depth or infeed changed{_where(change, share)}: {joined(dict.fromkeys(_words(change, c) for c in changes))}",
            share.covers,
            before=amount(first.before, change.old.units),
            after=amount(first.after, change.new.units),
        )

    def _passes(self, change: ChangeView, share: Share) -> Drawn:
        lead = next((e for e in share.leads if e.field == "x"), share.leads[0])
        sides = [_passes_of(change, share, side) for side in (0, 1)]
        steps = _steps(change, sides)
        if lead.field == "x":
            before = f"X {coordinate('x', lead.before, change.old.units)}"
            after = f"X {coordinate('x', lead.after, change.new.units)}"
            title = f"Thread pass changed{_where(change, share)} from {before} to {after}"
            return Drawn(f"{title}{steps}", share.covers, before=before, after=after)
        items = [d.new or d.old for e in share.leads for d in e.differences]
        gone = lead.field == "removed"
        number = len([item for item in items if item in (sides[0] if gone else sides[1])])
        what = f"{counted(number or 1, 'thread pass', 'thread passes')} {'removed' if gone else 'added'}{_where(change, share)}"
        counts = [str(len(found)) for found in sides]
        return Drawn(f"{what}{steps}", share.covers, before=counts[0], after=counts[1])


def _amounts(change: ChangeView, share: Share) -> Iterator[AmountChange]:
    pairs = {p.index: p for e in share.leads if (p := change.facts.cycle_pair_of(e, e.first)) is not None}
    for pair in pairs.values():
        if "thread height" in pair.new.amounts:
            yield from (found for found in pair.amounts if found.name != "lead")


def _words(change: ChangeView, found: AmountChange) -> str:
    before, after = amount(found.before, change.old.units), amount(found.after, change.new.units)
    words = f"{found.name} from {before} to {after}"
    if found.before is None or found.after is None or found.before.unit != found.after.unit:
        return words
    if found.before.value * found.after.value > 0 and not found.name.startswith("end "):
        words += f" ({shop.ratio_words(found.before.value, found.after.value)})"
    return words


def _where(change: ChangeView, share: Share) -> str:
    first = share.leads[0].first
    item, view = (first.new, change.new) if first.new is not None else (first.old, change.old)
    sequence = view.sequence_of(item.block) if item is not None else None
    return f" in {sequence.label}" if sequence is not None else ""


def _passes_of(change: ChangeView, share: Share, side: int) -> tuple[Item, ...]:
    """The passes of the thread on one side; where all of the share's moves are on the other, the thread that ends where theirs does."""
    path = change.facts.paths(share.leads[0].position)[side]
    pairs = [(d.old, d.new) for e in share.leads for d in e.differences]
    item = next((pair[side] for pair in pairs if pair[side] is not None), None)
    if item is None:
        other = next(found for pair in pairs if (found := pair[1 - side]) is not None)
        item = _alike(change, path, side, other, change.facts.paths(share.leads[0].position)[1 - side])
    return passes_with(path, item) if item is not None else ()


def _alike(change: ChangeView, path: Path, side: int, other: Item, beside: Path) -> Item | None:
    """The pass on one side that ends where a pass of the other side does, with its lead: of the same thread where there is one."""
    same = [i for i in path.items if i.kind == "thread" and i.end.z == other.end.z and i.state.feed == other.state.feed]
    alignment = change.comparison.edits.alignment
    partner = (alignment.new_to_old, alignment.old_to_new)[side]
    blocks = {int(partner[block]) for item in passes_with(beside, other) for block in item.blocks}
    return next((i for i in same if i.block in blocks), same[0] if same else None)


def _steps(change: ChangeView, sides: list[tuple[Item, ...]]) -> str:
    found = [deepest_step(passes) for passes in sides]
    if None in found or found[0] == found[1]:
        return ""
    shown = [
        shop.millimetres(step, view.units) for step, view in zip(found, change.views(), strict=True) if step is not None
    ]
    return f"; the deepest infeed from pass to pass is {shown[1]}, {shown[0]} before"
