"""The rule `cycle-amount-changed`."""

from __future__ import annotations

from collections.abc import Iterable

from verifier.findings import shop
from verifier.findings.examples import turning
from verifier.findings.facts import AmountChange, CyclePair
from verifier.findings.model import Weight
from verifier.findings.ownership import Share
from verifier.findings.phrases import amount, heaviest, joined, not_computed
from verifier.findings.rule import ChangeRule, Example
from verifier.findings.sizes import judge_size
from verifier.findings.uncomputed import uncomputed_cycle
from verifier.findings.view import ChangeView, Drawn

_GROOVE = "G97 S800\nG00 X62. Z-20.\nG75 R0.5\nG75 X50. Z-20. P2000 Q1000 F0.08\nG00 X100."
_THREAD = "G97 S800\nG00 X22. Z4.\nG76 P010060 Q50 R0.02\nG76 X18.16 Z-20. P920 Q300 F1.5\nG00 X62."


class CycleAmountChanged(ChangeRule):
    """A canned cycle was given other amounts: depth of cut, peck, allowance, end point.

    One small number decides about every pass. An amount without a point counts in thousandths, so that a digit more or less is easily missed.
    Where the cycle cannot be executed here, the words are told as they are written, and what the control makes of them is not known.
    """

    id = "cycle-amount-changed"
    revision = 4
    weight = Weight.MAJOR
    mirror = "cycle-amount-changed"
    title = "The amounts of a cycle are changed."
    watch = "Compare the amounts with what the tool can take; stop after the first pass and look at its depth."
    examples = (
        Example("peck of a groove", turning(_GROOVE.replace("P2000", "P4000")), True, old=turning(_GROOVE), line=10),
        Example("height of a thread", turning(_THREAD.replace("P920", "P820")), False, old=turning(_THREAD)),
        Example("peck of the first line", turning(_GROOVE.replace("R0.5", "R0.2")), True, old=turning(_GROOVE), line=9),
        Example(
            "of a cycle that cannot be executed",
            turning(_GROOVE.replace("P2000", "P-4000")),
            True,
            old=turning(_GROOVE.replace("P2000", "P-2000")),
            line=10,
        ),
        Example("its feed only", turning(_GROOVE.replace("F0.08", "F0.1")), False, old=turning(_GROOVE)),
    )

    def check(self, change: ChangeView) -> Iterable[Drawn]:
        """One finding for each cycle, with every amount before and after."""
        groups: dict[tuple[int, ...], tuple[list[CyclePair], list[Share]]] = {}
        for share in change.shares(self.id):
            pairs = {p.index: p for e in share.leads if (p := change.facts.cycle_pair_of(e, e.first)) is not None}
            groups.setdefault(tuple(pairs), (list(pairs.values()), []))[1].append(share)
        for pairs_found, shares in groups.values():
            if pairs_found:
                yield self._drawn(change, pairs_found, shares)
            else:
                yield from (_not_computed(change, share) for share in shares)

    def _drawn(self, change: ChangeView, pairs: list[CyclePair], shares: list[Share]) -> Drawn:
        parts: dict[str, None] = {}
        weights = []
        first: AmountChange | None = None
        for pair in pairs:
            for found in pair.amounts:
                words, weight = _amount_words(change, found)
                parts.setdefault(f"{pair.new.name} {words}")
                weights.append(weight)
                first = first or found
        sequence = change.new.sequence_of(pairs[0].new.block)
        where = f" in {sequence.label}" if sequence is not None else ""
        return Drawn(
            f"Cycle amount changed{where}: {joined(parts)}",
            tuple(effect for share in shares for effect in share.covers),
            before=amount(first.before, change.old.units) if first else None,
            after=amount(first.after, change.new.units) if first else None,
            weight=heaviest(weights),
        )


def _not_computed(change: ChangeView, share: Share) -> Drawn:
    """The words of cycles that cannot be executed, before and after, and that nobody knows here what the control makes of them."""
    found = [u for u in (uncomputed_cycle(change.facts, effect) for effect in share.leads) if u is not None]
    sequence = change.new.sequence_of(found[0].block)
    where = f" in {sequence.label}" if sequence is not None else ""
    parts = joined(dict.fromkeys(f"{cycle.name} {cycle.words}" for cycle in found))
    first = found[0].changes[0]
    return Drawn(
        f"Cycle amount changed{where}: {parts}{not_computed(change, share)}",
        share.covers,
        before=first.old.text if first.old is not None else None,
        after=first.new.text if first.new is not None else None,
    )


def _amount_words(change: ChangeView, found: AmountChange) -> tuple[str, Weight]:
    before, after = amount(found.before, change.old.units), amount(found.after, change.new.units)
    words, weight = f"{found.name} from {before} to {after}", Weight.MAJOR
    if found.before is None or found.after is None:
        return words, weight
    if found.name in ("end X", "end Z"):
        judged = judge_size(
            found.name[-1],
            found.before.value,
            found.after.value,
            change.comparison.new.setup,
            change.policy,
            change.units,
        )
        return f"{words} ({judged.words})", judged.weight
    if found.before.unit == found.after.unit and found.before.value * found.after.value > 0:
        words += f" ({shop.ratio_words(found.before.value, found.after.value)})"
    elif found.before.value * found.after.value < 0:
        words += " (towards the other side)"
    return words, weight
