"""The rule `feed-under-tool-minimum`."""

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
        setup, trace = program.side.setup, program.trace
        tools = setup.tools if setup is not None else {}
        for spell in spells(program) if tools else ():
            state, tool = spell.state, tools.get(spell.state.tool) if isinstance(spell.state.tool, int) else None
            least = tool.feed_minimum if tool is not None else None
            if least is None or state.feed_mode != "per-revolution" or not isinstance(state.feed, Fraction):
                continue
            if 0 < state.feed < least and trace.moves.kind[spell.row] < 4:
                shown, needed = (shop.feed(value, "per-revolution", program.units) for value in (state.feed, least))
                block = setter(trace, spell.set_by, "feed")
                title = f"Feed {shown}{label(spell)}; tool {state.tool} breaks its swarf from {needed}"
                yield Hazard(
                    spell.block if block is None else block, title, f"{state.feed} {least}", effects=spell.blocks
                )
