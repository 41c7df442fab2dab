"""Every rule's own examples, run: a rule that says it fires fires, at the line it says, and is silent where it says so."""

from __future__ import annotations

import pytest

from verifier.compare import compare, levels_of, side
from verifier.findings import Example, Finding, Rule, all_rules, default_policy, judge, judge_one
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import Program, parse

CASES = [(rule, example) for rule in all_rules() for example in rule.examples]


def read(text: str) -> Program:
    return parse(read_source(text.encode(), "example"))


def findings(example: Example) -> tuple[Finding, ...]:
    machine, policy, setup = example.machine or generic_lathe(), example.policy or default_policy(), example.setup
    new = read(example.new)
    if example.old is None:
        return judge_one(side(new, machine, setup=setup), policy)
    old = read(example.old)
    levels = tuple(sorted({*levels_of(old), *levels_of(new)}))
    sides = [side(program, machine, setup=setup, levels=levels) for program in (old, new)]
    return judge(compare(*sides), policy).findings


@pytest.mark.parametrize(("rule", "example"), CASES, ids=[f"{r.id}: {e.title}" for r, e in CASES])
def test_the_examples_of_a_rule_hold(rule: Rule, example: Example) -> None:
    found = [f for f in findings(example) if f.rule == rule.id and f.status in ("change", "new", "gone")]
    assert bool(found) == example.fires, [f.title for f in findings(example)]
    if example.line:
        assert example.line in {place.line for f in found for place in f.causes}


@pytest.mark.parametrize(("rule", "example"), CASES, ids=[f"{r.id}: {e.title}" for r, e in CASES])
def test_no_rule_breaks_on_an_example(rule: Rule, example: Example) -> None:
    assert [f.title for f in findings(example) if f.rule == "rule-failed"] == []


@pytest.mark.parametrize("rule", all_rules(), ids=lambda rule: rule.id)
def test_every_rule_has_a_loud_and_a_silent_example_and_says_what_it_is_about(rule: Rule) -> None:
    assert {example.fires for example in rule.examples} == {True, False}
    assert rule.title[0].isupper() and rule.title.endswith(".")
    assert rule.watch.endswith(".") and rule.why().endswith(".")
    assert type(rule).__module__.rsplit(".", 1)[1] == rule.id.replace("-", "_")
