"""The ledger shows every kind of change made to the file by other means."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st
from shops import START, TestShop, at_machine, confirm, copy, make, publish, release, submit

from verifier import records
from verifier.records import ledger
from verifier.records.database import DriverError
from verifier.records.database import sqlite3 as driver
from verifier.source import StoreError


@pytest.fixture(scope="module")
def life(tmp_path_factory: pytest.TempPathFactory) -> TestShop:
    """A shop with some life in it, its file closed."""
    t = make(tmp_path_factory.mktemp("life") / "shop")
    first = at_machine(t, b"A")
    confirm(t, first)
    release(t, submit(t, b"B", b"A"))
    publish(t)
    records.record_readback(t.shop, t.dot, "L1", first.id, b"A edited", False, ["block 2"])
    t.shop.close_thread()
    return t


@pytest.fixture
def lived(life: TestShop, place: Path) -> Iterator[TestShop]:
    copied = copy(life, place / "shop")
    yield copied
    copied.shop.close_thread()


def by_hand(t: TestShop, *statements: str, drop: bool = True) -> None:
    """Change the file as somebody with a database tool would: guards off, references not watched."""
    conn = driver.connect(str(t.shop.folder / "shop.db"), isolation_level=None)
    conn.execute("PRAGMA synchronous=OFF")
    conn.execute("BEGIN")
    guards = conn.execute("SELECT name, sql FROM sqlite_schema WHERE type='trigger' ORDER BY name").fetchall()
    for name, _ in guards if drop else ():
        conn.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        conn.execute(statement)
    for _, sql in guards if drop else ():
        conn.execute(sql)
    conn.execute("COMMIT")
    conn.close()


def codes(t: TestShop, against: records.Checkpoint | None = None) -> set[str]:
    return {fault.code for fault in records.verify_ledger(t.shop.folder, against).faults}


def test_an_untouched_shop_is_in_order(lived: TestShop) -> None:
    result = records.verify_ledger(lived.shop.folder)
    assert result.ok and result.faults == ()
    assert result.entries == len(records.whole_history(lived.shop))
    assert result.head == records.checkpoint(lived.shop)


TAMPERED = [
    ("an entry's words", {"altered"}, "UPDATE ledger SET body=replace(body,'because','BECAUSE') WHERE act='submitted'"),
    ("an entry's person", {"altered"}, "UPDATE ledger SET person=5 WHERE seq=3"),
    ("an entry's act", {"altered"}, "UPDATE ledger SET act='withdrawn' WHERE act='released'"),
    ("an entry's time", {"altered"}, "UPDATE ledger SET at_us=at_us+1 WHERE seq=4"),
    ("an entry's hash", {"chain"}, "UPDATE ledger SET hash=randomblob(32) WHERE seq=4"),
    ("an entry taken out", {"gap", "chain"}, "DELETE FROM ledger WHERE seq=6"),
    ("the first entry taken out", {"gap", "chain"}, "DELETE FROM ledger WHERE seq=1"),
    ("the tail cut off", {"unrecorded"}, "DELETE FROM ledger WHERE seq>12"),
    ("an entry that is no act", {"act", "altered"}, "UPDATE ledger SET act='approved quickly' WHERE act='approved'"),
    ("an entry's body made unreadable", {"altered"}, "UPDATE ledger SET body='{' WHERE seq=5"),
    ("an entry's body spelled otherwise", {"altered"}, "UPDATE ledger SET body=replace(body,':',': ') WHERE seq=5"),
    ("a decision's verdict", {"changed"}, "UPDATE decision SET verdict='turn back'"),
    ("a decision's person", {"changed"}, "UPDATE decision SET lead=3"),
    ("a decision taken out", {"gone"}, "DELETE FROM decision"),
    ("a decision put in", {"unrecorded"},
     "INSERT INTO decision SELECT 99,2,2,verdict,lead,full_name,meaning,reason,digest_seen,bound,machine,days,at_us"
     " FROM decision"),
    ("a revision's state", {"changed"}, "UPDATE revision SET state='released' WHERE n=1"),
    ("a revision's author", {"changed"}, "UPDATE review SET author=4 WHERE id=1"),
    ("a person's role", {"changed"}, "UPDATE role SET role='lead' WHERE role='operator'"),
    ("a role put in", {"unrecorded"}, "INSERT INTO role VALUES(99,2,'lead',1)"),
    ("a machine's folder", {"changed"}, "UPDATE machine SET folder='elsewhere' WHERE id=1"),
    ("a stored program", {"damaged"}, "UPDATE body SET bytes=x'00' WHERE rowid=(SELECT max(rowid) FROM body)"),
    ("a stored program taken out", {"gone", "loose"}, "DELETE FROM body WHERE bytes=x'42'"),
    ("a report's verdict", {"changed"}, "UPDATE report SET verdict='same behaviour'"),
    ("a confirmation's strength", {"changed"}, "UPDATE confirmation SET strength='strong'"),
    ("a read-back's outcome", {"changed"}, "UPDATE readback SET equal=1"),
    ("a release taken out", {"gone"}, "DELETE FROM release WHERE id=2"),
    ("a job's outcome", {"changed"}, "UPDATE job SET state='pending'"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "expected", "statement"), TAMPERED, ids=[one[0] for one in TAMPERED])
def test_a_change_by_hand_shows(lived: TestShop, what: str, expected: set[str], statement: str) -> None:
    by_hand(lived, statement)
    assert expected <= codes(lived)


def test_every_fault_is_listed_and_not_only_the_first(lived: TestShop) -> None:
    by_hand(
        lived, "UPDATE decision SET reason='x'", "UPDATE revision SET state='retired'", "UPDATE job SET file='Y.NC'"
    )
    where = {fault.where.split()[0] for fault in records.verify_ledger(lived.shop.folder).faults}
    assert where == {"decision", "revision", "job"}


def test_a_missing_guard_shows_in_the_check_and_the_shop_does_not_open(lived: TestShop) -> None:
    by_hand(lived, "DROP TRIGGER decision_not_own", drop=False)
    assert "schema" in codes(lived)
    with pytest.raises(StoreError, match="decision_not_own is missing"):
        records.open_shop(lived.shop.folder, lived.clock)


def test_a_weakened_guard_is_noticed_at_opening(lived: TestShop) -> None:
    weak = "CREATE TRIGGER decision_not_own BEFORE INSERT ON decision BEGIN SELECT 1; END"
    by_hand(lived, "DROP TRIGGER decision_not_own", weak, drop=False)
    with pytest.raises(StoreError, match="not the one this program made"):
        records.open_shop(lived.shop.folder, lived.clock)


def test_guards_that_a_rebuilt_table_lost_are_noticed_at_opening(lived: TestShop) -> None:
    from sqlite_utils import Database

    conn = driver.connect(str(lived.shop.folder / "shop.db"), isolation_level=None)
    Database(conn)["ledger"].transform(rename={"act": "what"})  # type: ignore[union-attr]
    conn.close()
    with pytest.raises(StoreError, match="ledger_fixed is missing"):
        records.open_shop(lived.shop.folder, lived.clock)


GUARDED = [
    "UPDATE ledger SET at_us=at_us",
    "DELETE FROM ledger",
    "INSERT OR REPLACE INTO ledger SELECT * FROM ledger WHERE seq=2",
    "INSERT INTO ledger SELECT 99,at_us,person,act,subject,body,leaf,prev,hash FROM ledger WHERE seq=2",
    "DELETE FROM decision",
    "UPDATE decision SET verdict='approve'",
    "DELETE FROM revision",
    "UPDATE revision SET sha=sha, n=9 WHERE id=1",
    "UPDATE revision SET state='turned back' WHERE state='released'",
    "UPDATE review SET author=NULL",
    "DELETE FROM body",
    "UPDATE body SET bytes=x'00'",
    "UPDATE release SET revision=1 WHERE id=2",
    "UPDATE release SET ended_us=1, ended_because='recalled' WHERE ended_us IS NOT NULL",
    "UPDATE job SET state='pending' WHERE state='done'",
    "DELETE FROM confirmation",
    "UPDATE readback SET equal=1",
    "UPDATE person SET login='root' WHERE id=1",
    "INSERT INTO revision VALUES(99,1,9,(SELECT max(sha) FROM body WHERE bytes=x'41206564697465640'),'cleared','[]',1,1)"
    .replace("41206564697465640", "4120656469746564"),
]  # fmt: skip


@pytest.mark.parametrize("statement", GUARDED)
def test_a_guard_refuses_what_no_act_does(lived: TestShop, statement: str) -> None:
    with pytest.raises(DriverError), lived.shop.database.write():
        lived.shop.database.run(statement)
    assert records.verify_ledger(lived.shop.folder).ok


def test_an_old_copy_put_back_shows_only_against_a_checkpoint(lived: TestShop, tmp_path: Path) -> None:
    lived.shop.database.copy_to(tmp_path / "old.db")
    submit(lived, b"C", b"B", proven=b"A")
    point = records.checkpoint(lived.shop)
    lived.shop.close_thread()
    for name in ("shop.db-wal", "shop.db-shm"):
        (lived.shop.folder / name).unlink(missing_ok=True)
    shutil.copy(tmp_path / "old.db", lived.shop.folder / "shop.db")
    assert codes(lived) == set()
    assert codes(lived, point) == {"rolled back"}


def test_a_ledger_written_anew_with_right_hashes_shows_only_against_a_checkpoint(lived: TestShop) -> None:
    point = records.checkpoint(lived.shop)
    database = lived.shop.database
    rows = list(ledger.entries(database))
    prev, statements = ledger.ZERO, []
    for row in rows:
        act = "withdrawn" if row["act"] == "confirmed" else row["act"]
        leaf = ledger.leaf_of(row["seq"], row["at_us"], row["person"], act, row["subject"], row["body"])
        digest = ledger.link(prev, leaf)
        statements.append(
            f"UPDATE ledger SET act='{act}', leaf=x'{leaf.hex()}', prev=x'{prev.hex()}', hash=x'{digest.hex()}'"
            f" WHERE seq={row['seq']}"
        )
        prev = digest
    lived.shop.close_thread()
    by_hand(lived, *statements)
    assert codes(lived) == set()
    assert codes(lived, point) == {"rewritten"}


def test_a_checkpoint_of_another_shop_is_told(lived: TestShop) -> None:
    assert codes(lived, replace(records.checkpoint(lived.shop), shop="shop-2")) == {"another"}


def test_a_checkpoint_still_holds_after_more_acts(lived: TestShop) -> None:
    point = records.checkpoint(lived.shop)
    submit(lived, b"C", b"B", proven=b"A")
    assert codes(lived, point) == set()
    assert records.checkpoint_text(point) == (
        f'{{"head":"{point.head}","schema":"ledger-checkpoint/1","shop":"shop-1","size":{point.size}}}'
    )


def test_a_truncated_file_is_a_fault_or_cannot_be_opened_and_never_in_order(lived: TestShop) -> None:
    path = lived.shop.folder / "shop.db"
    lived.shop.database.value("PRAGMA wal_checkpoint(TRUNCATE)")
    lived.shop.close_thread()
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with contextlib.suppress(StoreError):
        assert not records.verify_ledger(lived.shop.folder).ok


def test_time_never_runs_backwards_and_the_gap_is_kept(t: TestShop) -> None:
    submit(t, b"A")
    before = records.whole_history(t.shop)[-1].at_us
    t.clock.now -= 3_600_000_000
    submit(t, b"B")
    entry = records.whole_history(t.shop)[-1]
    assert entry.at_us == before
    assert '"clock_behind_us":35999' in entry.body
    assert records.verify_ledger(t.shop.folder).ok
    assert before > START


def test_a_refused_act_leaves_no_trace_but_a_refused_confirmation_does(lived: TestShop) -> None:
    before = records.checkpoint(lived.shop)
    with pytest.raises(StoreError):
        submit(lived, b"C", b"wrong base")
    assert records.checkpoint(lived.shop) == before


words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
plain = st.one_of(st.none(), st.booleans(), st.integers(-(2**53) + 1, 2**53 - 1), words)
values = st.recursive(
    plain,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abcXYZ_09 ", max_size=6), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text("abcXYZ_09 ", max_size=6), values, max_size=5))
@settings(max_examples=200, deadline=None)
def test_entries_are_written_in_the_canonical_form_of_rfc_8785(body: dict[str, object]) -> None:
    assert ledger.canonical(body) == rfc8785.dumps(body)
    text = ledger.canonical(body).decode()
    entry = {"v": 1, "seq": 7, "at_us": START, "person": None, "act": 'x"\u2028', "subject": "é", "body": body}
    assert ledger.leaf_of(7, START, None, 'x"\u2028', "é", text) == sha256(b"\x00" + rfc8785.dumps(entry)).digest()


def test_an_entrys_hash_is_what_its_description_says(lived: TestShop) -> None:
    """Worked out from the RFC 8785 text by hand, not by the package's own helpers."""
    rows = lived.shop.database.rows("SELECT * FROM ledger ORDER BY seq LIMIT 2")
    prev = bytes(32)
    for row in rows:
        person = "null" if row["person"] is None else row["person"]
        text = (
            f'{{"act":"{row["act"]}","at_us":{row["at_us"]},"body":{row["body"]},"person":{person},'
            f'"seq":{row["seq"]},"subject":"{row["subject"]}","v":1}}'
        )
        leaf = sha256(b"\x00" + text.encode()).digest()
        assert row["leaf"] == leaf
        prev = sha256(b"\x02" + prev + leaf).digest()
        assert row["hash"] == prev


def only_bodies(database: object, written: dict[tuple[str, int | str], str]) -> list[object]:
    """Take every row's digest as seen, without looking at one."""
    for key in [key for key in written if key[0] != "body"]:
        del written[key]
    return []


@pytest.mark.parametrize("part", ["chain", "rows", "bodies"])
def test_the_check_would_miss_changes_without_each_of_its_parts(
    lived: TestShop, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each part of the check is needed: with it left out, a change that it alone shows goes unseen."""
    from verifier.records import verifying

    statement, left_out, instead = {
        "chain": ("UPDATE ledger SET subject='x' WHERE act='confirmed'", "chain_faults", lambda *a: []),
        "rows": ("UPDATE decision SET reason='x'", "_row_faults", only_bodies),
        "bodies": ("UPDATE body SET bytes=x'00' WHERE bytes=x'41'", "_body_faults", lambda *a: 0),
    }[part]
    by_hand(lived, statement)
    assert codes(lived) != set()
    where: object = verifying.ledger if part == "chain" else verifying
    checked: Callable[..., object] = instead
    monkeypatch.setattr(where, left_out, checked)
    assert codes(lived) == set()
