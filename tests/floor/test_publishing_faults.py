"""Floor copies under kills, failing disks, lost syncs and old records: mended by running again, never half a file."""

from __future__ import annotations

import errno
import os
import signal
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from floors import NUMBERS, STEPS, at_machine, folder, manifest, publish, released
from shops import TestShop, approve, release, submit

from verifier import floor, records
from verifier.floor import publishing
from verifier.records.database import sqlite3 as driver


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


def test_two_publishers_at_once_write_each_file_once(t: TestShop) -> None:
    for n in range(6):
        released(t, b"A%d" % n, program=f"O{n + 1}")
    children = []
    for who in range(3):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                floor.publish_pending(t.shop, lambda who=who: f"c{who}{next(NUMBERS)}")  # type: ignore[misc]
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0, 0]
    acts = [entry.act for entry in records.whole_history(t.shop)]
    assert acts.count("written to machine") == 6
    assert floor.check_floor(t.shop) == () and records.verify_ledger(t.shop.folder).ok


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


def test_a_disk_that_stores_other_bytes_is_noticed_before_the_file_gets_its_name(
    t: TestShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    released(t, b"old")
    publish(t)
    released(t, b"new", b"old")
    write = os.write
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", lambda descriptor, part: write(descriptor, b"#" * len(part)))
        (result,) = publish(t)
    assert result.state == "pending" and "not stored as it was written" in str(result.trouble)
    assert (folder(t) / "O1000.NC").read_bytes() == b"old" and os.listdir(folder(t)) == ["O1000.NC"]


def test_a_file_changed_right_after_its_rename_is_not_called_written(t: TestShop) -> None:
    released(t, b"A")

    def disturb(step: str) -> None:
        if step == "renamed":
            (folder(t) / "O1000.NC").write_bytes(b"B")

    (result,) = publish(t, disturb)
    assert result.state == "pending" and "does not read back" in str(result.trouble)
    assert at_machine(t) == [False]


def test_damaged_bytes_in_the_records_never_reach_a_machine(t: TestShop) -> None:
    revision = released(t, b"A")
    conn = driver.connect(str(t.shop.folder / "shop.db"), isolation_level=None)
    ((guard,),) = conn.execute("SELECT sql FROM sqlite_schema WHERE name='body_fixed'").fetchall()
    conn.execute("DROP TRIGGER body_fixed")
    conn.execute("UPDATE body SET bytes=x'42' WHERE sha=?", (revision.sha,))
    conn.execute(guard)
    conn.close()
    (result,) = publish(t)
    assert result.state == "pending" and "damaged" in str(result.trouble)
    assert os.listdir(folder(t)) == []
