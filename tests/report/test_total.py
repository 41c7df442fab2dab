"""The total change since the revision last proven at the machine: small steps add up, and thresholds hold for the sum."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.mutations import mutations
from tests.properties.render import text
from tests.properties.reviewing import lathe
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from tests.report.test_schema import VALID
from verifier.cli import main
from verifier.findings import Status
from verifier.report import review, to_html, to_json, to_text

PROVEN = "G21 G99 G40\nN1\nT0101\nG50 S2000\nG96 S150 M03\nG00 X50. Z2. M08\nG01 Z-20. F0.2\nG00 X100. Z100.\nM30\n"
STEPS = [PROVEN.replace("F0.2", feed).encode() for feed in ("F0.2", "F0.23", "F0.26")]


def test_two_steps_below_the_threshold_are_one_above_it() -> None:
    """15 % and 13 % more are minor each; together 30 % are major (the default threshold is 1.25, from the design)."""
    proven, base, new = STEPS
    alone = review(base, new, machine=lathe())
    assert not alone.sign_off.required and alone.total is None
    report = review(base, new, machine=lathe(), proven=proven)
    assert report.total is not None and report.total.verdict == "changed behaviour"
    assert report.sign_off.reasons == ("since the proven revision: feed-changed",)
    assert [(f.rule, str(f.weight)) for f in report.total.findings] == [("feed-changed", "major")]
    assert report.digest != alone.digest
    VALID.validate(json.loads(json.dumps(to_json(report))))
    for shown in (to_text(report), to_html(report)):
        assert "0.2 mm/rev to 0.26 mm/rev" in shown and "0.23 mm/rev to 0.26 mm/rev" in shown


def test_a_revision_that_goes_back_to_the_proven_one_says_so() -> None:
    proven, base, _ = STEPS
    report = review(base, proven, machine=lathe(), proven=proven)
    assert report.verdict == "changed behaviour"
    assert report.total is not None and report.total.verdict == "same behaviour" and report.total.findings == ()
    assert "same behaviour; no sign-off needed" in to_text(report)


def test_where_the_base_is_the_proven_one_there_is_no_other_total() -> None:
    proven, base, new = STEPS
    assert review(base, new, machine=lathe(), proven=base).total is None
    assert review(base, new, machine=lathe(), proven=base).digest == review(base, new, machine=lathe()).digest
    assert review(base, new, machine=lathe(), proven=proven).digest != review(base, new, machine=lathe()).digest


@few(6)
@given(jobs(), st.integers(0, 2**16), st.integers(0, 2**16))
def test_the_total_is_the_report_against_the_proven_one_and_lifts_no_need(job: Job, one: int, other: int) -> None:
    found = list(mutations(job))
    proven, base, new = text(job), text(found[one % len(found)][1]), text(found[other % len(found)][1])
    plain, whole = review(base, new, machine=lathe()), review(proven, new, machine=lathe())
    report = review(base, new, machine=lathe(), proven=proven)
    assert report.findings == plain.findings and report.verdict == plain.verdict
    if report.total is not None:
        assert report.total.digest == whole.digest and report.total.verdict == whole.verdict
        news = tuple(f for f in whole.findings if f.status in (Status.CHANGE, Status.NEW))
        assert report.total.findings == news
        assert report.sign_off.required == (plain.sign_off.required or whole.sign_off.required)
    assert {*plain.sign_off.reasons} <= {*report.sign_off.reasons}


def test_the_command_takes_the_proven_revision(tmp_path: Path) -> None:
    names = []
    for name, data in zip(("proven", "base", "new"), STEPS, strict=True):
        (tmp_path / f"{name}.nc").write_bytes(data)
        names.append(str(tmp_path / f"{name}.nc"))
    alone = CliRunner().invoke(main, ["compare", names[1], names[2]])
    assert alone.exit_code == 0
    done = CliRunner().invoke(main, ["compare", names[1], names[2], "--proven", names[0]])
    assert done.exit_code == 1 and "TOTAL CHANGE SINCE THE REVISION LAST PROVEN THERE" in done.output
