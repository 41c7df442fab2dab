"""What a policy asks, in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from verifier.findings.policy import SWITCHES, Policy, default_policy
from verifier.findings.policy_changes import REASONS, policy_changes
from verifier.findings.registry import program_rules, rule
from verifier.findings.touched import WORD_KINDS
from verifier.machines import shown

_CLASS_NAMES = {"f": "fine", "m": "medium", "c": "coarse", "v": "very coarse"}


def policy_words(policy: Policy) -> str:
    """The policy as a lead would tell it to a new colleague; what departs from the built-in one is named for what it is."""
    lines = [f"Policy {policy.name}, version {policy.version}", f"digest {policy.digest}", ""]
    lines += _sign_off(policy)
    lines += ["", *_thresholds(policy), "", *_weights(policy), "", *_habits(policy), "", *_departures(policy)]
    return "\n".join(lines)


def _sign_off(policy: Policy) -> Iterator[str]:
    signed = policy.sign_off
    yield "A lead must sign for:"
    for key in SWITCHES:
        if getattr(signed, key):
            yield f"  - {_reason(key)}"
    for name in signed.rules:
        yield f"  - every new {name}, whatever it weighs"
    yield "  - a rule that could not be computed (always)"
    off = [REASONS[key] for key in SWITCHES if not getattr(signed, key)]
    if off:
        yield f"No lead is asked for: {', '.join(off)}."
    if signed.touched_words:
        left = signed.words_left_out
        kinds = ", ".join(kind for kind in WORD_KINDS if kind not in left)
        yield "Safety-relevant words, whose touch needs a lead even where the machine does the same:"
        told = f"{kinds}; and every state that the machine's own M codes set."
        yield from wrap(told, 110, initial_indent="  ", subsequent_indent="  ")
        if left:
            yield f"  LOOSENED, no lead is asked for: {', '.join(left)}."


def _reason(key: str) -> str:
    more = {
        "critical": " that a change brings (can hurt someone or wreck the machine)",
        "major": " that a change brings (can scrap the part or break the tool)",
        "minor": " that a change brings (worth knowing)",
    }
    return REASONS[key] + more.get(key, "")


def _thresholds(p: Policy) -> Iterator[str]:
    feed, speed = (p.feed_ratio_minor, p.feed_ratio_major), (p.speed_ratio_minor, p.speed_ratio_major)
    yield "What weighs how much:"
    yield f"  - a feed changed to {shown(feed[0])} times or more (up or down) is minor, {shown(feed[1])} times major"
    yield (
        f"  - a spindle speed changed to {shown(speed[0])} times or more (up or down) is minor, {shown(speed[1])} times "
        f"major, {shown(p.speed_ratio_critical)} times critical"
    )
    yield f"  - an approach that ends nearer than {shown(p.approach_clearance_mm)} mm to the stock is major"
    yield f"  - a retract that ends nearer than {shown(p.retract_clearance_mm)} mm to the stock is major"
    name = f"{p.tolerance_class} ({_CLASS_NAMES[p.tolerance_class]})"
    yield (
        f"  - a size without drawing limits is judged by ISO 2768-1 class {name}: beyond it major, below "
        f"{shown(p.tolerance_minor_share)} of it minor"
    )


def _weights(policy: Policy) -> Iterator[str]:
    if not policy.weights:
        yield "Every rule weighs what it weighs by itself (`verifier rules`)."
        return
    yield "Rules that weigh something else in this shop:"
    for name, weight in policy.weights.items():
        found = rule(name)
        usual = f"by itself {found.weight}" if found else "a rule that is not in use any more"
        yield f"  - {name}: {weight} ({usual})"


def _habits(policy: Policy) -> Iterator[str]:
    if not policy.house:
        yield "No habits of writing are asked for."
        return
    titles = {entry.house: entry.title for entry in program_rules() if entry.house}
    yield "Habits of writing that programs here keep; a finding where one does not:"
    for habit in policy.house:
        yield f"  - {habit}: {titles.get(habit, '')}".rstrip(": ")


def _departures(policy: Policy) -> Iterator[str]:
    """Against the built-in policy, machine by machine where they differ."""
    usual = default_policy()
    found = [change for change in policy_changes(usual, policy) if change.key != "name" and not change.machine]
    if found:
        yield "Against the built-in policy:"
        yield from (f"  {change.line}" for change in found)
    else:
        yield "It asks for what the built-in policy asks."
    for name, own in policy.machines.items():
        yield ""
        yield f"On {name}, against the rest of this policy:"
        yield from [f"  {change.line}" for change in policy_changes(policy, own) if not change.machine] or [
            "  the same"
        ]
