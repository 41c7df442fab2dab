"""A shop's policy: the defaults are the promised ones, every mistake is told, and loosening can be seen."""

from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.findings.policy import Habit, Policy, SignOff, default_policy
from verifier.findings.policy_file import load_policy, policy_schema, policy_text
from verifier.findings.registry import program_rules
from verifier.source import MachineError

SHOP = Path(__file__).parents[2] / "fixtures" / "shop" / "policy.toml"


def load(folder: Path, text: str) -> Policy:
    path = folder / "policy.toml"
    path.write_text('name = "shop"\nversion = 1\n' + text, "utf-8")
    return load_policy(path)


def mistakes(folder: Path, text: str) -> list[str]:
    with pytest.raises(MachineError) as caught:
        load(folder, text)
    return [line.removeprefix(str(folder / "policy.toml") + ": ") for line in caught.value.mistakes]


def test_defaults_are_the_promised_ones() -> None:
    policy = default_policy()
    assert (policy.feed_ratio_minor, policy.feed_ratio_major) == (Fraction("1.1"), Fraction("1.25"))
    assert (policy.speed_ratio_minor, policy.speed_ratio_major) == (Fraction("1.1"), Fraction("1.25"))
    assert policy.speed_ratio_critical == 2
    assert policy.tolerance_class == "m" and policy.tolerance_minor_share == Fraction(1, 10)
    assert policy.sign_off == SignOff(True, True, False, True, True, True)
    assert policy.loosened() == ()


def test_the_policy_of_the_demo_shop_asks_for_what_the_built_in_one_asks() -> None:
    policy, usual = load_policy(SHOP), default_policy()
    for field in fields(Policy):
        if field.name not in ("name", "version", "house", "digest"):
            assert getattr(policy, field.name) == getattr(usual, field.name), field.name


def test_what_is_left_out_is_as_in_the_built_in_policy(tmp_path: Path) -> None:
    policy, usual = load(tmp_path, ""), default_policy()
    assert policy.feed_ratio_major == usual.feed_ratio_major and policy.sign_off == usual.sign_off


@pytest.mark.parametrize(
    ("before", "after", "feed", "speed"),
    [
        ("0.2", "0.2", None, None),
        ("0.2", "0.21", None, None),
        ("0.2", "0.22", "minor", "minor"),
        ("0.22", "0.2", "minor", "minor"),
        ("0.2", "0.25", "major", "major"),
        ("0.25", "0.2", "major", "major"),
        ("0.2", "0.4", "major", "critical"),
        ("400", "200", "major", "critical"),
        ("0", "200", "major", "critical"),
        ("200", "0", "major", "critical"),
        ("200", "-200", "major", "critical"),
    ],
)
def test_thresholds_hold_either_way_and_are_reached_at_their_value(
    before: str, after: str, feed: str | None, speed: str | None
) -> None:
    policy = default_policy()
    assert policy.feed_weight(Fraction(before), Fraction(after)) == feed
    assert policy.speed_weight(Fraction(before), Fraction(after)) == speed


positive = st.fractions(min_value=Fraction(1, 1000), max_value=10_000)


@given(before=positive, after=positive)
def test_exchanging_before_and_after_changes_no_weight(before: Fraction, after: Fraction) -> None:
    policy = default_policy()
    assert policy.feed_weight(before, after) == policy.feed_weight(after, before)
    assert policy.speed_weight(before, after) == policy.speed_weight(after, before)


def test_weights_are_replaced_by_rule_id_and_the_ids_can_be_asked_for(tmp_path: Path) -> None:
    policy = load(tmp_path, "[weights]\nspeed-clamp-removed = 'major'\nfeed-changed = 'minor'")
    assert policy.weight("speed-clamp-removed", "critical") == "major"
    assert policy.weight("another-rule", "critical") == "critical"
    assert policy.overridden_rules() == ("feed-changed", "speed-clamp-removed")


def test_loosening_names_each_switch_that_is_off(tmp_path: Path) -> None:
    policy = load(tmp_path, "[sign_off]\ntouched_words = false\nminor = true\nundetermined = false")
    assert policy.loosened() == ("touched_words", "undetermined")


FIVE = """
tolerance_class = "medium"
[thresholds]
feed_ratio_minor = 0.9
speed_ratio_major = "2"
feed_ratio_majr = 2
[sign_off]
critical = 1
"""


def test_five_mistakes_make_five_lines(tmp_path: Path) -> None:
    found = sorted(mistakes(tmp_path, FIVE))
    assert [line.split(", expected")[0] for line in found] == [
        "sign_off.critical: got 1",
        "thresholds.feed_ratio_majr: got an unknown key",
        "thresholds.feed_ratio_minor: got 0.9",
        'thresholds.speed_ratio_major: got "2"',
        'tolerance_class: got "medium"',
    ]
    assert "(did you mean feed_ratio_major?)" in found[1]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            "[thresholds]\nfeed_ratio_minor = 1.5",
            "thresholds.feed_ratio_minor: got 1.5, expected feed_ratio_major at most",
        ),
        (
            "[thresholds]\nfeed_ratio_major = 1.05",
            "thresholds.feed_ratio_major: got 1.05, expected feed_ratio_minor at",
        ),
        (
            "[thresholds]\nspeed_ratio_critical = 1.2",
            "thresholds.speed_ratio_critical: got 1.2, expected speed_ratio_m",
        ),
        (
            "[thresholds]\ntolerance_minor_share = 2",
            "thresholds.tolerance_minor_share: got 2, expected a share of 1 at",
        ),
        (
            "[weights]\nspeed-clamp-removed = 'grave'",
            'weights.speed-clamp-removed: got "grave", expected one of critical',
        ),
        ("[weights]\nSpeed_Clamp = 'major'", 'weights.Speed_Clamp: got "Speed_Clamp", expected lower case words'),
        ("[sign_off]\ncriticl = false", "sign_off.criticl: got an unknown key"),
    ],
)
def test_a_mistake_is_one_line(tmp_path: Path, text: str, line: str) -> None:
    found = mistakes(tmp_path, text)
    assert len(found) == 1
    assert found[0].startswith(line)


def test_digest_is_of_the_content(tmp_path: Path) -> None:
    two = {"a": "feed-changed", "b": "speed-clamp-removed"}
    one = load(tmp_path, "[weights]\n{a} = 'major'\n{b} = 'minor'".format(**two))
    same = load(
        tmp_path,
        "# order\n[weights]\n{b} = 'minor'\n{a} = 'major'\n[thresholds]\nfeed_ratio_minor = 1.10".format(**two),
    )
    other = load(tmp_path, "[weights]\n{a} = 'major'\n{b} = 'major'".format(**two))
    assert one == same and one.digest != other.digest
    assert len({default_policy().digest, one.digest, load(tmp_path, "[sign_off]\nmajor = false").digest}) == 3


def test_the_schema_names_every_key_and_no_other() -> None:
    schema = policy_schema()
    thresholds = schema["$defs"]["ThresholdsTable"]["properties"]
    own = {"name", "version", "tolerance_class", "weights", "sign_off", "house", "machines", "digest"}
    assert set(thresholds) == {field.name for field in fields(Policy)} - own
    assert set(schema["$defs"]["SignOffTable"]["properties"]) == {field.name for field in fields(SignOff)}
    assert all(table["additionalProperties"] is False for table in schema["$defs"].values())


def test_a_policy_written_out_loads_back_to_itself(tmp_path: Path) -> None:
    file = tmp_path / "policy.toml"
    file.write_text(policy_text(default_policy()))
    assert load_policy(file).digest == default_policy().digest


def test_habits_are_silent_until_a_shop_asks_for_them(tmp_path: Path) -> None:
    assert default_policy().house == ()
    assert load(tmp_path, 'house = ["search-number", "operator-note"]').house == ("operator-note", "search-number")
    (line,) = mistakes(tmp_path, 'house = ["notes"]')
    assert 'got "notes", expected one of operator-note' in line
    asked = {rule.house for rule in program_rules() if rule.house}
    assert asked == set(load_policy(SHOP).house) == set(get_args(Habit)), (
        "every habit has its rule, and the demo shop keeps them all"
    )
