"""How two policies differ, each difference named for what it is: a loosening, a tightening, or neither."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from verifier.findings.model import Weight
from verifier.findings.policy import SWITCHES, Policy
from verifier.findings.registry import rule
from verifier.machines import shown

Direction = Literal["loosening", "tightening", "loosens or tightens", "other"]

_HIGHER_IS_LOOSER = {
    "feed_ratio_minor": "a feed change is told from {} times on",
    "feed_ratio_major": "a feed change is major from {} times on",
    "speed_ratio_minor": "a change of spindle speed is told from {} times on",
    "speed_ratio_major": "a change of spindle speed is major from {} times on",
    "speed_ratio_critical": "a change of spindle speed is critical from {} times on",
    "tolerance_minor_share": "a changed size is minor below {} of its general tolerance",
}
_LOWER_IS_LOOSER = {
    "approach_clearance_mm": "an approach keeps {} mm from the stock",
    "retract_clearance_mm": "a retract keeps {} mm from the stock",
}
_CLASSES = "fmcv"
"""The general tolerance classes from fine to very coarse."""

REASONS = {
    "critical": "critical findings",
    "major": "major findings",
    "minor": "minor findings",
    "touched_words": "touched safety-relevant words",
    "undetermined": "a verdict that could not be determined",
    "first_submission": "a first submission",
}
"""The switches of a sign-off in words."""


@dataclass(frozen=True, slots=True)
class PolicyChange:
    """One difference between two policies: its key, in which direction it goes, and what it means in words."""

    key: str
    direction: Direction
    text: str
    machine: str = ""

    @property
    def may_loosen(self) -> bool:
        """Whether something may now pass that was held before."""
        return self.direction in ("loosening", "loosens or tightens")

    @property
    def told(self) -> str:
        """The difference in words, with the machine where it is about one."""
        return f"on {self.machine}: {self.text}" if self.machine else self.text

    @property
    def line(self) -> str:
        """The difference with its direction in front."""
        return f"{self.direction.upper()}: {self.told}" if self.direction != "other" else self.told


def policy_changes(old: Policy, new: Policy) -> tuple[PolicyChange, ...]:
    """Every difference from `old` to `new`, loosenings first; of a machine only what is not the same for all."""
    found = list(_changes(old, new))
    if (old.name, old.version) != (new.name, new.version):
        text = f"policy {old.name} version {old.version} becomes {new.name} version {new.version}"
        found.append(PolicyChange("name", "other", text))
    general = {(change.key, change.text) for change in found}
    for name in sorted({*old.machines, *new.machines}):
        for change in _changes(old.at(name), new.at(name)):
            if (change.key, change.text) not in general:
                found.append(PolicyChange(change.key, change.direction, change.text, name))
    order = ("loosening", "loosens or tightens", "tightening", "other")
    return tuple(sorted(found, key=lambda change: order.index(change.direction)))


def _changes(old: Policy, new: Policy) -> Iterator[PolicyChange]:
    yield from _numbers(old, new)
    if old.tolerance_class != new.tolerance_class:
        looser = _CLASSES.index(new.tolerance_class) > _CLASSES.index(old.tolerance_class)
        text = f"general tolerance class {old.tolerance_class} becomes {new.tolerance_class}"
        yield PolicyChange("tolerance_class", _direction(looser), text)
    yield from _switches(old, new)
    yield from _lists(old, new)
    yield from _weights(old, new)


def _numbers(old: Policy, new: Policy) -> Iterator[PolicyChange]:
    for key, text in {**_HIGHER_IS_LOOSER, **_LOWER_IS_LOOSER}.items():
        before, after = getattr(old, key), getattr(new, key)
        if before != after:
            looser = (after > before) == (key in _HIGHER_IS_LOOSER)
            told = f"{text.format(shown(after))}, before {shown(before)}"
            yield PolicyChange(f"thresholds.{key}", _direction(looser), told)


def _switches(old: Policy, new: Policy) -> Iterator[PolicyChange]:
    for key in SWITCHES:
        before, after = getattr(old.sign_off, key), getattr(new.sign_off, key)
        if before != after:
            yield PolicyChange(
                f"sign_off.{key}", _direction(before), f"{'a lead' if after else 'no lead any more'} for {REASONS[key]}"
            )


def _lists(old: Policy, new: Policy) -> Iterator[PolicyChange]:
    for name in sorted({*old.sign_off.rules} ^ {*new.sign_off.rules}):
        gone = name in old.sign_off.rules
        text = f"{name} needs a lead {'only by its weight now' if gone else 'now, whatever it weighs'}"
        yield PolicyChange("sign_off.rules", _direction(gone), text)
    for kind in sorted({*old.sign_off.words_left_out} ^ {*new.sign_off.words_left_out}):
        come = kind in new.sign_off.words_left_out
        text = f"a touched word of the kind {kind} needs {'no lead any more' if come else 'a lead now'}"
        yield PolicyChange("sign_off.words_left_out", _direction(come), text)
    for habit in sorted({*old.house} ^ {*new.house}):
        gone = habit in old.house
        yield PolicyChange("house", _direction(gone), f"the habit {habit} is {'not ' if gone else ''}asked for now")


def _weights(old: Policy, new: Policy) -> Iterator[PolicyChange]:
    for name in sorted({*old.weights, *new.weights}):
        before, after = old.weights.get(name), new.weights.get(name)
        if before != after:
            told = f"{name} weighs {after or 'what it weighs by itself'}, before {before or 'what it weighs by itself'}"
            yield PolicyChange(f"weights.{name}", _weighed(name, before, after), told)


def _weighed(name: str, before: str | None, after: str | None) -> Direction:
    """A rule may judge case by case: a fixed weight in its place is a tightening for sure only where nothing is heavier."""
    if before is not None and after is not None:
        return _direction(Weight(after).rank > Weight(before).rank)
    fixed = Weight(after or before or Weight.CRITICAL)
    found = rule(name)
    heavier = fixed is Weight.CRITICAL
    lighter = fixed is Weight.MINOR or (found is not None and fixed.rank > found.weight.rank)
    if not heavier and not lighter:
        return "loosens or tightens"
    return _direction(lighter == (after is not None))


def _direction(looser: bool) -> Direction:
    return "loosening" if looser else "tightening"
