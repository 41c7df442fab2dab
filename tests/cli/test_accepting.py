"""A standing hazard accepted on a local shop by commands: listed by name, accepted once, counted in one line, withdrawn."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from standing_walk import EDITED, FURTHER, RULE, TWO

from tests.cli.conftest import Run, act, newest, release, report_of, seen_as, ticks
from verifier import records

WHY = "short bar, held in a collet"


def hand_in(run: Run, shop: Path, folder: Path, text: str) -> str:
    """Submit the text as the drive shaft's program; gives what was printed."""
    file = folder / "a.nc"
    file.write_text(text.replace("O0042", "O2101"), encoding="ascii")
    done = act(run, shop, "submit", "pia", file, "--reason", "because")
    assert done.exit_code in (0, 1), done.stderr
    return done.stdout


def approved(run: Run, shop: Path, told: str) -> None:
    """What was handed in last, approved where it waits and released."""
    if newest(shop).state == "held":
        words = ("--verdict", "approve", "--reason", "looked", "--report", report_of(shop), *seen_as(ticks(told)))
        assert act(run, shop, "decide", "leo", *words).exit_code == 0
    assert release(run, shop).exit_code == 0


def listed(run: Run, shop: Path) -> dict[str, Any]:
    done = run("standing", "--shop", shop, "--for", "north-lathe", "O2101", "--as", "json")
    assert done.exit_code == 0, done.stderr
    return dict(json.loads(done.stdout))


def test_a_hazard_is_accepted_counted_and_told_again(run: Run, shop: Path, tmp_path: Path) -> None:
    approved(run, shop, hand_in(run, shop, tmp_path, TWO))
    hand_in(run, shop, tmp_path, EDITED)
    rows = [row for row in listed(run, shop)["standing"] if row["rule"] == RULE]
    key = rows[0]["key"]
    assert rows[0]["state"] == "may be accepted"
    said = ("--hazard", key[:8], "--reason", WHY, "--report", report_of(shop)[:8])
    assert act(run, shop, "accept", "leo", *said, pin="000000").exit_code == 2
    assert act(run, shop, "accept", "leo", "--hazard", key, "--reason", WHY, "--report", "0" * 64).exit_code == 2
    done = act(run, shop, "accept", "leo", *said)
    assert done.exit_code == 0 and done.stdout.startswith("acceptance 1: ") and key in done.stdout
    assert act(run, shop, "accept", "leo", *said).exit_code == 2, "once"
    told = hand_in(run, shop, tmp_path, FURTHER)
    assert "1 standing hazard accepted earlier" in told
    assert act(run, shop, "withdraw-acceptance", "leo", "--number", 1, "--reason", "longer bar").exit_code == 0
    assert "withdrawn by" in run("standing", "--shop", shop, "--for", "north-lathe", "O2101").stdout
    if newest(shop).state == "held":
        late = ("--verdict", "approve", "--reason", "looked", "--report", report_of(shop))
        assert act(run, shop, "decide", "leo", *late).exit_code == 2
        again = act(run, shop, "check-again", "leo")
        assert again.exit_code == 0 and "accepted earlier" not in again.stdout
    assert records.verify_ledger(shop).ok
