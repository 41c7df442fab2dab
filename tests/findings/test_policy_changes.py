"""Two policies compared: every difference is told, each for what it is, and what is called a tightening lets nothing more pass."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.programs import SHOP, machine, shop_pairs
from tests.properties.sizes import few
from verifier.findings.policy import SWITCHES, Policy, SignOff, default_policy
from verifier.findings.policy_changes import policy_changes
from verifier.findings.policy_file import parse_policy, policy_text
from verifier.findings.policy_words import policy_words
from verifier.findings.registry import all_rules
from verifier.findings.touched import WORD_KINDS
from verifier.machines import FrozenMap
from verifier.report import ChangeReport, review
from verifier.source import MachineError

RULES = [rule.id for rule in all_rules()]
PAIRS = [pair for pair in shop_pairs() if "drive-shaft" in pair[0].parts][:6]
HEAD = b'name = "shop"\nversion = 1\n'


def parsed(text: str) -> Policy:
    return parse_policy(HEAD + text.encode(), "policy.toml")


@st.composite
def policies(draw: st.DrawFn, **fixed: Any) -> Policy:
    """Any policy that a file could hold."""
    ratios = st.sampled_from([Fraction(n, 20) for n in (21, 22, 25, 30, 40, 60)])
    feed, speed = sorted(draw(st.tuples(ratios, ratios))), sorted(draw(st.tuples(ratios, ratios, ratios)))
    switches: dict[str, Any] = {name: draw(st.booleans()) for name in SWITCHES}
    heavy = draw(st.integers(0, 3))  # how many of the weights, heaviest first, need a lead
    switches |= {name: k < heavy for k, name in enumerate(("critical", "major", "minor"))}
    switches["rules"] = tuple(sorted(draw(st.sets(st.sampled_from(RULES), max_size=3))))
    switches["words_left_out"] = tuple(sorted(draw(st.sets(st.sampled_from(WORD_KINDS), max_size=3))))
    weights = draw(
        st.dictionaries(st.sampled_from(RULES), st.sampled_from(["critical", "major", "minor"]), max_size=12)
    )
    return Policy(
        tolerance_class=draw(st.sampled_from("fmcv")),
        tolerance_minor_share=draw(st.sampled_from([Fraction(1, 10), Fraction(1, 2)])),
        feed_ratio_minor=feed[0],
        feed_ratio_major=feed[1],
        speed_ratio_minor=speed[0],
        speed_ratio_major=speed[1],
        speed_ratio_critical=speed[2],
        approach_clearance_mm=draw(st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3)])),
        retract_clearance_mm=draw(st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3)])),
        weights=FrozenMap(sorted(weights.items())),
        sign_off=SignOff(**{**switches, **fixed}),
    )


@cache
def reviewed(index: int, policy: Policy) -> ChangeReport:
    old, new = PAIRS[index]
    return review(old.read_bytes(), new.read_bytes(), machine=machine("north-lathe"), policy=policy)


@given(policies(), policies())
def test_a_difference_is_told_exactly_where_there_is_one_and_mirrors(one: Policy, other: Policy) -> None:
    there, back = policy_changes(one, other), policy_changes(other, one)
    assert bool(there) == (one != other)
    opposite = {"loosening": "tightening", "tightening": "loosening"}
    turned = sorted((change.key, opposite.get(change.direction, change.direction)) for change in there)
    assert turned == sorted((change.key, change.direction) for change in back)
    assert policy_changes(one, one) == ()


@few(10)
@given(st.integers(0, len(PAIRS) - 1), policies(), policies())
def test_a_policy_that_loosens_nothing_lets_nothing_pass_that_was_held(index: int, one: Policy, two: Policy) -> None:
    """The tighter of two policies in every respect: no loosening is told, and what needed a lead still does."""
    on, off = one.sign_off, two.sign_off
    tight = replace(
        one,
        **{key: min(getattr(one, key), getattr(two, key)) for key in Policy.__dataclass_fields__ if "ratio" in key or "share" in key},
        **{key: max(getattr(one, key), getattr(two, key)) for key in ("approach_clearance_mm", "retract_clearance_mm")},
        weights=FrozenMap({**one.weights, **dict.fromkeys(two.weights, "critical")}),
        sign_off=SignOff(
            **{key: getattr(on, key) or getattr(off, key) for key in SWITCHES},
            rules=tuple(sorted({*on.rules, *off.rules})),
            words_left_out=tuple(sorted({*on.words_left_out} & {*off.words_left_out})),
        ),
    )  # fmt: skip
    assert not [change.line for change in policy_changes(one, tight) if change.direction == "loosening"]
    # A fixed weight may be lighter than one that a rule judges case by case, which is why such a change is not called a tightening.
    if not any(change.may_loosen for change in policy_changes(one, tight)):
        assert reviewed(index, tight).sign_off.required >= reviewed(index, one).sign_off.required


@few(20)
@given(st.integers(0, len(PAIRS) - 1), policies(touched_words=True, words_left_out=()))
def test_a_touched_word_needs_a_lead_under_every_policy_that_does_not_leave_it_out(index: int, policy: Policy) -> None:
    report = reviewed(index, policy)
    assert {touch.text for touch in report.touched} <= set(report.sign_off.reasons)
    assert report.sign_off.required or not report.touched


SAME = """G21 G99 G40
N1
T0101
G50 S2000
G96 S150 M03
G00 X50. Z2. M08
G01 Z-20. F0.2
G00 X100. Z100.
M09
N2
T0202
{}
G00 X50. Z2.
G01 Z-10. F0.2
G00 X100. Z100.
M05
M30
"""


@pytest.mark.parametrize("word", ["G40", "G99", "G50 S2000", "M03", "G21", "S150", "G96 S150", "M09"])
def test_a_touched_word_needs_a_lead_though_the_machine_does_the_same(word: str) -> None:
    """Common practice, no source: what each sequence sets for itself is there for whoever starts at that sequence."""
    lax = Policy(sign_off=SignOff(critical=False, major=False, undetermined=False, first_submission=False))
    for old, new in (("", word), (word, "")):
        report = review(SAME.format(old).encode(), SAME.format(new).encode(), policy=lax)
        assert report.verdict == "same behaviour"
        assert report.touched and report.sign_off.required
        assert set(report.sign_off.reasons) == {touch.text for touch in report.touched}


def test_leaving_a_kind_of_word_out_is_a_loosening_and_leaves_out_that_kind_alone() -> None:
    policy = parsed('[sign_off]\nwords_left_out = ["compensation"]\n')
    (change,) = (c for c in policy_changes(default_policy(), policy) if c.key != "name")
    assert change.direction == "loosening" and "compensation" in change.told and change.may_loosen
    assert not review(SAME.format("").encode(), SAME.format("G40").encode(), policy=policy).sign_off.reasons.count(
        "compensation: G40 added"
    )
    assert review(SAME.format("").encode(), SAME.format("M03").encode(), policy=policy).sign_off.required


def test_a_rule_that_the_policy_names_needs_a_lead_whatever_it_weighs() -> None:
    old, new = SAME.format(""), SAME.format("").replace("Z-10. F0.2", "Z-10. F0.23")
    usual = review(old.encode(), new.encode())
    assert [(f.rule, str(f.weight)) for f in usual.findings if f.status == "change"] == [("feed-changed", "minor")]
    assert not usual.sign_off.required
    asked = review(old.encode(), new.encode(), policy=parsed('[sign_off]\nrules = ["feed-changed"]\n'))
    assert asked.sign_off.reasons == ("feed-changed",)


ON_ONE = """
[thresholds]
feed_ratio_major = 1.5
[machines.north-lathe]
tolerance_class = "f"
thresholds = { feed_ratio_major = 1.2 }
weights = { dwell-changed = "critical" }
sign_off = { minor = true, rules = ["feed-changed"] }
"""


def test_a_machine_is_judged_by_what_is_asked_of_it_and_the_digest_is_of_the_whole() -> None:
    policy = parsed(ON_ONE)
    own = policy.at("north-lathe")
    assert (own.feed_ratio_major, own.tolerance_class, own.sign_off.minor) == (Fraction("1.2"), "f", True)
    assert own.weight("dwell-changed", "minor") == "critical" and own.digest == policy.digest
    assert policy.at("dock-lathe") is policy
    old, new = PAIRS[0]
    report = review(old.read_bytes(), new.read_bytes(), machine=machine("north-lathe"), policy=policy)
    assert report.policy.digest == policy.digest
    changes = policy_changes(parsed("[thresholds]\nfeed_ratio_major = 1.5\n"), policy)
    assert {(c.key, c.direction, c.machine) for c in changes} == {
        ("thresholds.feed_ratio_major", "tightening", "north-lathe"),
        ("tolerance_class", "tightening", "north-lathe"),
        ("weights.dwell-changed", "tightening", "north-lathe"),
        ("sign_off.minor", "tightening", "north-lathe"),
        ("sign_off.rules", "tightening", "north-lathe"),
    }


def test_a_policy_with_all_it_can_hold_is_written_out_and_loads_back_to_itself() -> None:
    policy = parsed(ON_ONE + '[sign_off]\nwords_left_out = ["coolant"]\nrules = ["feed-changed"]\n')
    assert parse_policy(policy_text(policy).encode(), "again") == policy


SIX = """
[weights]
feed-chnged = "minor"
[sign_off]
rules = ["no-such-rule"]
words_left_out = ["coolnt"]
[machines.north-lathe]
thresholds = { feed_ratio_major = 1.05 }
weights = { spindle-on-fire = "major" }
sign_off = { majr = false, minor = true, major = false }
"""


def test_every_mistake_is_told_in_one_run_with_the_nearest_word() -> None:
    with pytest.raises(MachineError) as caught:
        parsed(SIX)
    told = sorted(line.removeprefix("policy.toml: ").split(", expected")[0] for line in caught.value.mistakes)
    assert told == [
        "machines.north-lathe.sign_off.major: got false",
        "machines.north-lathe.sign_off.majr: got an unknown key",
        "machines.north-lathe.thresholds.feed_ratio_major: got 1.05",
        "machines.north-lathe.weights.spindle-on-fire: got a weight",
        'sign_off.rules.0: got "no-such-rule"',
        'sign_off.words_left_out.0: got "coolnt"',
        "weights.feed-chnged: got a weight",
    ]
    assert any("did you mean feed-changed?" in line for line in caught.value.mistakes)
    assert any("did you mean coolant?" in line for line in caught.value.mistakes)


def test_the_words_say_each_thing_that_the_policy_asks() -> None:
    usual = policy_words(default_policy())
    assert "It asks for what the built-in policy asks." in usual
    assert all(kind in usual.replace("\n  ", " ") for kind in WORD_KINDS)
    words = policy_words(
        parsed(
            ON_ONE.replace("minor = true, ", "")
            + '[sign_off]\ncritical = false\nmajor = false\nwords_left_out = ["coolant"]\n[weights]\nfeed-changed = "minor"\n'
        )
    )
    for told in (
        "No lead is asked for: critical findings, major findings, minor findings.",
        "LOOSENED, no lead is asked for: coolant.",
        "LOOSENING: no lead any more for critical findings",
        "feed-changed: minor (by itself major)",
        "On north-lathe, against the rest of this policy:",
        "TIGHTENING: a feed change is major from 1.2 times on, before 1.5",
    ):
        assert told in words


def test_the_demo_shops_policy_loosens_nothing() -> None:
    policy = parse_policy((Path(SHOP) / "policy.toml").read_bytes(), "policy.toml")
    assert not any(change.may_loosen for change in policy_changes(default_policy(), policy))
