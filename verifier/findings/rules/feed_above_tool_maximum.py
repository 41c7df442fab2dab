"""The rule `feed-above-tool-maximum`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import sheet, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.spells import label, setter, spells
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
        setup, trace = program.side.setup, program.trace
        tools = setup.tools if setup is not None else {}
        for spell in spells(program) if tools else ():
            state, tool = spell.state, tools.get(spell.state.tool) if isinstance(spell.state.tool, int) else None
            most = tool.feed_maximum if tool is not None else None
            if most is None or state.feed_mode != "per-revolution" or not isinstance(state.feed, Fraction):
                continue
            if state.feed > most and trace.moves.kind[spell.row] < 4:
                given, allowed = (shop.feed(value, "per-revolution", program.units) for value in (state.feed, most))
                block = setter(trace, spell.set_by, "feed")
                title = f"Feed {given}{label(spell)}; tool {state.tool} bears {allowed} at most"
                yield Hazard(
                    spell.block if block is None else block,
                    title,
                    f"{state.tool} {most}",
                    after=given,
                    effects=spell.blocks,
                )
