"""New critical findings are named one by one where a revision is let go to a machine, on the command line too."""

from __future__ import annotations

import json
from pathlib import Path

from tests.cli.conftest import Run, decide, newest, program, seen_as, state_of, submit, ticks
from verifier import records
from verifier.report import to_be_seen

CRITICAL, CHANGED = "decimal-point-lost.nc", "seal-groove-0.3-smaller.nc"
TRIAL = ("--machine", "north-lathe", "--days", 2)


def test_the_report_names_what_the_decision_asks_for(run: Run, shop: Path) -> None:
    names = ticks(submit(run, shop, program(CRITICAL)).stdout)
    with records.open_shop(shop, lambda: 1) as opened:
        (stored,) = records.reports(opened, newest(shop).id)
        wanted = records.wanted_ticks(opened, newest(shop).id)
    assert names == [one.name for one in wanted] == [one.name for one in to_be_seen(json.loads(stored.json))]
    assert len(names) == sum(
        f["weight"] == "critical" and f["status"] in ("change", "new") for f in json.loads(stored.json)["findings"]
    )
    assert names and "NEW AND CRITICAL" not in submit(run, shop, program(CHANGED)).stdout


def test_none_may_be_missing_and_none_may_be_strange(run: Run, shop: Path) -> None:
    names = ticks(submit(run, shop, program(CRITICAL)).stdout)
    for words in ((), seen_as(names[1:]), seen_as([*names, "00000000"])):
        for verdict, more in (("approve", ()), ("prove-out", TRIAL)):
            told = decide(run, shop, verdict=verdict, words=(*words, *more))
            assert told.exit_code == 2 and state_of(shop, 2) == "held", told.output
            assert "00000000" in words or names[0] in told.stderr, "what is missing is named"
    assert decide(run, shop, verdict="prove-out", words=(*seen_as(names), *TRIAL)).exit_code == 0
    with records.open_shop(shop, lambda: 1) as opened:
        acts = records.history(opened, "O2101", "north-lathe")
    noted = next(json.loads(entry.body) for entry in acts if entry.act == "let out for prove-out")
    assert [line.split(" ")[1] for line in noted["critical_read"]] == names


def test_turning_back_needs_no_tick(run: Run, shop: Path) -> None:
    submit(run, shop, program(CRITICAL))
    assert decide(run, shop, verdict="turn back").exit_code == 0
