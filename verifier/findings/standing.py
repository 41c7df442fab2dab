"""What an acceptance of a hazard that stands is bound to, and when it is told in full whatever was accepted.

The key is a digest over everything that the hazard says (rule and its revision, weight, sentence, amounts), over the words of every block that
it rests on without their numbers, over what the machine does at those blocks (path and all that is in force), and over profile, setup sheet and
called programs. Lines in front of them, notes and renumbered blocks leave it as it is; anything else makes another key, and the hazard is told
again. Where two hazards cannot be told apart, how many there are counts as well. In doubt there is no key.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from hashlib import sha256

from verifier.compare import BENT, Item
from verifier.findings.model import Finding, Stand, Status
from verifier.findings.rule import ProgramRule
from verifier.findings.view import ChangeView, Hazard, ProgramView
from verifier.syntax import block_key, block_text

SHORTENED = 12
"""A list of so many places may be a shortened one: the hazard then rests on every block of the sequences that it shows in."""
WORDS = 6
"""So many of its blocks are shown with an acceptance."""
NOT_SETTLED = "it says that something was not understood here"
NOT_CHECKED = "something at its words is not checked"
NO_WORDS = "it points at no words"
EDITED = "an edit of this revision touches it"
AMOUNT = "its amount is another one than in the base"
AROUND = "profile or setup sheet are not those of the base"

_LINE = re.compile(r"\blines? [0-9]+(?: to [0-9]+)?")
_CHOICE = "choice "
"""So begins what is not checked because a profile leaves it open: that stays in its own list, whatever is accepted."""


def evidence(view: ProgramView, hazard: Hazard) -> tuple[int, ...]:
    """The blocks that a hazard rests on: where it stands and where it shows."""
    if hazard.rests_on:
        return hazard.rests_on
    blocks = dict.fromkeys((hazard.block, *hazard.effects))
    if len(hazard.effects) < SHORTENED:
        return tuple(blocks)
    for block in tuple(blocks):
        found = view.sequence_of(block)
        blocks.update(dict.fromkeys(range(found.first, found.end) if found else range(len(view.program.blocks))))
    return tuple(blocks)


class Bindings:
    """Binds the standing hazards of one comparison; what is asked for at many hazards is worked out once."""

    def __init__(self, change: ChangeView) -> None:
        self.change = change
        self._at: dict[str, dict[int, list[Item]]] = {}
        self._written: dict[int, str] = {}

    def bound(self, rule: ProgramRule, hazards: Sequence[Hazard], findings: Sequence[Finding]) -> list[Finding]:
        """The findings of one rule, those that stood before with what an acceptance of them is bound to.

        `hazards` are those that the findings tell, in the same order.
        """
        if not any(finding.status is Status.STANDING for finding in findings):
            return list(findings)
        view = self.change.new
        here = [k for k, finding in enumerate(findings) if finding.status is not Status.GONE]
        rested = {k: evidence(view, hazards[k]) for k in here}
        said = {k: self._said(hazards[k], findings[k], rested[k]) for k in here}
        alike = Counter(said.values())
        met: Counter[str] = Counter()
        made = list(findings)
        for k in here:
            met[said[k]] += 1
            if findings[k].status is Status.STANDING:
                number = (met[said[k]], alike[said[k]])
                made[k] = replace(
                    findings[k], stand=self._stand(rule, hazards[k], findings[k], rested[k], said[k], number)
                )
        return made

    def _stand(
        self,
        rule: ProgramRule,
        hazard: Hazard,
        finding: Finding,
        blocks: tuple[int, ...],
        said: str,
        number: tuple[int, int],
    ) -> Stand:
        view = self.change.new
        words = tuple(block_text(view.block(block)) for block in self._inside(blocks)[:WORDS])
        never = self._never(rule, finding.position, blocks)
        if never:
            return Stand("", words, never)
        key = sha256(f"{said}\n{number}".encode()).hexdigest()
        return Stand(key, words, self._told(hazard, finding, blocks))

    def _said(self, hazard: Hazard, finding: Finding, blocks: tuple[int, ...]) -> str:
        """All that a hazard says and rests on, as one text; a line that its sentence names is no part of it."""
        side = self.change.new.side
        traces = (side.trace, *(trace for _, trace in side.switched))
        parts = (
            finding.rule, finding.revision, str(finding.weight), finding.position,
            _LINE.sub("line", hazard.title), hazard.same_as, hazard.before, hazard.after,
            side.machine.digest, side.setup.digest if side.setup else None,
            sorted({called for trace in traces for called in trace.called}),
            [(block_key(side.program, side.program.blocks[block]), self._done(finding.position, block)) for block in self._inside(blocks)],
        )  # fmt: skip
        return repr(parts)

    def _inside(self, blocks: Iterable[int]) -> list[int]:
        return [block for block in blocks if 0 <= block < len(self.change.new.program.blocks)]

    # -- what the machine does at a block --------------------------------------------------------------------------------

    def _done(self, position: str, block: int) -> list[str]:
        return [self._words_of(item) for item in self._items(position).get(block, ())]

    def _words_of(self, item: Item) -> str:
        """All that is compared of an item, as a tuple is written. An item stands at several blocks, and many share a state: each is written once."""
        known = self._written.get(id(item))
        if known is None:
            state = self._written.get(id(item.state)) or repr(item.state)
            before, after = (item.kind, item.start, item.end, item.centre), (item.value, item.certain, item.step)
            known = f"{repr(before)[:-1]}, {state}, {repr(after)[1:]}"
            self._written[id(item)], self._written[id(item.state)] = known, state
        return known

    def _items(self, position: str) -> dict[int, list[Item]]:
        """The items under a switch position by the blocks that make them, or call what makes them."""
        if position not in self._at:
            view = self.change.new.under(position)
            found: dict[int, list[Item]] = {}
            for item in view.items:
                for block in dict.fromkeys((*item.blocks, view.main_block(item))):
                    found.setdefault(block, []).append(item)
            self._at[position] = found
        return self._at[position]

    # -- in doubt ---------------------------------------------------------------------------------------------------------

    def _never(self, rule: ProgramRule, position: str, blocks: tuple[int, ...]) -> str:
        """Why a hazard cannot be accepted at all; "" where it can."""
        if not rule.settled:
            return NOT_SETTLED
        if len(self._inside(blocks)) < len(blocks):
            return NO_WORDS
        trace, here = self.change.new.under(position).trace, {*blocks}
        items = [item for block in blocks for item in self._items(position).get(block, ())]
        left = any(entry.block in here and not entry.what.startswith(_CHOICE) for entry in trace.unchecked)
        return NOT_CHECKED if left or trace.flow_unknown or not all(map(_plain, items)) else ""

    def _told(self, hazard: Hazard, finding: Finding, blocks: tuple[int, ...]) -> str:
        """Why a hazard is told in full in this report; "" where nothing of the change comes near it."""
        old, new = self.change.old.side, self.change.new.side
        digests = [(side.machine.digest, side.setup.digest if side.setup else None) for side in (old, new)]
        if digests[0] != digests[1]:
            return AROUND
        told = (finding.before, finding.after) != (hazard.before, hazard.after)
        if told and finding.before != finding.after:
            return AMOUNT
        return EDITED if self._edited("new", blocks) or self._edited("old", hazard.was) else ""

    def _edited(self, side: str, blocks: Iterable[int]) -> bool:
        """Whether an edit stands on one of the blocks, or what it does shows there."""
        edits = self.change.comparison.edits
        owner, reached = edits.of_new if side == "new" else edits.of_old, self._reached[side]
        return any(block in reached or (0 <= block < len(owner) and owner[block] >= 0) for block in blocks)

    @cached_property
    def _reached(self) -> dict[str, set[int]]:
        """The blocks of each side at which anything differs, with those that call what makes it."""
        found: dict[str, set[int]] = {"old": set(), "new": set()}
        for effect in self.change.comparison.effects:
            views = {view.name: view.under(effect.position) for view in self.change.views()}
            for difference in effect.differences:
                for name, item in (("old", difference.old), ("new", difference.new)):
                    if item is not None:
                        found[name].update((item.block, *item.blocks, views[name].main_block(item)))
        return found


def _plain(item: Item) -> bool:
    """Whether all that is done is known: no event that equals only itself, no word left over on a move."""
    return item.certain and (not item.is_move or item.value in ("", BENT))
