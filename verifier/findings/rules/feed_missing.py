"""The rule `feed-missing`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import label, setter, spells
from verifier.findings.view import Hazard, ProgramView


class FeedMissing(ProgramRule):
    """A cut is made with no feed established, or with a feed of zero.

    The control stops with an alarm in the cut, or takes a feed that was left from another program.
    """

    id = "feed-missing"
    revision = 1
    weight = Weight.MAJOR
    title = "A cut without a feed."
    watch = "Stop before the first cut of this sequence, and see which feed the control shows."
    examples = (
        Example("no F before the cut", turning("G01 Z-30.\nX62."), True, line=7),
        Example("feed of zero", turning("G01 Z-30. F0.\nX62."), True, line=7),
        Example("F in the block before", turning("G01 Z1. F0.2\nZ-30."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each sequence without a feed, and under each F word of zero."""
        told: set[tuple[object, ...]] = set()
        for spell in spells(program):
            feed = spell.state.feed
            if feed is not None and feed != 0:
                continue
            key = (spell.sequence.index if spell.sequence else -1, feed, setter(program.trace, spell.set_by, "feed"))
            if key in told:
                continue
            told.add(key)
            what = "with no feed established" if feed is None else "at a feed of zero"
            yield Hazard(spell.block, f"Cutting {what}{label(spell)}", str(feed), effects=spell.blocks)
