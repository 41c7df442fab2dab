"""Bad input is refused with exit code 2 and a clear message, and nothing is stored."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest

from tests.cli.conftest import SHOP, Run, program, submit
from verifier import records

GOOD = (
    b"%\nO1\nN1 G00 G21 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X50. Z2.\nG01 Z-20. F0.2\nG00 X100. Z50.\nM05\nM30\n%\n"
)


def _archive() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("o1.nc", GOOD)
    return held.getvalue()


def _even_parity(text: bytes) -> bytes:
    return bytes(byte | (0x80 if bin(byte).count("1") % 2 else 0) for byte in text * 4)


REFUSED = {
    "empty": (b"", "empty"),
    "nothing but tape ends": (b"%\n%\n", "empty"),
    "binary": (bytes(range(256)) * 8, ""),
    "archive": (_archive(), "archive"),
    "utf-16": (GOOD.decode().encode("utf-16"), "utf-16"),
    "tape parity": (_even_parity(GOOD), "tape-parity"),
    "a line of 100,000 characters": (b"O1\nG01 X1." + b"0" * 100_000 + b"\nM30\n", "line-too-long"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_refused_program_ends_with_2_and_says_where(name: str, run: Run, tmp_path: Path) -> None:
    data, code = REFUSED[name]
    bad, good = tmp_path / "bad.nc", tmp_path / "good.nc"
    bad.write_bytes(data)
    good.write_bytes(GOOD)
    told = run("compare", good, bad)
    assert told.exit_code == 2 and f"refused ({code}" in told.stderr and "line" in told.stderr
    spoken = json.loads(run("check", bad, "--as", "json").stdout)
    assert spoken["schema"] == "error/1"
    assert all({"code", "line", "column", "message"} <= problem.keys() for problem in spoken["problems"])


def test_a_program_beyond_the_size_limit_is_refused(run: Run, tmp_path: Path) -> None:
    big = tmp_path / "big.nc"
    with big.open("wb") as file:
        for _ in range(70):
            file.write(b"G01 X10.000 Z-5.\n" * (1 << 16))
    told = run("check", big)
    assert told.exit_code == 2 and "too-large" in told.stderr


@pytest.mark.parametrize("what", ["absent", "folder"])
def test_a_file_that_is_none_is_refused(what: str, run: Run, tmp_path: Path) -> None:
    told = run("check", tmp_path / "absent.nc" if what == "absent" else tmp_path)
    assert told.exit_code == 2 and told.stderr.strip()


@pytest.mark.parametrize("where", ["no/such/folder/report.txt", ".", "file/report.txt"])
def test_a_report_that_cannot_be_written_is_refused(where: str, run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    told = run("check", program("base.nc"), "--out", tmp_path / where)
    assert told.exit_code == 2 and "cannot write" in told.stderr


def test_every_mistake_of_a_profile_is_told_in_one_run(run: Run, tmp_path: Path) -> None:
    text = (SHOP / "machines" / "dock-lathe.toml").read_text()
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace("turret = ", "turet = ", 1) + "\n[choices2]\nx = 1\n")
    told = run("check", program("base.nc"), "--machine", bad)
    assert told.exit_code == 2 and "turet" in told.stderr and "choices2" in told.stderr


def test_a_policy_that_weighs_an_unknown_rule_is_refused(run: Run, tmp_path: Path) -> None:
    policy = tmp_path / "policy.toml"
    policy.write_text('name = "p"\nversion = 1\n[weights]\nfeed-chnged = "minor"\n')
    told = run("check", program("base.nc"), "--policy", policy)
    assert told.exit_code == 2 and "feed-chnged" in told.stderr


@pytest.mark.parametrize("name", ["../O1", "/etc/O1", "CON", "com1", "O0", "a b", "", "O123456789012"])
def test_a_name_that_is_no_program_name_is_refused(name: str, run: Run, shop: Path) -> None:
    told = run(
        "submit", "--shop", shop, "--by", "pia", "--for", "north-lathe", "--reason", "r", "--", name, program("base.nc")
    )
    assert told.exit_code == 2 and told.stderr.strip()


@pytest.mark.parametrize("name", ["empty", "archive", "utf-16"])
def test_a_refused_submission_leaves_nothing_behind(name: str, run: Run, shop: Path, tmp_path: Path) -> None:
    before = records.verify_ledger(shop)
    bad = tmp_path / "bad.nc"
    bad.write_bytes(REFUSED[name][0])
    assert submit(run, shop, bad).exit_code == 2
    after = records.verify_ledger(shop)
    assert (after.entries, after.bodies, after.head) == (before.entries, before.bodies, before.head)
