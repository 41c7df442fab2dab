"""A shop's policy: thresholds, weights, the tolerance class, and what needs a lead's sign-off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from typing import Literal

from verifier.machines import FrozenMap, content_digest

Weight = Literal["critical", "major", "minor"]
Habit = Literal["operator-note", "optional-stop", "retract", "safety-block", "search-number"]
"""Habits of writing that a shop may ask its programs to keep; rules that speak of them are silent unless it does."""


@dataclass(frozen=True, slots=True)
class SignOff:
    """What needs a lead: each switch names a reason. `minor` is the only one that is off unless a policy
    asks for it.

    `rules` need a lead whatever they weigh; `words_left_out` are the kinds of safety-relevant words whose touch does not.
    """

    critical: bool = True
    major: bool = True
    minor: bool = False
    touched_words: bool = True
    undetermined: bool = True
    first_submission: bool = True
    rules: tuple[str, ...] = ()
    words_left_out: tuple[str, ...] = ()

    def weights(self) -> tuple[str, ...]:
        """The weights that need a lead, heaviest first."""
        return tuple(name for name in ("critical", "major", "minor") if getattr(self, name))


SWITCHES = ("critical", "major", "minor", "touched_words", "undetermined", "first_submission")
"""The reasons for a sign-off that are on or off."""


@dataclass(frozen=True, slots=True)
class Policy:
    """Thresholds, weights and sign-off rules of a shop, and the digest of all of it.

    Ratios are of the greater to the smaller value, so that they hold either way; a threshold is reached at its value.
    Clearances in mm: an approach or retract whose distance from the stock falls below its clearance is major, a
    change that stays above it minor. `tolerance_minor_share` is the part of a general tolerance below which a changed
    size is minor. `weights` replaces the weight of a rule by id. `house` are the habits of writing that this shop keeps, sorted.
    `machines` holds, whole, the policy of each machine for which something else is asked.
    """

    name: str = "built-in-policy"
    version: int = 1
    tolerance_class: str = "m"
    tolerance_minor_share: Fraction = Fraction(1, 10)
    feed_ratio_minor: Fraction = Fraction(11, 10)
    feed_ratio_major: Fraction = Fraction(5, 4)
    speed_ratio_minor: Fraction = Fraction(11, 10)
    speed_ratio_major: Fraction = Fraction(5, 4)
    speed_ratio_critical: Fraction = Fraction(2)
    approach_clearance_mm: Fraction = Fraction(1)
    retract_clearance_mm: Fraction = Fraction(1)
    weights: Mapping[str, str] = field(default_factory=FrozenMap)
    sign_off: SignOff = SignOff()
    house: tuple[str, ...] = ()
    machines: Mapping[str, Policy] = field(default_factory=FrozenMap)
    digest: str = ""

    def at(self, machine: str) -> Policy:
        """What is asked of programs for this machine; the digest stays that of the whole policy."""
        own = self.machines.get(machine)
        return self if own is None else replace(own, digest=self.digest)

    def weight(self, rule: str, default: str) -> str:
        """The weight of a rule in this shop: its override by id, else the rule's own."""
        return self.weights.get(rule, default)

    def overridden_rules(self) -> tuple[str, ...]:
        """The rule ids whose weight this policy replaces, sorted."""
        return tuple(sorted(self.weights))

    def feed_weight(self, before: Fraction, after: Fraction) -> str | None:
        """How much a change of feed weighs (both in the same unit): "major", "minor", or None below the thresholds."""
        return _reached(before, after, (("major", self.feed_ratio_major), ("minor", self.feed_ratio_minor)))

    def speed_weight(self, before: Fraction, after: Fraction) -> str | None:
        """How much a change of spindle speed weighs: "critical", "major", "minor", or None below the thresholds."""
        steps = (
            ("critical", self.speed_ratio_critical),
            ("major", self.speed_ratio_major),
            ("minor", self.speed_ratio_minor),
        )
        return _reached(before, after, steps)

    def loosened(self) -> tuple[str, ...]:
        """The sign-off switches that this policy turns off and the design leaves on; each is a decision to be
        recorded.
        """
        usual = SignOff()
        return tuple(name for name in SWITCHES if getattr(usual, name) and not getattr(self.sign_off, name))


def _reached(before: Fraction, after: Fraction, steps: tuple[tuple[str, Fraction], ...]) -> str | None:
    """The first step, heaviest first, that the ratio of two magnitudes reaches; to or from nothing, or a change of
    sign, is the heaviest.
    """
    if before == after:
        return None
    if before * after <= 0:
        return steps[0][0]
    ratio = max(before / after, after / before)
    return next((weight for weight, threshold in steps if ratio >= threshold), None)


@cache
def default_policy() -> Policy:
    """The built-in policy."""
    policy = Policy()
    return replace(policy, digest=content_digest(policy))
