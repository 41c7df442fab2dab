"""The rule `feed-at-rapid-rate`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import Spell, setter, spells
from verifier.findings.view import Hazard, ProgramView

_MOST_PER_REVOLUTION = Fraction(3, 2)
"""mm/rev: no insert cuts that (common practice, no source); threads have a lead and are not meant."""


class FeedAtRapidRate(ProgramRule):
    """A cut has a feed that belongs to a rapid.

    A feed per minute read per revolution (F120 in mm per revolution), or a lost point, drives the tool into the stock as fast as the machine goes.
    """

    id = "feed-at-rapid-rate"
    revision = 1
    weight = Weight.MAJOR
    title = "A feed as fast as a rapid."
    watch = "Turn the feed override to zero before this block, and read the feed that the control shows."
    examples = (
        Example("feed per minute under G99", turning("G01 Z-30. F120."), True, line=7),
        Example("faster than the slide", turning("G98\nG01 Z-30. F20000."), True, line=8),
        Example("usual", turning("G01 Z-30. F0.3"), False),
        Example("usual, per minute", turning("G98\nG01 Z-30. F120."), False),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Each feed word that is too fast, with the cuts it governs."""
        told: dict[int, Hazard] = {}
        for spell in spells(program):
            state = spell.state
            if not isinstance(state.feed, Fraction):
                continue
            limit = _limit(program, spell)
            block = setter(program.trace, spell.set_by, "feed")
            where = spell.block if block is None else block
            if limit is not None and state.feed > limit and where not in told:
                feed, most = (shop.feed(value, state.feed_mode, program.units) for value in (state.feed, limit))
                what = "any cut stands" if state.feed_mode == "per-revolution" else "the slide's rapid"
                told[where] = Hazard(
                    where,
                    f"Feed {feed} is more than {what}: {most}",
                    f"{state.feed_mode} {state.feed}",
                    effects=spell.blocks,
                )
        yield from told.values()


def _limit(program: ProgramView, spell: Spell) -> Fraction | None:
    """The most that a feed can be in its mode; per minute the rapid of the faster axis that the first move of the spell uses."""
    if spell.state.feed_mode == "per-revolution":
        return _MOST_PER_REVOLUTION
    if spell.state.feed_mode != "per-minute":
        return None
    moves, row = program.trace.moves, spell.row
    used = [
        axis for axis, moved in (("X", moves.x0[row] != moves.x1[row]), ("Z", moves.z0[row] != moves.z1[row])) if moved
    ]
    return max((program.machine.axes[axis].rapid for axis in used if axis in program.machine.axes), default=None)
