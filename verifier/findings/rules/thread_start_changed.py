"""The rule `thread-start-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect, Item
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import coordinate, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.thread_passes import passes_with
from verifier.findings.view import ChangeView, Drawn

_CYCLE = "G97 S800\nG00 X22. Z4.\nG92 X19.3 Z-20. F1.5\nX18.9\nG00 X62."
_PASSES = "G97 S800\nG00 X19.3 Z4.\nG32 Z-20. F1.5\nG00 X22.\nZ4.\nX18.9\nG32 Z-20. F1.5\nG00 X62."


class ThreadStartChanged(ChangeRule):
    """A thread, or one pass of it, starts from another place.

    Along Z the start is the phase: a pass that starts elsewhere cuts beside the groove of the passes before it, and a shorter run-in gives a
    wrong lead at the first turns. Along X a start nearer to the crest drags the tool back over the thread.
    """

    id = "thread-start-changed"
    revision = 1
    weight = Weight.MAJOR
    mirror = "thread-start-changed"
    title = "The start point of a thread is changed."
    watch = "Check that all passes start at one Z, with room for the run-in; try the gauge before the part leaves the chuck."
    examples = (
        Example("cycle started nearer", turning(_CYCLE.replace("Z4.", "Z3.")), True, old=turning(_CYCLE), line=8),
        Example("nearer to the crest", turning(_CYCLE.replace("X22. Z4.", "X20.5 Z4.")), True, old=turning(_CYCLE), line=8),
        Example("one pass of two", turning(_PASSES.replace("X22.\nZ4.", "X22.\nZ4.5")), True, old=turning(_PASSES), line=11),
        Example("the end of the thread", turning(_CYCLE.replace("Z-20.", "Z-19.")), False, old=turning(_CYCLE)),
        Example("another depth", turning(_PASSES.replace("X18.9", "X18.8")), False, old=turning(_PASSES)),
    )  # fmt: skip

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: the place before and after, and how many passes of the thread it is about."""
        for share in change.shares(self.id):
            yield self._drawn(change, share)

    def _drawn(self, change: ChangeView, share: Share) -> Drawn:
        parts: dict[str, tuple[str, str]] = {}
        for effect in share.leads:
            before = coordinate(effect.field, effect.before, change.old.units)
            after = coordinate(effect.field, effect.after, change.new.units)
            name = effect.field.upper()
            parts.setdefault(effect.field, (f"{name} {before}", f"{name} {after}"))
        first = next(iter(parts.values()))
        told = joined(f"{before} to {after}" for before, after in parts.values())
        return Drawn(
            f"Thread start changed from {told}{_which(change, share)}", share.covers, before=first[0], after=first[1]
        )


def _which(change: ChangeView, share: Share) -> str:
    """Of how many passes of the thread the start along Z moved, where it is not all of them."""
    effects = [effect for effect in share.leads if effect.field == "z"]
    path = change.facts.paths(share.leads[0].position)[1]
    items = [d.new for effect in effects for d in effect.differences if d.new is not None]
    passes = passes_with(path, items[0]) if items else ()
    moved = _moved(effects, passes)
    if not passes or moved >= len(passes):
        return ""
    return f": {moved} of {len(passes)} passes no longer {'starts' if moved == 1 else 'start'} where the others do"


def _moved(effects: list[Effect], passes: tuple[Item, ...]) -> int:
    """How many passes of a thread start where the moved places are."""
    places = {d.new.end.z for effect in effects for d in effect.differences if d.new is not None}
    return sum(item.start.z in places for item in passes)
