"""The rule `feed-under-tool-minimum`."""

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
_SHEET = sheet(Tool(1, "turning", feed_minimum=Fraction(3, 20)))


class FeedUnderToolMinimum(ProgramRule):
    """A tool cuts with less feed than breaks its swarf.

    Under the least feed of its chip groove the swarf does not break. It winds round tool, part and chuck, and is pulled out by hand.
    """

    id = "feed-under-tool-minimum"
    revision = 1
    weight = Weight.MAJOR
    title = "A feed is below the tool's own minimum."
    watch = "Watch the swarf at the first cut with the door shut; never clear it while the spindle turns."
    examples = (
        Example("0.1 where the tool needs 0.15", turning(_CUT.format("0.1")), True, line=7, setup=_SHEET),
        Example("at the minimum", turning(_CUT.format("0.15")), False, setup=_SHEET),
        Example("minimum not known", turning(_CUT.format("0.1")), False, setup=sheet(Tool(1, "turning"))),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """The first cut of each sequence whose feed per revolution is below the tool's minimum."""
        for spell, tool, feed in fed_per_revolution(program):
            least = tool.feed_minimum
            if least is None or not 0 < feed < least:
                continue
            shown, needed = (shop.feed(value, "per-revolution", program.units) for value in (feed, least))
            block = setter(program.trace, spell.set_by, "feed")
            title = f"Feed {shown}{label(spell)}; tool {tool.station} breaks its swarf from {needed}"
            at = spell.block if block is None else block
            yield Hazard(at, title, f"{tool.station} {feed} {least}", after=shown, effects=spell.blocks)

    def elsewhere(self, program: ProgramView, hazard: Hazard) -> str | None:
        """The least feed per revolution of the same tool in the sequence of the same label in the other program."""
        station = hazard.same_as.split(" ")[0]
        feeds = [
            feed
            for spell, tool, feed in fed_per_revolution(program)
            if str(tool.station) == station and f"{label(spell)};" in hazard.title and feed > 0
        ]
        return shop.feed(min(feeds), "per-revolution", program.units) if feeds else None
