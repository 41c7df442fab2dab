"""Machine folders, drift, recall, altered records and copies of a local shop, by commands."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.cli.conftest import (
    Run,
    act,
    bytes_of,
    floor,
    program,
    release,
    state_of,
    submit,
)
from verifier import records
from verifier.desk import Desk, server_key

SAME, CHANGED, CRITICAL = "renumbered-respaced.nc", "seal-groove-0.3-smaller.nc", "decimal-point-lost.nc"


def _block_folder(shop: Path) -> None:
    """Put a file where the machine's folder was."""
    place = floor(shop).parent
    floor(shop).unlink()
    place.rmdir()
    place.write_text("in the way")


def test_a_folder_that_cannot_be_written_leaves_the_job_and_says_why(run: Run, shop: Path) -> None:
    _block_folder(shop)
    submit(run, shop, program(SAME))
    told = release(run, shop)
    assert told.exit_code == 1 and "not yet at the machine (the machine's folder is not there)" in told.stdout
    assert state_of(shop, 2) == "released"
    told = act(run, shop, "confirm", "otto", "--code", "AAAAAAAA", "--word", "X1.", "--word", "X2.")
    assert told.exit_code == 2 and "not yet at" in told.stderr
    again = run("shop", "check", "--shop", shop)
    assert again.exit_code == 1 and "pending" in again.stdout and "folder" in again.stdout
    place = floor(shop).parent
    place.unlink()
    place.mkdir()
    assert run("shop", "check", "--shop", shop).exit_code == 0
    assert floor(shop).read_bytes() == bytes_of(SAME)


def test_recall_takes_the_floor_copy_away(run: Run, shop: Path) -> None:
    told = act(run, shop, "recall", "leo", "--reason", "broken insert")
    assert told.exit_code == 0 and told.stdout.startswith("STOP: O2101 revision 1") and "north-lathe" in told.stdout
    assert not floor(shop).exists() and state_of(shop, 1) == "recalled"
    assert run("shop", "check", "--shop", shop).exit_code == 0
    assert release(run, shop).exit_code == 2 and not floor(shop).exists()


def test_an_edited_floor_copy_is_drift_and_is_never_written_over(run: Run, shop: Path) -> None:
    assert run("shop", "check", "--shop", shop).exit_code == 0
    edited = bytes_of("base.nc").replace(b"X35.", b"X36.", 1)
    floor(shop).write_bytes(edited)
    told = run("shop", "check", "--shop", shop)
    assert told.exit_code == 1 and "north-lathe O2101.NC: edited" in told.stdout
    submit(run, shop, program(SAME))
    held = release(run, shop)
    assert held.exit_code == 1 and "edited at the machine" in held.stdout
    assert floor(shop).read_bytes() == edited, "the edit is not lost"
    assert act(run, shop, "readback", "otto", floor(shop), "--revision", 1).exit_code == 1
    run("shop", "check", "--shop", shop)
    assert floor(shop).read_bytes() == bytes_of(SAME), "once it was read back, and so kept, the release is written"


@pytest.mark.parametrize("what", ["missing", "unknown file"])
def test_a_missing_or_a_strange_file_is_drift(what: str, run: Run, shop: Path) -> None:
    if what == "missing":
        floor(shop).unlink()
    else:
        (floor(shop).parent / "O9.NC").write_text("O9\nM30\n")
    told = run("shop", "check", "--shop", shop)
    assert told.exit_code == 1 and what in told.stdout
    if what == "missing":
        assert act(run, shop, "write-again", "leo", "--reason", "lost").exit_code == 0
        assert floor(shop).read_bytes() == bytes_of("base.nc")
        assert run("shop", "check", "--shop", shop).exit_code == 0


# -- the records -------------------------------------------------------------------------------------------------------

TAMPERED = {
    "a revision's digest": "UPDATE revision SET sha=(SELECT sha FROM body WHERE sha<>revision.sha LIMIT 1) WHERE n=1",
    "a stored program": "UPDATE body SET bytes=CAST(replace(CAST(bytes AS TEXT), 'X35.', 'X36.') AS BLOB)"
    " WHERE sha=(SELECT sha FROM revision WHERE n=1)",
    "who decided": "UPDATE decision SET full_name='Somebody Else'",
    "a person's role": "INSERT INTO role(person, role, held) VALUES(2, 'lead', 1)",
    "an entry of the ledger": "UPDATE ledger SET act='withdrawn' WHERE act='approved'",
    "an entry taken out": "DELETE FROM ledger WHERE act='approved'",
    "the last entry taken out": "DELETE FROM ledger WHERE seq=(SELECT max(seq) FROM ledger)",
}


@pytest.mark.parametrize("name", TAMPERED)
def test_a_tampered_record_is_found(name: str, run: Run, shop: Path, tmp_path: Path) -> None:
    point = tmp_path / "point.json"
    point.write_text(run("ledger", "checkpoint", "--shop", shop).stdout)
    assert run("ledger", "verify", "--shop", shop, "--checkpoint", point).exit_code == 0
    raw = sqlite3.connect(shop / "shop.db")
    kept = raw.execute("SELECT name, sql FROM sqlite_master WHERE type='trigger'").fetchall()
    for trigger, _ in kept:
        raw.execute(f'DROP TRIGGER "{trigger}"')
    assert raw.execute(TAMPERED[name]).rowcount >= 1
    for _, sql in kept:
        raw.execute(sql)
    raw.commit()
    raw.close()
    told = run("ledger", "verify", "--shop", shop, "--checkpoint", point)
    assert told.exit_code == 1 and " at " in told.stdout and "nothing altered" not in told.stdout


def test_a_copy_is_put_back_and_checked_against_its_checkpoint(run: Run, shop: Path, tmp_path: Path) -> None:
    copy, point, other = tmp_path / "copy.db", tmp_path / "point.json", tmp_path / "other"
    told = run("shop", "backup", "--shop", shop, copy)
    assert told.exit_code == 0
    point.write_text(told.stdout)
    with records.open_shop(shop, lambda: 1) as opened:
        (key,) = Desk(opened, str).keys_wanted()
    assert "server.key" in told.stderr and key in told.stderr and "server" not in told.stdout
    assert run("shop", "backup", "--shop", shop, copy).exit_code == 2, "a copy never replaces another"
    assert run("shop", "restore", copy, shop).exit_code == 2
    submit(run, shop, program(CHANGED))
    later = tmp_path / "later.json"
    later.write_text(run("ledger", "checkpoint", "--shop", shop).stdout)
    assert run("shop", "restore", copy, other, "--checkpoint", later).exit_code == 2 and not other.exists()
    other.mkdir()
    (other / "server.key").write_bytes((shop / "server.key").read_bytes())
    (other / "server.key").chmod(0o600)
    back = run("shop", "restore", copy, other, "--checkpoint", point)
    assert back.exit_code == 0 and "server" not in back.stderr
    with records.open_shop(other, lambda: 1) as opened:
        assert len(records.revisions(opened, "O2101", "north-lathe")) == 1


@pytest.mark.parametrize("there", ["no key", "another key"])
def test_records_put_back_without_their_server_key_are_told_of(
    there: str, run: Run, shop: Path, tmp_path: Path
) -> None:
    copy, other = tmp_path / "copy.db", tmp_path / "other"
    assert run("shop", "backup", "--shop", shop, copy).exit_code == 0
    if there == "another key":
        server_key_of(other)
    told = run("shop", "restore", copy, other)
    assert told.exit_code == 1 and "server key" in told.stderr and (other / "shop.db").is_file()
    assert (other / "server.key").exists() is (there == "another key"), "to look for a key makes none"


def server_key_of(folder: Path) -> None:
    """Another shop's key."""
    folder.mkdir()
    server_key(folder)
