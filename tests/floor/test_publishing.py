"""Floor copies: whole or not at all, and only what is released."""

from __future__ import annotations

import os
from hashlib import sha256

import pytest
from floors import STEPS, at_machine, folder, manifest, publish, released
from shops import TestShop, approve, confirm, submit

from verifier import floor, records
from verifier.source import ActRefused, read_source
from verifier.syntax import check_code, parse


def test_a_released_program_lies_in_the_folder_byte_for_byte_with_its_manifest(t: TestShop) -> None:
    body = b"%\r\nO1000\r\nG1 X1. \xe9\r\n%\r\n"
    released(t, body)
    assert at_machine(t) == [False]
    (result,) = publish(t)
    assert (result.state, result.file) == ("done", "O1000.NC")
    assert (folder(t) / "O1000.NC").read_bytes() == body
    assert os.listdir(folder(t)) == ["O1000.NC"]
    assert at_machine(t) == [True]
    (entry,) = manifest(t)["files"]  # type: ignore[misc]
    assert entry == {
        "file": "O1000.NC",
        "program": "O1000",
        "revision": 1,
        "sha256": sha256(body).hexdigest(),
        "size": len(body),
    }
    assert publish(t) == ()


def test_the_manifests_serial_rises_with_every_release(t: TestShop) -> None:
    released(t, b"A")
    publish(t)
    first = manifest(t)["serial"]
    released(t, b"B", b"A")
    publish(t)
    assert int(str(manifest(t)["serial"])) > int(str(first))
    assert (folder(t) / "O1000.NC").read_bytes() == b"B"


def test_a_group_gets_a_copy_in_each_folder_and_one_that_is_gone_stays_pending(t: TestShop) -> None:
    released(t, b"A", target="PAIR")
    folder(t, "L3").rmdir()
    results = {result.machine: result for result in publish(t)}
    assert results["L2"].state == "done" and results["L3"].state == "pending"
    assert results["L3"].trouble == "the machine's folder is not there"
    assert at_machine(t, "L2") == [True] and at_machine(t, "L3") == [False]
    assert records.at_machine(t.shop, "L3")[0].trouble == results["L3"].trouble
    assert not folder(t, "L3").exists()
    folder(t, "L3").mkdir()
    assert [result.state for result in publish(t)] == ["done"]
    assert records.at_machine(t.shop, "L3")[0].trouble is None


def test_the_same_trouble_is_recorded_once(t: TestShop) -> None:
    released(t, b"A")
    folder(t).rmdir()
    publish(t)
    before = len(records.whole_history(t.shop))
    publish(t)
    assert len(records.whole_history(t.shop)) == before


@pytest.mark.parametrize("what", ["a file in the folder's place", "a link in the folder's place", "no right to write"])
def test_a_folder_that_cannot_be_written_leaves_the_job_pending_with_the_reason(t: TestShop, what: str) -> None:
    released(t, b"A")
    if what == "no right to write":
        if os.geteuid() == 0:
            (folder(t) / "O1000.NC").mkdir()  # nothing else stops a superuser
        else:
            folder(t).chmod(0o500)
    else:
        folder(t).rmdir()
        if what.startswith("a file"):
            folder(t).write_bytes(b"")
        else:
            folder(t).symlink_to(t.shop.folder)
    (result,) = publish(t)
    assert result.state == "pending" and result.trouble
    assert at_machine(t) == [False]
    folder(t).is_dir() and folder(t).chmod(0o700)


def test_a_recall_takes_the_file_away_and_out_of_the_manifest(t: TestShop) -> None:
    revision = released(t, b"A")
    publish(t)
    records.recall(t.shop, t.cid, revision.id, "bad")
    (drift,) = floor.check_floor(t.shop)
    assert (drift.kind, drift.pending) == ("not yet taken away", True)
    assert [r.state for r in publish(t)] == ["done"]
    assert os.listdir(folder(t)) == [] and manifest(t)["files"] == []
    assert floor.check_floor(t.shop) == ()


def test_a_file_edited_at_the_machine_is_not_written_over_until_it_was_read_back(t: TestShop) -> None:
    first = released(t, b"A")
    publish(t)
    (folder(t) / "O1000.NC").write_bytes(b"A edited")
    released(t, b"B", b"A")
    (result,) = publish(t)
    assert result.state == "pending" and "read it back" in str(result.trouble)
    assert (folder(t) / "O1000.NC").read_bytes() == b"A edited"
    floor.take_readback(t.shop, t.dot, "L1", first.id, b"A edited")
    assert [r.state for r in publish(t)] == ["done"]
    assert (folder(t) / "O1000.NC").read_bytes() == b"B"


def test_a_recalled_file_that_was_edited_is_not_thrown_away_unread(t: TestShop) -> None:
    first = released(t, b"A")
    publish(t)
    (folder(t) / "O1000.NC").write_bytes(b"A edited")
    records.recall(t.shop, t.cid, first.id, "bad")
    assert [r.state for r in publish(t)] == ["pending"]
    assert (folder(t) / "O1000.NC").exists()


def test_a_file_that_a_share_takes_for_ours_is_not_joined_by_a_second(t: TestShop) -> None:
    (folder(t) / "o1000.nc").write_bytes(b"somebody's")
    released(t, b"A")
    (result,) = publish(t)
    assert result.state == "pending" and "o1000.nc" in str(result.trouble)


def test_a_link_under_the_files_name_is_never_followed(t: TestShop) -> None:
    outside = t.shop.folder / "outside"
    outside.write_bytes(b"precious")
    (folder(t) / "O1000.NC").symlink_to(outside)
    released(t, b"A")
    (result,) = publish(t)
    assert result.state == "pending" and outside.read_bytes() == b"precious"


def test_a_release_overtaken_at_the_last_moment_never_appears(t: TestShop) -> None:
    revision = released(t, b"A")

    steps: list[str] = []

    def recall_now(step: str) -> None:
        steps.append(step)
        if step == "checked":
            records.recall(t.shop, t.cid, revision.id, "stop")

    results = publish(t, recall_now)
    assert [(r.kind, r.state) for r in results] == [("write", "overtaken"), ("remove", "done")]
    assert "renamed" not in steps and os.listdir(folder(t)) == []
    publish(t)
    assert os.listdir(folder(t)) == [] and at_machine(t) == []


def test_no_act_waits_for_a_machine_whose_folder_stalls(t: TestShop) -> None:
    released(t, b"A")
    seen: list[str] = []

    def act_meanwhile(step: str) -> None:
        seen.append(step)
        if step != "recorded":
            submit(t, step.encode(), program=f"P{len(seen)}")

    publish(t, act_meanwhile)
    assert tuple(seen) == STEPS


def test_a_token_that_could_leave_the_folder_is_refused(t: TestShop) -> None:
    released(t, b"A")
    with pytest.raises(ValueError, match="file name"):
        floor.publish_pending(t.shop, lambda: "../x")


def test_a_finished_job_must_name_the_digest_that_was_ordered(t: TestShop) -> None:
    released(t, b"A")
    (job,) = records.pending_jobs(t.shop)
    with pytest.raises(ActRefused, match="not the one"):
        records.finish_job(t.shop, job.id, "0" * 64)
    with pytest.raises(ActRefused, match="not yet at"):
        confirm(t, records.find_revision(t.shop, "O1000", "L1", 1))


def test_a_real_program_goes_the_whole_way_by_its_own_check_code_and_words(t: TestShop) -> None:
    body = b"%\nO1000 (SHAFT)\nG50 S1800\nG96 S180 M03\nG00 X52. Z2.\nG01 Z-30.5 F0.2\nM30\n%\n"
    program = parse(read_source(body))
    code = check_code(program)
    words = [("line 3", "S1800"), ("line 6", "Z-30.5")]
    revision = approve(t, submit(t, body, check_code=code))
    records.release(t.shop, t.ann, revision.id, "go", records.reports(t.shop, revision.id), words)
    publish(t)
    typed = ("S1800", "Z-30.500")
    done = records.confirm_by_check_code(t.shop, t.dot, "L1", revision.id, code, typed, reauthenticated=True)
    assert done.strength == "weak"
    sent = body.replace(b"G01", b"G1").replace(b" (SHAFT)", b"").replace(b"\n", b"\r\n")
    back = floor.take_readback(t.shop, t.dot, "L1", revision.id, sent)
    strong = records.confirm_by_readback(t.shop, t.dot, "L1", revision.id, back.id, reauthenticated=True)
    assert (back.equal, strong.strength) == (True, "strong")


def test_a_lost_file_is_written_again_when_a_lead_says_so(t: TestShop) -> None:
    released(t, b"A")
    publish(t)
    (folder(t) / "O1000.NC").unlink()
    assert publish(t) == ()
    records.write_again(t.shop, t.cid, "O1000", "L1", "somebody deleted it")
    assert [r.state for r in publish(t)] == ["done"]
    assert floor.check_floor(t.shop) == ()


def test_a_recall_in_the_moment_of_the_rename_takes_the_file_away_in_the_same_run(t: TestShop) -> None:
    revision = released(t, b"A")

    def recall_now(step: str) -> None:
        if step == "renamed":
            records.recall(t.shop, t.cid, revision.id, "stop")

    results = publish(t, recall_now)
    assert [(r.kind, r.state) for r in results] == [("write", "overtaken"), ("remove", "done")]
    assert os.listdir(folder(t)) == [] and manifest(t)["files"] == []
