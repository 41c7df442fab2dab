"""The rule `behaviour-changed-otherwise`: nothing is dropped."""

from __future__ import annotations

import re
from collections.abc import Iterable

from verifier.compare import Effect, Item
from verifier.findings.engine import CoveredView
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn

_BESIDE = re.compile(r" [\[<]")
"""What an event's text tells beside the block: amounts of an earlier line, and the contour."""


class BehaviourChangedOtherwise(ChangeRule):
    """The machine does something else than before, and no other rule names it.

    It is listed so that no difference is dropped. Read the blocks: what has no name here still moves the machine.
    """

    id = "behaviour-changed-otherwise"
    revision = 3
    weight = Weight.MAJOR
    mirror = "behaviour-changed-otherwise"
    catch_all = True
    title = "Behaviour changed in another way."
    watch = "Read the blocks named and run them in single block."
    examples = (
        Example("an unknown block differs", turning("G110 P1 X0.1"), True, old=turning("G110 P1 X0.2"), line=7),
        Example("nothing else differs", turning("G01 Z-30. F0.2"), False, old=turning("G01  Z-30. F0.2")),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """What is left, one finding for each set of causes."""
        assert isinstance(change, CoveredView)
        groups: dict[tuple[int, ...], list[Effect]] = {}
        for effect in change.uncovered():
            groups.setdefault(effect.causes, []).append(effect)
        for causes, effects in groups.items():
            if all(edit in change.covered_edits for edit in causes) and all(effect.left for effect in effects):
                # The state left behind follows from a change that was told already.
                yield Drawn(self._title(change, effects), tuple(effects), edits=causes, weight=Weight.MINOR)
                continue
            yield Drawn(self._title(change, effects), tuple(effects), edits=causes)

    def _title(self, change: ChangeView, effects: list[Effect]) -> str:
        names = list(dict.fromkeys(_name(change, effect) for effect in effects))
        names = [*names[:3], f"{len(names) - 3} more"] if len(names) > 4 else names
        unsure = "" if any(e.certain for e in effects) else " (whether it differs at the machine cannot be told)"
        return f"Other behaviour differs: {', '.join(names)}{unsure}"


def _name(change: ChangeView, effect: Effect) -> str:
    """What differs, with the words themselves where they are not executed here."""
    item = effect.first.new or effect.first.old
    if item is None or item.is_move or effect.field not in ("event", "added", "removed", "order"):
        return f"{effect.field.replace('_', ' ')}{' left at the end' if effect.left else ''}"
    text = _BESIDE.split(item.value, maxsplit=1)[0]
    if effect.field in ("added", "removed") and _stands_on_both_sides(change, item, added=effect.field == "added"):
        return f"{text} cannot be computed now" if effect.field == "added" else f"{text} can be computed now"
    verbs = {"event": "changed", "order": "at another time"}
    beside = " (with its first line and contour)" if text != item.value else ""
    return f"{text}{beside} {verbs.get(effect.field, effect.field)}"


def _stands_on_both_sides(change: ChangeView, item: Item, *, added: bool) -> bool:
    """Whether the block of something that was not executed stands in both programs: then it was executed on one side only."""
    alignment = change.comparison.edits.alignment
    partner = (alignment.new_to_old if added else alignment.old_to_new)[item.block]
    return item.kind == "event:unexecuted" and int(partner) >= 0
