"""Floor copies: whole or not at all, only what is released, and mended after a kill at every step."""

from __future__ import annotations

import errno
import itertools
import json
import os
import signal
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from shops import TestShop, approve, confirm, release, submit

from verifier import floor, records
from verifier.floor import publishing
from verifier.source import ActRefused, read_source
from verifier.syntax import check_code, parse

STEPS = (
    "locked",
    "created",
    "half written",
    "written",
    "synced",
    "checked",
    "renamed",
    "folder synced",
    "manifest created",
    "manifest half written",
    "manifest written",
    "manifest synced",
    "manifest checked",
    "manifest renamed",
    "manifest folder synced",
    "recorded",
)

_numbers = itertools.count()


def new_id() -> str:
    return f"t{next(_numbers)}"


def folder(t: TestShop, machine: str = "L1") -> Path:
    return t.shop.folder / "machines" / machine


def publish(t: TestShop, step: Callable[[str], None] = lambda name: None) -> tuple[floor.JobResult, ...]:
    return floor.publish_pending(t.shop, new_id, step)


def released(t: TestShop, body: bytes, base: bytes | None = None, **changes: object) -> records.RevisionFacts:
    revision = submit(t, body, base, **changes)
    if revision.state == "held":
        revision = approve(t, revision)
    release(t, revision)
    return revision


def at_machine(t: TestShop, machine: str = "L1") -> list[bool]:
    return [one.at_machine for one in records.at_machine(t.shop, machine)]


def manifest(t: TestShop, machine: str = "L1") -> dict[str, object]:
    content = (t.shop.folder / "machines" / f"{machine}.manifest" / "manifest.json").read_bytes()
    return dict(json.loads(content))


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

    def recall_now(step: str) -> None:
        if step == "checked":
            records.recall(t.shop, t.cid, revision.id, "stop")

    first = publish(t, recall_now)
    assert [r.state for r in first] == ["overtaken"]
    assert os.listdir(folder(t)) == []
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


def kill_at(t: TestShop, wanted: str) -> int:
    """Publish in a child that kills itself at a step; gives how it ended."""
    child = os.fork()
    if child == 0:
        try:
            publish(t, lambda step: os.kill(os.getpid(), signal.SIGKILL) if step == wanted else None)
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def check_after_kill(t: TestShop, new: bytes, old: bytes) -> None:
    """At any moment the final name holds one whole release, and what is called `at the machine` really is."""
    content = (folder(t) / "O1000.NC").read_bytes()
    assert content in (old, new)
    if at_machine(t) == [True]:
        assert content == new
        assert any(f["sha256"] == sha256(new).hexdigest() for f in manifest(t)["files"])  # type: ignore[attr-defined]


@pytest.mark.parametrize("step", STEPS)
def test_a_kill_at_any_step_is_mended_by_running_again(t: TestShop, step: str) -> None:
    old, new = b"O" * 999, b"N" * 1001
    released(t, old)
    publish(t)
    released(t, new, old)
    assert kill_at(t, step) == -signal.SIGKILL
    check_after_kill(t, new, old)
    publish(t)
    check_after_kill(t, new, old)
    assert (folder(t) / "O1000.NC").read_bytes() == new and at_machine(t) == [True]
    assert os.listdir(folder(t)) == ["O1000.NC"]
    assert sorted(os.listdir(folder(t).with_name("L1.manifest"))) == ["lock", "manifest.json"]
    assert floor.check_floor(t.shop) == ()
    assert records.verify_ledger(t.shop.folder).ok


@pytest.mark.parametrize("step", ["locked", "removed", "folder synced", "manifest renamed"])
def test_a_kill_while_a_file_is_taken_away_is_mended_by_running_again(t: TestShop, step: str) -> None:
    revision = released(t, b"A")
    publish(t)
    records.recall(t.shop, t.cid, revision.id, "bad")
    assert kill_at(t, step) == -signal.SIGKILL
    publish(t)
    assert os.listdir(folder(t)) == [] and floor.check_floor(t.shop) == ()


def test_the_kill_harness_notices_a_write_that_is_not_whole(t: TestShop, monkeypatch: pytest.MonkeyPatch) -> None:
    def in_place(path: Path, content: bytes, token: str, wanted: object, step: Callable[[str], None]) -> bool:
        with path.open("wb") as file:
            file.write(content[: len(content) // 2])
            file.flush()
            step("half written")
            file.write(content[len(content) // 2 :])
        return True

    released(t, b"O" * 999)
    publish(t)
    monkeypatch.setattr(publishing, "write_whole", in_place)
    released(t, b"N" * 1001, b"O" * 999)
    assert kill_at(t, "half written") == -signal.SIGKILL
    with pytest.raises(AssertionError):
        check_after_kill(t, b"N" * 1001, b"O" * 999)


def test_a_token_that_could_leave_the_folder_is_refused(t: TestShop) -> None:
    released(t, b"A")
    with pytest.raises(ValueError, match="file name"):
        floor.publish_pending(t.shop, lambda: "../x")


def test_two_publishers_at_once_write_each_file_once(t: TestShop) -> None:
    for n in range(6):
        released(t, b"A%d" % n, program=f"O{n + 1}")
    children = []
    for who in range(3):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                floor.publish_pending(t.shop, lambda who=who: f"c{who}{next(_numbers)}")  # type: ignore[misc]
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0, 0]
    acts = [entry.act for entry in records.whole_history(t.shop)]
    assert acts.count("written to machine") == 6
    assert floor.check_floor(t.shop) == () and records.verify_ledger(t.shop.folder).ok


def test_a_finished_job_must_name_the_digest_that_was_ordered(t: TestShop) -> None:
    released(t, b"A")
    (job,) = records.pending_jobs(t.shop)
    with pytest.raises(ActRefused, match="not the one"):
        records.finish_job(t.shop, job.id, "0" * 64)
    with pytest.raises(ActRefused, match="not yet at"):
        confirm(t, records.find_revision(t.shop, "O1000", "L1", 1))


def calls_of(t: TestShop, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Publish, and give the order in which the system was asked to write, sync and rename under the file's names."""
    log: list[str] = []
    real = {name: getattr(os, name) for name in ("open", "write", "fsync", "replace", "close")}
    names: dict[int, str] = {}

    def opened(path: object, flags: int, mode: int = 0o777, **more: object) -> int:
        descriptor = int(real["open"](path, flags, mode, **more))
        names[descriptor] = os.path.basename(os.fspath(path))  # type: ignore[call-overload]
        return descriptor

    def note(what: str, descriptor: int, *rest: object) -> object:
        log.append(f"{what} {names.get(descriptor, '?').split('-')[0]}")
        return real[what](descriptor, *rest)

    def replaced(source: object, target: object) -> None:
        log.append(f"replace {os.path.basename(os.fspath(target))}")  # type: ignore[call-overload]
        real["replace"](source, target)

    monkeypatch.setattr(os, "open", opened)
    monkeypatch.setattr(os, "write", lambda *a: note("write", *a))
    monkeypatch.setattr(os, "fsync", lambda *a: note("fsync", *a))
    monkeypatch.setattr(os, "replace", replaced)
    try:
        publish(t, lambda step: log.append(step) if step == "recorded" else None)
    finally:
        monkeypatch.undo()
    return log


IN_ORDER = [
    "write .unfinished",
    "write .unfinished",
    "fsync .unfinished",
    "replace O1000.NC",
    "fsync L1",
    "write .unfinished",
    "write .unfinished",
    "fsync .unfinished",
    "replace manifest.json",
    "fsync L1.manifest",
    "recorded",
]


def test_bytes_are_on_disk_before_the_name_and_the_name_before_the_record(
    t: TestShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a power cut leaves follows from this order: nothing under the final name that was not forced to disk first."""
    released(t, b"A" * 100)
    assert calls_of(t, monkeypatch) == IN_ORDER


def test_the_order_check_notices_a_sync_left_out(t: TestShop, monkeypatch: pytest.MonkeyPatch) -> None:
    from verifier.floor import folder as module

    released(t, b"A" * 100)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "sync_folder", lambda place: None)
        patch.setattr(publishing, "sync_folder", lambda place: None)
        assert calls_of(t, monkeypatch) != IN_ORDER


@pytest.mark.parametrize("where", ["write", "fsync", "replace"])
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_a_failing_disk_leaves_the_old_file_and_a_pending_job(
    t: TestShop, monkeypatch: pytest.MonkeyPatch, where: str, code: int
) -> None:
    released(t, b"old")
    publish(t)
    released(t, b"new", b"old")
    fired: list[int] = []

    def fail(*arguments: object) -> None:
        fired.append(1)
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patch:
        patch.setattr(os, where, fail)
        (result,) = publish(t)
    assert fired and result.state == "pending" and os.strerror(code) in str(result.trouble)
    assert (folder(t) / "O1000.NC").read_bytes() == b"old"
    assert os.listdir(folder(t)) == ["O1000.NC"] and at_machine(t) == [False]
    assert [r.state for r in publish(t)] == ["done"]


def test_records_older_than_the_folder_write_nothing_into_it(t: TestShop, tmp_path: Path) -> None:
    released(t, b"A")
    publish(t)
    records.backup_shop(t.shop, tmp_path / "copy.db")
    released(t, b"B", b"A")
    publish(t)
    for name in ("shop.db", "shop.db-wal", "shop.db-shm"):
        t.shop.close_thread()
        (t.shop.folder / name).unlink(missing_ok=True)
    records.restore_shop(tmp_path / "copy.db", t.shop.folder)
    kinds = {drift.kind for drift in floor.check_floor(t.shop)}
    assert kinds == {"edited", "not these records' manifest"}
    assert records.find_revision(t.shop, "O1000", "L1", 1).state == "released"
    release(t, approve(t, submit(t, b"C", b"A", sign_off_required=True)))
    (result,) = publish(t)
    assert result.state == "pending" and "not this one: an old copy?" in str(result.trouble)
    assert (folder(t) / "O1000.NC").read_bytes() == b"B"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{}",
        b"[" * 100_000,
        b'{"schema":"machine-manifest/1","shop":"shop-1","ledger":{"size":9,"head":"x"}}',
        b"\xff",
    ],
)
def test_a_manifest_that_is_not_ours_stops_publishing_until_it_is_settled(t: TestShop, content: bytes) -> None:
    path = folder(t).with_name("L1.manifest") / "manifest.json"
    path.parent.mkdir()
    path.write_bytes(content)
    released(t, b"A")
    (result,) = publish(t)
    assert result.state == "pending" and "manifest" in str(result.trouble)
    path.unlink()
    assert [r.state for r in publish(t)] == ["done"]


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
