"""The rule `feed-above-tool-maximum`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import fed_per_revolution, label, setter
from verifier.findings.view import Hazard, ProgramView
from verifier.machines import Tool

_CUT = "G01 Z-30. F{}"
_SHEET = sheet(Tool(1, "turning", feed_maximum=Fraction(2, 5)))


class FeedAboveToolMaximum(ProgramRule):
    """A tool cuts with more feed per revolution than it may bear.

    Above the greatest feed of its edge an insert crumbles or breaks at once, and a lost point in a feed word is ten or a thousand times too much.
    """

    id = "feed-above-tool-maximum"
    revision = 1
    weight = Weight.MAJOR
    title = "A feed is above the tool's own maximum."
    watch = "Begin the cut with the feed override low, and look at the edge before going on."
    examples = (
        Example("0.5 where the tool bears 0.4", turning(_CUT.format("0.5")), True, line=7, setup=_SHEET),
        Example("at the maximum", turning(_CUT.format("0.4")), False, setup=_SHEET),
        Example("maximum not known", turning(_CUT.format("0.5")), False, setup=sheet(Tool(1, "turning"))),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each sequence whose feed per revolution is above the tool's maximum."""
        for spell, tool, feed in fed_per_revolution(program):
            most = tool.feed_maximum
            if most is None or feed <= most:
                continue
            given, allowed = (shop.feed(value, "per-revolution", program.units) for value in (feed, most))
            block = setter(program.trace, spell.set_by, "feed")
            title = f"Feed {given}{label(spell)}; tool {tool.station} bears {allowed} at most"
            at = spell.block if block is None else block
            yield Hazard(at, title, f"{tool.station} {most}", after=given, effects=spell.blocks)

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The greatest feed per revolution of the same tool in the sequence of the same label in the other program."""
        station = hazard.same_as.split(" ")[0]
        feeds = [
            feed
            for spell, tool, feed in fed_per_revolution(program)
            if str(tool.station) == station and f"{label(spell)};" in hazard.title
        ]
        return shop.feed(max(feeds), "per-revolution", program.units) if feeds else None
