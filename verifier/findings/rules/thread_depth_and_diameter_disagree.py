"""The rule `thread-depth-and-diameter-disagree`."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from verifier.findings import shop
from verifier.findings.examples import HEAD, turning
from verifier.findings.model import Weight
from verifier.findings.rule import Example, ProgramRule
from verifier.findings.threads import Thread, threads, turned_radii
from verifier.findings.view import Hazard, ProgramView

_TURN = "G00 X29.95\nG01 Z-26. F0.2\nX62.\nG00 Z6.\nG97 S700\nX36.\nG76 P020060 Q60 R0.04\n"
_THREAD = _TURN + "G76 X27.496 Z-23.5 P{} Q300 F2."
_BORED = (
    "G00 X28.\nZ2.\nG01 Z-26. F0.2\nX20.\nG00 Z6.\nG97 S700\nX24.\nG76 P020060 Q60 R0.04\nG76 X30. Z-23.5 P{} Q300 F2."
)


class ThreadDepthAndDiameterDisagree(ProgramRule):
    """The height of a thread does not fit between its root and the diameter that was turned for it.

    The passes are counted from the root: where the height is too small, the first pass takes the whole rest at once and breaks the insert; where
    it is too great, the first passes cut air. Or the end diameter is wrong, and the thread with it.
    """

    id = "thread-depth-and-diameter-disagree"
    revision = 1
    weight = Weight.MAJOR
    title = "Thread height and turned diameter do not fit together."
    watch = "Check end diameter and height of the thread against the drawing; run the first pass in single block, clear of the part."
    examples = (
        Example("height 0.2 short", turning(_THREAD.format(1027)), True, line=14),
        Example("fits", turning(_THREAD.format(1227)), False),
        Example(
            "inside, height short",
            turning(_BORED.format(800), head=HEAD.replace("X62. Z2.", "X20. Z2.")),
            True,
            line=15,
        ),
        Example("inside, fits", turning(_BORED.format(1000), head=HEAD.replace("X62. Z2.", "X20. Z2.")), False),
        Example(
            "nothing turned before",
            turning("G00 X36. Z6.\nG76 P020060 Q60 R0.04\nG76 X27.496 Z-23.5 P900 Q300 F2."),
            False,
        ),
    )

    def check(self, program: ProgramView) -> Iterable[Hazard]:
        """Every thread whose crest is off the turned diameter by more than 0.1 mm and a tenth of its lead, wherever that is known."""
        for thread in threads(program.trace):
            if thread.height is None:
                continue
            gaps = [(_crest(thread, share) - turned, turned) for share, turned in turned_radii(program.trace, thread)]
            allowed = max(Fraction(1, 10), thread.lead / 10)
            if gaps and all(abs(gap) * 2 > allowed for gap, _ in gaps):
                gap, turned = min(gaps, key=lambda pair: abs(pair[0]))
                yield self._hazard(program, thread, turned + gap, turned)

    def _hazard(self, program: ProgramView, thread: Thread, crest: Fraction, turned: Fraction) -> Hazard:
        assert thread.height is not None
        crest_words, turned_words, root = (shop.millimetres(r * 2, program.units) for r in (crest, turned, thread.root))
        height = shop.millimetres(thread.height, program.units)
        title = f"Thread of height {height} over root diameter {root} has its crest at {crest_words}, but {turned_words} was turned there"
        same_as = f"{thread.root} {thread.height} {turned}"
        return Hazard(
            thread.blocks[0], title, same_as, before=turned_words, after=crest_words, effects=thread.blocks[1:]
        )


def _crest(thread: Thread, share: Fraction) -> Fraction:
    assert thread.height is not None
    return thread.root_at(share) + (thread.height if thread.outside else -thread.height)
