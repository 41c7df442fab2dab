"""The service killed under work, on a small scale; `python -m tests.benchmarks.kill_service 100` is the long campaign."""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hands import now_us
from kills import Counts, Told, campaign, faults_at_the_end, faults_when_dead

from verifier import records

pytestmark = pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs process groups and /proc")


@pytest.fixture(scope="module")
def ran(made_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Counts]:
    folder = tmp_path_factory.mktemp("killed") / "shop"
    return folder, campaign(made_shop, folder, kills=3, workers=1)


def test_no_act_is_lost_or_doubled_and_no_file_is_without_a_record(ran: tuple[Path, Counts]) -> None:
    _, counts = ran
    assert counts.faults == [], "\n".join(counts.lines())
    acts = [act for _, act in counts.told.done]
    assert {"submitted", "approved", "released"} == set(acts) and len(acts) >= 15
    print("\n".join(counts.lines()), file=sys.stderr)


def test_the_check_itself_finds_what_it_looks_for(ran: tuple[Path, Counts], tmp_path: Path) -> None:
    made, counts = ran
    folder = tmp_path / "copy"
    shutil.copytree(made, folder)
    told = counts.told
    assert faults_at_the_end(folder, told) == []
    lost_one = replace(told, done=[*told.done, ("O77", "released")])
    assert any("acknowledged and stands 0 times" in fault for fault in faults_at_the_end(folder, lost_one))
    unasked = Told(done=told.done[1:], lost=told.lost)
    assert any("never acknowledged" in fault for fault in faults_at_the_end(folder, unasked))
    name = next(name for name, act in told.done if act == "released")
    with records.open_shop(folder, now_us) as shop:
        lead = records.find_person(shop, "leo").id
        path = folder / "floor" / "L1" / f"{name}.NC"
        half = path.read_bytes()[: path.stat().st_size // 2]
        path.write_bytes(half)
        assert any("no revision's content" in fault for fault in faults_when_dead(folder))
        path.unlink()
        assert any("not at the machine" in fault for fault in faults_at_the_end(folder, told))
        records.recall(shop, lead, records.revisions(shop, name, "L1")[0].id, "by itself")
        assert any("recalled stands 1 times" in fault for fault in faults_at_the_end(folder, told))
    (folder / "floor" / "L1" / "O99999.NC").write_bytes(b"%\n")
    assert any("without a release" in fault for fault in faults_when_dead(folder))
