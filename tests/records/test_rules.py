"""The rules as a whole: random acts answered as the model answers them, and planted mistakes in the rules found.

What the runs are worth is measured by the mistakes: each takes one rule out of the records, and the same runs must fail.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import pytest
from driver import Driver
from shops import TestShop, copy

from verifier import records
from verifier.records import (
    accepting,
    confirming,
    deciding,
    lookup,
    placing,
    readbacks,
    recalling,
    rechecking,
    releasing,
    reviews,
    submitting,
)
from verifier.source import StoreError

SEEDS = 80
STEPS = 100


def run(made_once: TestShop, folder: Path, seed: int, steps: int = STEPS) -> Driver:
    t = copy(made_once, folder / str(seed))
    try:
        driver = Driver(t, seed)
        for _ in range(steps):
            driver.step()
        return driver
    finally:
        t.shop.close_thread()


def test_random_acts_are_answered_as_the_rules_say(made_once: TestShop, place: Path) -> None:
    answers: Counter[str] = Counter()
    for seed in range(SEEDS):
        answers.update(line.split(": ")[-1] for line in run(made_once, place, seed).told)
        if seed % 10 == 0:
            assert records.verify_ledger(place / str(seed)).ok
    wanted = {
        "done",
        "own_revision",
        "stale_report",
        "stale_base",
        "stale_proven",
        "already_decided",
        "not_held",
        "changed_since",
    }
    wanted |= {"older_revision", "not_cleared", "wrong_role", "not_the_release", "needs_readback", "readback_differs"}
    wanted |= {"prove_out_running", "nothing_proven", "not_at_machine", "in_prove_out", "already_released"}
    wanted |= {"not_ticked", "unknown_finding", "report_fits"}
    wanted |= {"unknown_hazard", "already_accepted", "already_withdrawn", "stale_accepted"}
    assert wanted <= set(answers), f"the runs never met {sorted(wanted - set(answers))}"
    assert answers["done"] > SEEDS * STEPS // 4


MISTAKES: list[tuple[str, ModuleType, str, str]] = [
    ("own revision signed off", deciding, "if lead in authors_of(act.database, row[\"id\"]):", "if False:"),
    ("stale report signed", deciding, "if seen != row[\"report_digest\"]:", "if False:"),
    ("stale base signed", deciding, "check_grounds(act.database, row[\"program\"], machines, row[\"sha\"], found, hint)", "pass"),
    ("signed though another one was proven", lookup, "    if now != tuple(found):", "    if False:"),
    ("released though another one was proven", releasing, "return [\"proven revision\"]", "return []"),
    ("what is only released is proven", lookup, "(r.kind='return' OR EXISTS(", "(1 OR EXISTS("),
    ("what was gone back to is not proven", lookup, "(r.kind='return' OR EXISTS(", "(0 OR EXISTS("),
    ("a recalled one stays proven", lookup, " AND {_NOT_RECALLED}\"\n        \" AND NOT (r.kind", "\"\n        \" AND NOT (r.kind"),
    ("its own prove-out is the one proven before it", lookup, " AND NOT (r.kind='prove-out' AND v.sha=?)", " AND ?<>''"),
    ("decided without proving who", deciding, "if not reauthenticated:", "if False:"),
    ("a critical finding not ticked", deciding, "if missing and verdict in TO_MACHINE:", "if False:"),
    ("one tick for all", deciding, "if missing and verdict in TO_MACHINE:",
     "if missing and not ticked and verdict in TO_MACHINE:"),
    ("turned back only with ticks", deciding, "if missing and verdict in TO_MACHINE:", "if missing:"),
    ("a tick for nothing", deciding, "    if strange:", "    if False:"),
    ("decided by anybody", deciding, "acting(shop, lead, (\"lead\",))", "acting(shop, lead)"),
    ("a cleared one decided on", deciding, "if row[\"state\"] != HELD:", "if False:"),
    ("prove-outs on top of each other", placing, "if state == PROVE_OUT:", "if False:"),
    ("checked again by anybody", rechecking, "acting(shop, person, (\"programmer\", \"lead\"))", "acting(shop, person)"),
    ("checked again though not held", rechecking, "if row[\"state\"] != HELD:", "if False:"),
    ("checked again though nothing changed", rechecking, "if not changed:", "if False:"),
    ("whoever checks again becomes its author", rechecking, "Handing(CHECKED_AGAIN, None,", "Handing(CHECKED_AGAIN, act.person,"),
    ("cleared by being checked again", rechecking, "list(dict.fromkeys(reasons))",
     "hold_reasons(act, {\"id\": row[\"program\"]}, machines, HELD, facts)"),
    ("checked again on the report that there was", rechecking, "write_review(act, row[\"id\"], handing, machines, facts,",
     "act.update(\"revision\", row[\"id\"], held_because=json.dumps(reasons)) if True else write_review(act, row[\"id\"], handing, machines, facts,"),
    ("checked again beside another base", releasing, "    check_grounds(act.database, row[\"program\"]",
     "    (lambda *given: given)(act.database, row[\"program\"]"),
    ("released by anybody with a role", releasing,
     "if \"lead\" not in act.roles and act.person not in authors_of(act.database, row[\"id\"]):", "if False:"),
    ("released without sign-off", releasing, "if row[\"state\"] != CLEARED:", "if False:"),
    ("released though something changed", releasing, "            if changed:\n", "            if False:\n"),
    ("an older one released", releasing, "if base is not None and base[\"n\"] > row[\"n\"]", "if False and base[\"n\"]"),
    ("nothing retired", placing, "act.update(\"revision\", row[\"id\"], state=RETIRED)", "pass"),
    ("a recalled one stays a base", lookup, "c.last_release>=r.id", "c.last_release<0"),
    ("a prove-out becomes a base", lookup, " AND r.kind<>'prove-out' AND {_NOT_RECALLED} ORDER", " AND {_NOT_RECALLED} ORDER"),
    ("recalled bytes cleared by themselves", reviews, "if before in NEVER_CLEARED_BY_ITSELF:", "if False:"),
    ("a first submission cleared by itself", reviews, "if base_at(act.database, m.id, program[\"id\"]) is None", "if False"),
    ("turned back though released", reviews, "return RELEASED if standing(act.database, revision) else otherwise",
     "return otherwise"),
    ("submitted against another base", submitting, "    check_grounds(act.database, program[\"id\"]", 
     "    (lambda *given: given)(act.database, program[\"id\"]"),
    ("withdrawn by anybody", submitting, "if author not in authors_of(act.database, revision):", "if False:"),
    ("released bytes taken again", submitting, "if known[\"state\"] == RELEASED and _nothing_new", "if False and _nothing_new"),
    ("another revision confirmed", confirming, "release[\"revision\"] == revision else None", "True else None"),
    ("confirmed before it is there", confirming, "if job is None or job[\"state\"] != \"done\":",
     "if False:"),
    ("critical confirmed by code", confirming, "if any(report[\"has_critical\"]", "if False and any(report[\"has_critical\"]"),
    ("wrong code taken", confirming, "if code.strip().upper() != report_rows", "if False and report_rows"),
    ("a differing read-back taken", confirming, "if not back[\"equal\"]:\n            return", "if False:\n            return"),
    ("an old read-back taken", confirming, "if back[\"at_us\"] < release[\"at_us\"] or not _after(act, number, release):",
     "if False:"),
    ("a read-back used twice", confirming, "if act.database.value(\"SELECT 1 FROM confirmation WHERE readback=?\", number):",
     "if False:"),
    ("a read-back sent twice recorded twice", readbacks, "        if same is not None:\n", "        if False:\n"),
    ("another's read-back given", readbacks, "    if any(newest[name] != value for name, value in values.items()):",
     "    if newest[\"sha\"] != values[\"sha\"]:"),
    ("a used read-back given again", readbacks, "newest[\"used\"] or", "False or"),
    ("a read-back given again after days", readbacks, "act.now - newest[\"at_us\"] > AGAIN_US", "False"),
    ("a read-back of before given again", readbacks, "return newest if newest[\"at_us\"] >= int(since or 0) else None", "return newest"),
    ("going back twice", recalling, "if leaving != (left", "if False and (left"),
    ("going forward by going back", lookup, " AND r.origin<? AND r.revision<>?", " AND r.origin<>? AND r.revision<>?"),
    ("going back to what nobody proved", lookup, " AND EXISTS(SELECT 1 FROM confirmation f WHERE f.release=r.id)", ""),
    ("an overdue prove-out left", recalling, "if row[\"state\"] != PROVE_OUT:\n                continue",
     "if True:\n                continue"),
    ("recalled by anybody", recalling, "acting(shop, lead, (\"lead\",))", "acting(shop, lead)"),
    ("a recalled file left standing", recalling, "        end_release(act, release, \"recalled\")\n", ""),
    ("a hazard of one's own revision accepted", accepting, "if lead in authors_of(act.database, row[\"id\"]):", "if False:"),
    ("accepted by anybody", accepting, "with acting(shop, lead, (\"lead\",)) as act:", "with acting(shop, lead) as act:"),
    ("accepted without proving who", accepting, "if not reauthenticated:", "if False:"),
    ("accepted on an older report", accepting, "if seen != row[\"report_digest\"]:", "if False:"),
    ("accepted twice", accepting, "if holding(act.database, row[\"program\"], key):", "if False:"),
    ("accepted on what was turned back", accepting, "if row[\"state\"] not in OPEN_TO_ACCEPT:", "if False:"),
    ("withdrawn twice", accepting, "if found.ended_us is not None:", "if False:"),
    ("a report rests on what was withdrawn", accepting, "        if found is None:\n            raise ActRefused(\n                \"stale",
     "        if False:\n            raise ActRefused(\n                \"stale"),
    ("signed though an acceptance was withdrawn", deciding, "if rests_on_ended(act.database, row[\"review\"]):", "if False:"),
    ("released though an acceptance was withdrawn", reviews, "if rests_on_ended(database, review[\"id\"]):", "if False:"),
]  # fmt: skip

_AFFECTED = (
    lookup, accepting, reviews, placing, submitting, deciding, releasing, recalling, confirming, readbacks, rechecking,
)  # fmt: skip


@contextmanager
def planted(module: ModuleType, right: str, wrong: str) -> Iterator[None]:
    """A module with one line of it changed, and whoever imports its functions by name served with the changed ones."""
    source = Path(str(module.__file__)).read_text(encoding="utf-8")
    assert right in source, f"the line to be changed is no longer in {module.__name__}: {right}"
    kept = {one: dict(vars(one)) for one in _AFFECTED}
    try:
        exec(compile(source.replace(right, wrong), str(module.__file__), "exec"), vars(module))
        for one in _AFFECTED[_AFFECTED.index(module) + 1 :]:
            for name, value in vars(one).copy().items():
                if getattr(value, "__module__", None) == module.__name__ and name in vars(module):
                    setattr(one, name, vars(module)[name])
        yield
    finally:
        for one, names in kept.items():
            vars(one).clear()
            vars(one).update(names)


@pytest.mark.parametrize(("what", "module", "right", "wrong"), MISTAKES, ids=[one[0] for one in MISTAKES])
def test_a_mistake_in_one_rule_is_found(
    made_once: TestShop, place: Path, what: str, module: ModuleType, right: str, wrong: str
) -> None:
    with planted(module, right, wrong):
        for seed in range(SEEDS):
            try:
                run(made_once, place, seed)
            except (AssertionError, StoreError, TypeError, KeyError):
                return
    pytest.fail(f"{SEEDS} runs did not notice: {what}")
