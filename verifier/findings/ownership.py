"""Which rule speaks of which effect: every effect has one owner at most, so that nothing is told twice and nothing is lost.

First each effect is claimed by the first claim in `claims.CLAIMS` that takes it. Effects that only follow from others (levels of a roughing
cycle, the state left at the end) then go along with the finding about the same edits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from verifier.compare import Effect
from verifier.findings.claims import CLAIMS
from verifier.findings.claims_causes import is_path, item_of
from verifier.findings.facts import Facts
from verifier.findings.homes import FOLLOWERS, default_home, homes


@dataclass(slots=True)
class Share:
    """What one finding of a rule is about: the effects it names, and those that go along. `causes` are the edits behind the named ones."""

    rule: str
    causes: tuple[int, ...]
    leads: list[Effect] = field(default_factory=list)
    along: list[Effect] = field(default_factory=list)

    @property
    def covers(self) -> tuple[Effect, ...]:
        """All of them."""
        return (*self.leads, *self.along)

    @property
    def edits(self) -> tuple[int, ...]:
        """Every edit behind any of them, those of the named effects first."""
        return tuple(dict.fromkeys((*self.causes, *(k for effect in self.covers for k in effect.causes))))


class Ownership:
    """All shares of a change, by rule."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self._shares: dict[tuple[str, tuple[int, ...]], Share] = {}
        self._by_items: dict[tuple[int, int, str], Share] = {}
        self._by_causes: dict[tuple[int, ...], dict[str, Share]] = {}
        self._by_edit: dict[int, dict[int, Share]] = {}
        waiting = self._claim(effect for effect in facts.comparison.effects if not effect.left)
        for follow in (self._follow_items, self._follow_path, self._follow_tool_calls):
            waiting = list(follow(waiting))
        for effect in facts.comparison.effects:
            if effect.left:
                self._left(effect)

    def shares(self, rule: str) -> tuple[Share, ...]:
        """What a rule has to tell, in program order."""
        return tuple(share for (name, _), share in self._shares.items() if name == rule)

    # -- step 1: what an effect is about -----------------------------------------------------------------------------------

    def _claim(self, effects: Iterable[Effect]) -> list[Effect]:
        waiting = []
        for effect in effects:
            rule = next((claim.rule for claim in CLAIMS if claim.test(self.facts, effect)), None)
            if not rule:
                waiting.append(effect)
            else:
                self._lead(rule, effect)
        return waiting

    def _lead(self, rule: str, effect: Effect) -> None:
        key = (rule, effect.causes)
        share = self._shares.get(key)
        if share is None:
            share = self._shares[key] = Share(rule, effect.causes)
        share.leads.append(effect)
        self._by_causes.setdefault(effect.causes, {}).setdefault(rule, share)
        for edit in effect.causes:
            self._by_edit.setdefault(edit, {}).setdefault(id(share), share)
        for difference in effect.differences:
            self._by_items.setdefault((id(difference.old), id(difference.new), effect.field), share)

    # -- step 2: what follows from something else ----------------------------------------------------------------------------

    def _follow_items(self, effects: Iterable[Effect]) -> Iterator[Effect]:
        """A value that differs only because another one does (a speed because its mode) goes along with it on the same moves."""
        for effect in effects:
            share = self._on_the_same_moves(effect)
            if share is not None:
                share.along.append(effect)
            elif effect.field == "offset":
                self._lead("tool-offset-changed", effect)
            else:
                yield effect

    def _on_the_same_moves(self, effect: Effect) -> Share | None:
        for name in FOLLOWERS.get(effect.field, ()):
            for d in effect.differences:
                share = self._by_items.get((id(d.old), id(d.new), name))
                if share is not None:
                    return share
        return None

    def _follow_path(self, effects: Iterable[Effect]) -> Iterator[Effect]:
        """Path effects go along with what was told of the same edits; what has no home leads where its kind belongs."""
        later: list[Effect] = []
        for effect in effects:
            if not is_path(effect):
                yield effect
            elif not self._joined(effect):
                later.append(effect)
        later.sort(key=self.facts.in_cycle)  # moves of cycles last: they join the others
        for effect in later:
            rule = default_home(self.facts, effect)
            if self._joined(effect):
                continue
            if rule is None:
                yield effect
            else:
                self._lead(rule, effect)

    def _joined(self, effect: Effect) -> bool:
        home = self._home(effect)
        if home is not None:
            home.along.append(effect)
        return home is not None

    def _home(self, effect: Effect) -> Share | None:
        allowed = homes(self.facts, effect)
        same = self._by_causes.get(effect.causes, {})
        found = next((same[rule] for rule in allowed if rule in same), None)
        if found is not None or not self.facts.in_cycle(effect):
            return found
        near = [share for edit in effect.causes for share in self._by_edit.get(edit, {}).values()]
        return min(
            (share for share in near if share.rule in allowed), key=lambda s: allowed.index(s.rule), default=None
        )

    def _follow_tool_calls(self, effects: Iterable[Effect]) -> Iterator[Effect]:
        """The calls themselves go along with the tool or offset that they put in force."""
        for effect in effects:
            item = item_of(effect)
            if item is None or item.kind != "event:tool":
                yield effect
                continue
            near = [share for edit in effect.causes for share in self._by_edit.get(edit, {}).values()]
            share = next((s for s in near if s.rule in ("tool-changed", "tool-offset-changed")), None)
            if share is not None:
                share.along.append(effect)
            else:
                self._lead(default_home(self.facts, effect) or "tool-changed", effect)

    # -- step 3: what is left at the end ----------------------------------------------------------------------------------------

    def _left(self, effect: Effect) -> None:
        """The state left at the end goes along with what was told of the same field, else with anything told of the same edits."""
        near = {id(s): s for edit in effect.causes for s in self._by_edit.get(edit, {}).values()}
        fields = (effect.field, *FOLLOWERS.get(effect.field, ()))
        same = [share for share in near.values() if any(lead.field in fields for lead in share.leads)]
        exact = [share for share in near.values() if share.causes == effect.causes]
        share = next(iter(same or exact), None)
        if share is not None:
            share.along.append(effect)
        else:
            key = ("state-left-changed", effect.causes)
            self._shares.setdefault(key, Share(*key)).leads.append(effect)
