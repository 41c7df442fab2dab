"""The rule `contour-label-moved`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings.examples import turning
from verifier.findings.facts import CyclePair
from verifier.findings.model import Place, Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView

_ROUGH = """G00 X62. Z2.
G71 U2. R0.5
G71 P10 Q{last} U0.4 W0.1 F0.3
N10 G00 X30.
G01 Z-20. F0.15
N15 X50.
Z-40.
N20 X62.
G00 X100."""


class ContourLabelMoved(ChangeRule):
    """A contour cycle finds other blocks between its labels than before.

    The labels say where the contour begins and ends. When one of them stands elsewhere, the cycle roughs another shape, or leaves material
    standing that the finish then takes in one cut.
    """

    id = "contour-label-moved"
    revision = 2
    weight = Weight.MAJOR
    mirror = "contour-label-moved"
    title = "The labels of a contour enclose other blocks."
    watch = "Read the contour from its first to its last label in the program as it is at the control; run the cycle in the air."
    examples = (
        Example("Q ends earlier", turning(_ROUGH.format(last=15)), True, old=turning(_ROUGH.format(last=20)), line=9),
        Example(
            "renumbered with its labels",
            turning(_ROUGH.format(last=20).replace("N10", "N110").replace("P10", "P110")),
            False,
            old=turning(_ROUGH.format(last=20)),
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every cycle whose contour begins or ends at a block that the other program has outside it."""
        for shares in _together(change.shares(self.id)):
            leads = (e for share in shares for e in share.leads)
            found = {p.index: p for e in leads if (p := change.facts.cycle_pair_of(e, e.first)) is not None}
            parts = joined(_words(change, pair) for pair in found.values())
            causes = dict.fromkeys(k for share in shares for k in share.causes)
            places = dict.fromkeys(
                (*change.cause_places(causes), *(p for pair in found.values() for p in _ends(change.new, pair)))
            )
            covers = tuple(effect for share in shares for effect in share.covers)
            yield Drawn(f"Contour labels enclose other blocks: {parts}", covers, at=tuple(places))


def _together(shares: Iterable[Share]) -> list[list[Share]]:
    """Shares by what they have in common: a roughing and a finishing cycle of one contour are one story."""
    groups: list[list[Share]] = []
    for share in shares:
        near = [group for group in groups if any(set(share.causes) & set(one.causes) for one in group)]
        groups = [group for group in groups if group not in near]
        groups.append([*(one for group in near for one in group), share])
    return groups


def _words(change: ChangeView, pair: CyclePair) -> str:
    spans = []
    for view, contour in ((change.old, pair.old.contour), (change.new, pair.new.contour)):
        spans.append(
            f"lines {view.place(contour[0]).line} to {view.place(contour[-1]).line}" if contour else "no blocks"
        )
    return f"{pair.new.name} follows {spans[1]} ({spans[0]} of the old program before)"


def _ends(view: ProgramView, pair: CyclePair) -> Iterable[Place]:
    contour = pair.new.contour
    return (view.place(block) for block in dict.fromkeys((pair.new.block, *contour[:1], *contour[-1:])))
