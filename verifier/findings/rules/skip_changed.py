"""The rule `skip-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.compare import Effect
from verifier.findings.claims_causes import skip_changed
from verifier.findings.examples import turning
from verifier.findings.model import Weight
from verifier.findings.phrases import joined
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.view import ChangeView, Drawn, ProgramView
from verifier.syntax import block_text

_CUT = "G01 X58. F0.2\nZ-30.\nX62."


class SkipChanged(ChangeRule):
    """A block got a skip mark, lost it, or got another level.

    Whether the block is run then depends on a switch at the machine. A block that was always run can now be left out without anybody noticing,
    and one that the operator used to leave out is run. Where the block does nothing that is not in force anyway, the mark is told as minor.
    """

    id = "skip-changed"
    revision = 2
    weight = Weight.MAJOR
    mirror = "skip-changed"
    title = "A block skip mark is changed."
    watch = "Agree with the operator which position of the block skip switch this program needs."
    examples = (
        Example("mark put in", turning(_CUT.replace("Z-30.", "/Z-30.")), True, old=turning(_CUT), line=8),
        Example(
            "level changed",
            turning(_CUT.replace("Z-30.", "/2Z-30.")),
            True,
            old=turning(_CUT.replace("Z-30.", "/3Z-30.")),
        ),
        Example(
            "on a block that does nothing different",
            turning(_CUT.replace("Z-30.", "/G01\nZ-30.")),
            True,
            old=turning(_CUT.replace("Z-30.", "G01\nZ-30.")),
            line=8,
        ),
        Example(
            "marks kept", turning(_CUT.replace("Z-30.", "/Z-31.")), False, old=turning(_CUT.replace("Z-30.", "/Z-30."))
        ),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """Every edit that changes a skip mark, with what differs under the switch."""
        effects: dict[int, list[Effect]] = {}
        for share in change.shares(self.id):
            effects.setdefault(share.causes[0], []).extend(share.covers)
        for edit in change.edits:
            if not skip_changed(change.facts, edit.index):
                continue
            parts, first = [], (None, None)
            for old, new in zip(edit.old, edit.new, strict=True):
                before, after = _mark(change.old, old), _mark(change.new, new)
                if before != after:
                    parts.append(_words(before, after, block_text(change.new.block(new))))
                    first = (before, after) if first == (None, None) else first  # type: ignore[assignment]
            covers = tuple(effects.pop(edit.index, ()))
            causes = tuple(dict.fromkeys((edit.index, *(k for effect in covers for k in effect.causes))))
            idle = not any(edit.index in effect.causes for effect in change.comparison.effects)
            words = "; with the switch on or off, the machine does the same as before" if idle else ""
            yield Drawn(
                joined(parts) + words,
                covers,
                edits=causes,
                before=first[0],
                after=first[1],
                weight=Weight.MINOR if idle else None,
            )


def _mark(view: ProgramView, block: int) -> str | None:
    """A block's skip mark as people say it, or None."""
    skips = view.block(block).skips
    return joined(f"block skip {skip.level}" if skip.level > 1 else "block skip" for skip in skips) or None


def _words(before: str | None, after: str | None, text: str) -> str:
    if before is None:
        return f"Skip mark added: {text} is left out when {after} is on"
    if after is None:
        return f"Skip mark removed: {text} is always run now, left out with {before} on before"
    return f"Skip mark changed: {text} is left out when {after} is on, {before} before"
