"""The watch names each thing at a machine that is not the release."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

from shops import TestShop, approve, release, submit

from verifier import floor, records

_numbers = itertools.count()


def folder(t: TestShop) -> Path:
    return t.shop.folder / "machines" / "L1"


def publish(t: TestShop) -> None:
    floor.publish_pending(t.shop, lambda: f"w{next(_numbers)}")


def brought(t: TestShop, body: bytes) -> records.RevisionFacts:
    revision = approve(t, submit(t, body))
    release(t, revision)
    publish(t)
    return revision


def kinds(t: TestShop) -> list[tuple[str, str, bool]]:
    return [(drift.file, drift.kind, drift.pending) for drift in floor.check_floor(t.shop)]


def test_a_folder_as_released_has_no_drift(t: TestShop) -> None:
    brought(t, b"A")
    assert kinds(t) == []


def test_a_file_that_is_gone_is_missing(t: TestShop) -> None:
    brought(t, b"A")
    (folder(t) / "O1000.NC").unlink()
    assert kinds(t) == [("O1000.NC", "missing", False)]


def test_a_file_with_other_content_is_edited_and_its_bytes_can_be_taken_in(t: TestShop) -> None:
    revision = brought(t, b"G1 X1.\n")
    (folder(t) / "O1000.NC").write_bytes(b"G1 X2.\n")
    (drift,) = floor.check_floor(t.shop)
    assert (drift.kind, drift.pending) == ("edited", False)
    sent = floor.found_bytes(t.shop, drift)
    assert sent == b"G1 X2.\n"
    back = floor.take_readback(t.shop, t.dot, "L1", revision.id, sent)
    assert records.body(t.shop, back.sha) == sent


def test_a_file_that_nobody_released_is_unknown(t: TestShop) -> None:
    (folder(t) / "O7.NC").write_bytes(b"x")
    assert kinds(t) == [("O7.NC", "unknown file", False)]


def test_what_is_no_file_is_named_and_not_followed(t: TestShop) -> None:
    brought(t, b"A")
    (folder(t) / "O1000.NC").unlink()
    (folder(t) / "O1000.NC").symlink_to(t.shop.folder / "shop.db")
    (folder(t) / "sub").mkdir()
    os.mkfifo(folder(t) / "pipe")
    assert [(f, k) for f, k, _ in kinds(t)] == [(n, "not a file") for n in ("O1000.NC", "pipe", "sub")]


def test_an_unfinished_file_of_a_broken_write_is_named_and_swept_by_the_next(t: TestShop) -> None:
    (folder(t) / ".unfinished-x").write_bytes(b"half")
    assert kinds(t) == [(".unfinished-x", "unfinished file", False)]
    brought(t, b"A")
    assert kinds(t) == []


def test_a_folder_that_is_gone_is_unreachable(t: TestShop) -> None:
    folder(t).rmdir()
    assert kinds(t) == [("", "folder unreachable", False)]


def test_a_release_still_to_be_written_is_told_apart_from_drift(t: TestShop) -> None:
    brought(t, b"A")
    release(t, submit(t, b"B", b"A"))
    assert kinds(t) == [("O1000.NC", "not yet at the machine", True)]
    (folder(t) / "O1000.NC").write_bytes(b"edited")
    assert kinds(t) == [("O1000.NC", "edited", True)]
    (folder(t) / "O1000.NC").unlink()
    assert kinds(t) == [("O1000.NC", "not yet at the machine", True)]


def test_a_lost_manifest_is_named(t: TestShop) -> None:
    brought(t, b"A")
    (folder(t).with_name("L1.manifest") / "manifest.json").unlink()
    assert kinds(t) == [("manifest.json", "manifest missing", False)]


def test_a_read_back_that_differs_is_drift_too(t: TestShop) -> None:
    revision = brought(t, b"G1 X1.\n")
    floor.take_readback(t.shop, t.dot, "L1", revision.id, b"G1 X1.5\n")
    assert kinds(t) == [("O1000", "read-back differs", False)]
    floor.take_readback(t.shop, t.dot, "L1", revision.id, b"G01X1.000\r\n")
    assert kinds(t) == []


def test_before_a_take_over_the_file_before_is_the_one_that_belongs_there(t: TestShop) -> None:
    records.add_machine(t.shop, t.admin, "L9", profile=b"x", folder="machines/L9", takeover=True)
    floor.make_folders(t.shop)
    first = approve(t, submit(t, b"A", target="L9"))
    release(t, first)
    assert kinds(t) == []
    records.take_over(t.shop, t.dot, "L9", first.id)
    publish(t)
    second = submit(t, b"B", b"A", target="L9")
    release(t, second)
    publish(t)
    assert kinds(t) == []
    assert (t.shop.folder / "machines" / "L9" / "O1000.NC").read_bytes() == b"A"
    records.take_over(t.shop, t.dot, "L9", second.id)
    publish(t)
    assert (t.shop.folder / "machines" / "L9" / "O1000.NC").read_bytes() == b"B"
