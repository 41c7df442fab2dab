"""A shop's policy: thresholds, weights, the tolerance class, and what needs a lead's sign-off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from verifier.machines import (
    FrozenMap,
    Mistake,
    Name,
    Positive,
    Table,
    content_digest,
    file_schema,
    number,
    parse_table,
    read_table,
    shown,
    table_text,
)

Weight = Literal["critical", "major", "minor"]
Habit = Literal["operator-note", "optional-stop", "retract", "safety-block", "search-number"]
"""Habits of writing that a shop may ask its programs to keep; rules that speak of them are silent unless it does."""


@dataclass(frozen=True, slots=True)
class SignOff:
    """What needs a lead: each switch names a reason. `minor` is the only one that is off unless a policy
    asks for it.
    """

    critical: bool = True
    major: bool = True
    minor: bool = False
    touched_words: bool = True
    undetermined: bool = True
    first_submission: bool = True


@dataclass(frozen=True, slots=True)
class Policy:
    """Thresholds, weights and sign-off rules of a shop, and the digest of all of it.

    Ratios are of the greater to the smaller value, so that they hold either way; a threshold is reached at its value.
    Clearances in mm: an approach or retract whose distance from the stock falls below its clearance is major, a
    change that stays above it minor. `tolerance_minor_share` is the part of a general tolerance below which a changed
    size is minor. `weights` replaces the weight of a rule by id. `house` are the habits of writing that this shop keeps, sorted.
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
    digest: str = ""

    def weight(self, rule: str, default: str) -> str:
        """The weight of a rule in this shop: its override by id, else the rule's own."""
        return self.weights.get(rule, default)

    def overridden_rules(self) -> tuple[str, ...]:
        """The rule ids whose weight this policy replaces, sorted; the caller that knows the rules checks that each
        exists.
        """
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
        names = (f.name for f in fields(SignOff))
        return tuple(name for name in names if getattr(usual, name) and not getattr(self.sign_off, name))


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


class ThresholdsTable(Table):
    """Thresholds: ratios above 1, clearances in mm. What is left out is as in the built-in policy."""

    feed_ratio_minor: Positive | None = None
    feed_ratio_major: Positive | None = None
    speed_ratio_minor: Positive | None = None
    speed_ratio_major: Positive | None = None
    speed_ratio_critical: Positive | None = None
    approach_clearance_mm: Positive | None = None
    retract_clearance_mm: Positive | None = None
    tolerance_minor_share: Positive | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Ratios that are none, steps the wrong way round (against the built-in value where one is left out), a share
        above 1.
        """
        usual = Policy()
        for lower, upper in _STEPS:
            low, high = (number(raw, key) if key in raw else getattr(usual, key) for key in (lower, upper))
            if low is not None and high is not None and low > high:
                key = lower if lower in raw else upper
                limit = f"{upper} at most" if key == lower else f"{lower} at least"
                yield Mistake((key,), shown(raw[key]), f"{limit}, {shown(high if key == lower else low)}")
        for key in ("feed_ratio_minor", "speed_ratio_minor"):
            ratio = number(raw, key)
            if ratio is not None and ratio <= 1:
                yield Mistake((key,), shown(raw[key]), "a ratio above 1")
        share = number(raw, "tolerance_minor_share")
        if share is not None and share > 1:
            yield Mistake(("tolerance_minor_share",), shown(raw["tolerance_minor_share"]), "a share of 1 at most")


_STEPS = (
    ("feed_ratio_minor", "feed_ratio_major"),
    ("speed_ratio_minor", "speed_ratio_major"),
    ("speed_ratio_major", "speed_ratio_critical"),
)


class SignOffTable(Table):
    """What needs a lead; what is left out is as in the built-in policy."""

    critical: bool = True
    major: bool = True
    minor: bool = False
    touched_words: bool = True
    undetermined: bool = True
    first_submission: bool = True


class PolicyTable(Table):
    """A shop's policy."""

    name: Name
    version: Annotated[int, Field(ge=1)]
    tolerance_class: Literal["f", "m", "c", "v"] = "m"
    thresholds: ThresholdsTable = ThresholdsTable()
    weights: dict[Name, Weight] = Field(default_factory=dict)
    sign_off: SignOffTable = SignOffTable()
    house: list[Habit] = Field(default_factory=list)


@cache
def default_policy() -> Policy:
    """The built-in policy."""
    policy = Policy()
    return replace(policy, digest=content_digest(policy))


def load_policy(path: str | Path) -> Policy:
    """The policy in a TOML file; MachineError with every mistake of the file."""
    return _policy(read_table(path, PolicyTable))


def parse_policy(data: bytes, label: str) -> Policy:
    """The policy in these bytes; MachineError with every mistake in them."""
    return _policy(parse_table(data, label, PolicyTable))


def _policy(table: PolicyTable) -> Policy:
    thresholds = {key: value for key, value in table.thresholds if value is not None}
    policy = Policy(
        name=table.name,
        version=table.version,
        tolerance_class=table.tolerance_class,
        weights=FrozenMap(sorted(table.weights.items())),
        sign_off=SignOff(**dict(table.sign_off)),
        house=tuple(sorted(set(table.house))),
        **thresholds,
    )
    return replace(policy, digest=content_digest(policy))


def policy_schema() -> dict[str, Any]:
    """The JSON Schema of a policy file."""
    return file_schema(PolicyTable, "Policy")


def policy_text(policy: Policy) -> str:
    """The policy as the TOML file that loads back to it, nothing left to defaults."""
    thresholds = {name: getattr(policy, name) for name in ThresholdsTable.model_fields}
    switches = {f.name: getattr(policy.sign_off, f.name) for f in fields(SignOff)}
    return table_text(
        {
            "name": policy.name,
            "version": policy.version,
            "tolerance_class": policy.tolerance_class,
            "house": policy.house,
            "thresholds": thresholds,
            "weights": dict(policy.weights),
            "sign_off": switches,
        }
    )
