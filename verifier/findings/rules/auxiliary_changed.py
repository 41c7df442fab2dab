"""The rule `auxiliary-changed`."""

from __future__ import annotations

import re
from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import heaviest, joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn
from verifier.machines import Machine

_CUT = "G01 X58. F0.2\nX62."
_HOLDING = re.compile("door|guard|chuck|jaw|collet|clamp|quill|tailstock|steady|centre|spindle|bar|work")
_CODE = re.compile("M0*([0-9]+)")


class AuxiliaryChanged(ChangeRule):
    """An M code of the machine builder, or what it switches, came, went or changed.

    Such codes open chucks, move tailstocks and doors. What each of them does is the machine's own; where the profile does not say it, nobody
    here knows it.
    """

    id = "auxiliary-changed"
    revision = 3
    weight = Weight.MAJOR
    people = True
    mirror = "auxiliary-changed"
    title = "An auxiliary function is changed."
    watch = "Ask what the code does on this machine, and what holds the part at that moment, before it is run."
    examples = (
        Example("M code added", turning("M61\n" + _CUT), True, old=turning(_CUT), line=7),
        Example("M code exchanged", turning("M62\n" + _CUT), True, old=turning("M61\n" + _CUT), line=7),
        Example("the same M code", turning("M061\n" + _CUT), False, old=turning("M61\n" + _CUT)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each set of edits: codes and states that came, went or changed."""
        for share in change.shares(self.id):
            yield self._drawn(change, share)

    def _drawn(self, change: ChangeView, share: Share) -> Drawn:
        events = [e for e in share.leads if e.field != "auxiliaries"]
        parts = dict.fromkeys(_words(effect) for effect in (events or share.leads))
        first = (events or share.leads)[0]
        weight = heaviest(_weight(change.new.machine, effect) for effect in share.leads)
        return Drawn(
            f"Auxiliary function changed: {joined(_told(parts))}",
            share.covers,
            before=_text(first.before) or None,
            after=_text(first.after) or None,
            weight=weight,
        )


def _told(parts: Iterable[str]) -> Iterable[str]:
    """What came and went alike only has another time."""
    found = list(parts)
    for part in found:
        word, _, end = part.rpartition(" ")
        if f"{word} added" in found and f"{word} removed" in found:
            if end == "added":
                yield f"{word} at another time"
        else:
            yield part


def _text(value: object) -> str:
    if isinstance(value, tuple):
        return joined(f"{name} {state}" for name, state in value) or "none"
    return "" if value is None else str(value)


def _words(effect: Effect) -> str:
    before, after = effect.before, effect.after
    if isinstance(before, tuple) and isinstance(after, tuple):
        told = [(name, dict(before).get(name), dict(after).get(name)) for name in dict([*before, *after])]
        return joined(f"{name} {new or 'not set'}, {old or 'not set'} before" for name, old, new in told if old != new)
    if effect.field == "order":
        item = effect.first.new or effect.first.old
        return f"{item.value if item else ''} at another time"
    if before is None:
        return f"{after} added"
    return f"{before} removed" if after is None else f"{before} became {after}"


def _weight(machine: Machine, effect: Effect) -> Weight:
    """By the machine profile; whatever holds the work or keeps people away from it is critical, and an unknown code is major."""
    found = [Weight.MINOR]
    for value in (effect.before, effect.after):
        if isinstance(value, tuple):
            changed = set(value) ^ set(effect.after if value is effect.before else effect.before)  # type: ignore[call-overload]
            found += [_of_state(machine, name, state) for name, state in sorted(changed)]
        elif isinstance(value, str):
            code = _CODE.match(value)
            name, _, state = value.partition(" ")
            found.append(_of_code(machine, int(code[1])) if code else _of_state(machine, name, state))
    return heaviest(found)


def _of_code(machine: Machine, code: int) -> Weight:
    entry = machine.m_codes.get(code)
    if entry is None:
        return Weight.MAJOR
    return Weight.CRITICAL if _HOLDING.search(entry.meaning.lower()) else Weight(entry.weight)


def _of_state(machine: Machine, name: str, state: str) -> Weight:
    if _HOLDING.search(name.lower()):
        return Weight.CRITICAL
    weights = [Weight(e.weight) for e in machine.m_codes.values() if (name, state) in e.sets]
    return heaviest(weights) if weights else Weight.MAJOR
