"""A policy as a TOML file: every mistake told in one run, and written out so that it loads back to itself."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from verifier.findings.policy import SWITCHES, Habit, Policy, SignOff, Weight
from verifier.findings.registry import all_rules
from verifier.findings.rule import RETIRED
from verifier.findings.touched import WORD_KINDS
from verifier.machines import (
    FrozenMap,
    Mistake,
    Name,
    Positive,
    Table,
    content_digest,
    file_schema,
    nearest,
    number,
    parse_table,
    read_table,
    shown,
    table_text,
)

_ID = "[a-z][a-z0-9]*(-[a-z0-9]+)*"
_STEPS = (
    ("feed_ratio_minor", "feed_ratio_major"),
    ("speed_ratio_minor", "speed_ratio_major"),
    ("speed_ratio_major", "speed_ratio_critical"),
)


class MachineThresholdsTable(Table):
    """Thresholds of one machine. What is left out is as in the rest of the policy."""

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
        """Ratios that are none, and a share above 1."""
        for key in ("feed_ratio_minor", "speed_ratio_minor"):
            ratio = number(raw, key)
            if ratio is not None and ratio <= 1:
                yield Mistake((key,), shown(raw[key]), "a ratio above 1")
        share = number(raw, "tolerance_minor_share")
        if share is not None and share > 1:
            yield Mistake(("tolerance_minor_share",), shown(raw["tolerance_minor_share"]), "a share of 1 at most")


class ThresholdsTable(MachineThresholdsTable):
    """Thresholds: ratios above 1, clearances in mm. What is left out is as in the built-in policy."""

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Steps the wrong way round (against the built-in value where one is left out), and each value for itself."""
        yield from _wrong_steps(raw, {})
        yield from super().contradictions(raw)


def _wrong_steps(raw: Mapping[str, Any], under: Mapping[str, Any]) -> Iterator[Mistake]:
    """Steps the wrong way round; `under` is what holds where `raw` says nothing, before the built-in values."""
    usual, whole = Policy(), {**under, **raw}
    for lower, upper in _STEPS:
        low, high = (number(whole, key) if key in whole else getattr(usual, key) for key in (lower, upper))
        key = lower if lower in raw else upper
        if low is not None and high is not None and low > high and key in raw:
            limit = f"{upper} at most" if key == lower else f"{lower} at least"
            yield Mistake((key,), shown(raw[key]), f"{limit}, {shown(high if key == lower else low)}")


def _odd_switches(raw: Mapping[str, Any], under: Mapping[str, Any]) -> Iterator[Mistake]:
    """A lead for the lighter findings and none for the heavier ones: nobody means that."""
    usual, whole = SignOff(), {**under, **raw}
    for heavier, lighter in (("critical", "major"), ("critical", "minor"), ("major", "minor")):
        wanted = {key: whole.get(key, getattr(usual, key)) for key in (heavier, lighter)}
        if wanted[heavier] is False and wanted[lighter] is True:
            key = heavier if heavier in raw else lighter
            if key in raw:
                need = "true" if key == heavier else "false"
                yield Mistake((key,), shown(raw[key]), f"{need}, as {lighter} findings weigh less than {heavier} ones")


class SignOffTable(Table):
    """What needs a lead; what is left out is as in the built-in policy."""

    critical: bool = True
    major: bool = True
    minor: bool = False
    touched_words: bool = True
    undetermined: bool = True
    first_submission: bool = True
    rules: list[str] = Field(default_factory=list)
    words_left_out: list[str] = Field(default_factory=list)

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Rules and kinds of words that do not exist; a lead for the lighter findings alone."""
        yield from _lists(raw)
        yield from _odd_switches(raw, {})


class MachineSignOffTable(Table):
    """What needs a lead on one machine; what is left out is as in the rest of the policy."""

    critical: bool | None = None
    major: bool | None = None
    minor: bool | None = None
    touched_words: bool | None = None
    undetermined: bool | None = None
    first_submission: bool | None = None
    rules: list[str] | None = None
    words_left_out: list[str] | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Rules and kinds of words that do not exist."""
        yield from _lists(raw)


def _lists(raw: dict[str, Any]) -> Iterator[Mistake]:
    for key, allowed, what in (
        ("rules", _rule_ids(), "the id of a rule (see `verifier rules`)"),
        ("words_left_out", WORD_KINDS, f"a kind of word: {', '.join(WORD_KINDS)}"),
    ):
        given = raw.get(key)
        for index, name in enumerate(given if isinstance(given, list) else ()):
            if isinstance(name, str) and name not in allowed:
                yield Mistake((key, index), shown(name), what, nearest(name, allowed))


def _rule_ids() -> tuple[str, ...]:
    """Rules that exist or once did: a policy stays readable when a rule is given up."""
    return (*(rule.id for rule in all_rules()), *RETIRED)


def _strange_weights(raw: dict[str, Any]) -> Iterator[Mistake]:
    weights = raw.get("weights")
    for name in weights if isinstance(weights, dict) else ():
        if re.fullmatch(_ID, name) and name not in _rule_ids():
            yield Mistake(
                ("weights", name), "a weight", "the id of a rule (see `verifier rules`)", nearest(name, _rule_ids())
            )


class MachineTable(Table):
    """What is asked otherwise of programs for one machine, known by the name of its profile."""

    tolerance_class: Literal["f", "m", "c", "v"] | None = None
    thresholds: MachineThresholdsTable = MachineThresholdsTable()
    weights: dict[Name, Weight] = Field(default_factory=dict)
    sign_off: MachineSignOffTable = MachineSignOffTable()
    house: list[Habit] | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Weights of rules that do not exist."""
        yield from _strange_weights(raw)


class PolicyTable(Table):
    """A shop's policy."""

    name: Name
    version: Annotated[int, Field(ge=1)]
    tolerance_class: Literal["f", "m", "c", "v"] = "m"
    thresholds: ThresholdsTable = ThresholdsTable()
    weights: dict[Name, Weight] = Field(default_factory=dict)
    sign_off: SignOffTable = SignOffTable()
    house: list[Habit] = Field(default_factory=list)
    machines: dict[Name, MachineTable] = Field(default_factory=dict)

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Weights of rules that do not exist, and a machine's steps the wrong way round on top of the shop's."""
        yield from _strange_weights(raw)
        for name, table in _inner(raw, "machines").items():
            own = table if isinstance(table, dict) else {}
            for key, check in (("thresholds", _wrong_steps), ("sign_off", _odd_switches)):
                for found in check(_inner(own, key), _inner(raw, key)):
                    yield Mistake(("machines", name, key, *found.path), found.got, found.expected)


def _inner(raw: Mapping[str, Any], key: str) -> dict[str, Any]:
    """The table at a key, or an empty one where something else stands there."""
    found = raw.get(key)
    return found if isinstance(found, dict) else {}


def load_policy(path: str | Path) -> Policy:
    """The policy in a TOML file; MachineError with every mistake of the file."""
    return _policy(read_table(path, PolicyTable))


def parse_policy(data: bytes, label: str) -> Policy:
    """The policy in these bytes; MachineError with every mistake in them."""
    return _policy(parse_table(data, label, PolicyTable))


def _policy(table: PolicyTable) -> Policy:
    policy = Policy(
        name=table.name,
        version=table.version,
        tolerance_class=table.tolerance_class,
        weights=FrozenMap(sorted(table.weights.items())),
        sign_off=_sign_off(SignOff(), table.sign_off),
        house=tuple(sorted(set(table.house))),
        **_given(table.thresholds),
    )
    machines = FrozenMap((name, _of_machine(policy, own)) for name, own in sorted(table.machines.items()))
    policy = replace(policy, machines=machines)
    return replace(policy, digest=content_digest(policy))


def _of_machine(shop: Policy, own: MachineTable) -> Policy:
    """The shop's policy with what is asked otherwise on one machine."""
    return replace(
        shop,
        tolerance_class=own.tolerance_class or shop.tolerance_class,
        weights=FrozenMap(sorted({**shop.weights, **own.weights}.items())),
        sign_off=_sign_off(shop.sign_off, own.sign_off),
        house=shop.house if own.house is None else tuple(sorted(set(own.house))),
        **_given(own.thresholds),
    )


def _sign_off(usual: SignOff, table: SignOffTable | MachineSignOffTable) -> SignOff:
    given = _given(table)
    for key in ("rules", "words_left_out"):
        if key in given:
            given[key] = tuple(sorted(set(given[key])))
    return replace(usual, **given)


def _given(table: Table) -> dict[str, Any]:
    return {key: value for key, value in table if value is not None}


def policy_schema() -> dict[str, Any]:
    """The JSON Schema of a policy file."""
    return file_schema(PolicyTable, "Policy")


def policy_text(policy: Policy) -> str:
    """The policy as the TOML file that loads back to it, nothing left to defaults; of a machine what differs there."""
    tables = {"name": policy.name, "version": policy.version, **_tables(policy)}
    if policy.machines:
        usual = _tables(policy)
        tables["machines"] = {name: _different(_tables(own), usual) for name, own in policy.machines.items()}
    return table_text(tables)


def _tables(policy: Policy) -> dict[str, Any]:
    return {
        "tolerance_class": policy.tolerance_class,
        "house": policy.house,
        "thresholds": {name: getattr(policy, name) for name in ThresholdsTable.model_fields},
        "weights": dict(policy.weights),
        "sign_off": {f.name: getattr(policy.sign_off, f.name) for f in fields(SignOff)},
    }


def _different(own: Mapping[str, Any], usual: Mapping[str, Any]) -> dict[str, Any]:
    """What stands otherwise in `own` than in `usual`, tables by their keys."""
    found: dict[str, Any] = {}
    for key, value in own.items():
        if isinstance(value, Mapping):
            inner = _different(value, usual.get(key, {}))
            if inner:
                found[key] = inner
        elif value != usual.get(key):
            found[key] = value
    return found


__all__ = ["SWITCHES", "PolicyTable", "load_policy", "parse_policy", "policy_schema", "policy_text"]
