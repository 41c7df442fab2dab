"""A program compared with itself has standing hazards only, and exchanging two programs exchanges what is new and what is gone."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

import verifier
from verifier.compare import compare, levels_of, side
from verifier.findings import ChangeRule, Finding, Rule, Status, all_rules, default_policy, judge
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

HAZARDS = [rule for rule in all_rules() if not isinstance(rule, ChangeRule)]
DAMAGED = sorted((Path(verifier.__file__).parent.parent / "fixtures" / "damaged").glob("[!r]*.nc"))


def told(old: bytes, new: bytes, rule: Rule | None = None) -> tuple[Finding, ...]:
    examples = rule.examples if rule is not None else ()
    machine = next((e.machine for e in examples if e.machine is not None), None) or generic_lathe()
    setup = next((e.setup for e in examples if e.setup is not None), None)
    programs = [parse(read_source(data, "case")) for data in (old, new)]
    levels = tuple(sorted({level for program in programs for level in levels_of(program)}))
    sides = [side(program, machine, setup=setup, levels=levels) for program in programs]
    ids = {r.id for r in HAZARDS}
    return tuple(f for f in judge(compare(*sides), default_policy()).findings if f.rule in ids)


@pytest.mark.parametrize("rule", HAZARDS, ids=lambda rule: rule.id)
def test_a_hazard_compared_with_itself_still_stands(rule: Rule) -> None:
    for example in rule.examples:
        text = example.new.encode()
        assert {f.status for f in told(text, text, rule)} <= {Status.STANDING}


@pytest.mark.parametrize("path", DAMAGED, ids=lambda path: path.stem)
def test_damage_compared_with_itself_still_stands(path: Path) -> None:
    data = path.read_bytes()
    found = told(data, data)
    assert found
    assert {f.status for f in found} == {Status.STANDING}


@pytest.mark.parametrize("rule", HAZARDS, ids=lambda rule: rule.id)
def test_exchanging_the_programs_exchanges_new_and_gone(rule: Rule) -> None:
    loud = next(example.new.encode() for example in rule.examples if example.fires)
    quiet = next(example.new.encode() for example in rule.examples if not example.fires)
    there, back = told(quiet, loud, rule), told(loud, quiet, rule)
    for one, other in ((Status.NEW, Status.GONE), (Status.GONE, Status.NEW), (Status.STANDING, Status.STANDING)):
        assert Counter(f.rule for f in there if f.status == one) == Counter(f.rule for f in back if f.status == other)
