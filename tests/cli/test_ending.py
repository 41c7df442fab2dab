"""How commands end: output in any encoding, files written whole or not at all, errors of the system as messages."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tests.cli.conftest import GOOD, HEAD, ROOT, TAIL, Run, contents, error_object, program, really
from verifier.cli import main
from verifier.cli.ending import ending_well, write
from verifier.source import VerifierError

BASE, OTHER = program("base.nc"), program("seal-groove-0.3-smaller.nc")
WIDE = (HEAD + "(Ø 50 → € und １２)\nG01 X５０. F0.2\n" + TAIL).encode()


def test_a_report_can_be_printed_where_few_characters_can_be_written(tmp_path: Path) -> None:
    file = tmp_path / "wide.nc"
    file.write_bytes(WIDE)
    done = really("check", file, PYTHONIOENCODING="cp1252")
    assert (done.returncode, done.stderr) == (1, b"") and b"look-alike-character" in done.stdout


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "latin-1", "utf-8"])
@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_a_report_can_be_printed_on_a_terminal_of_any_encoding(form: str, encoding: str, tmp_path: Path) -> None:
    old, new = tmp_path / "plain.nc", tmp_path / "wide.nc"
    old.write_text(GOOD)
    new.write_bytes(WIDE)
    terminal = CliRunner(charset=encoding)
    done = terminal.invoke(main, ["compare", str(old), str(new), "--as", form], catch_exceptions=False)
    assert done.exit_code == 1
    shown = done.stdout_bytes.decode(encoding if form == "text" else "utf-8")
    assert ("\\uff15" if form == "text" and encoding != "utf-8" else "\uff15") in shown
    if form == "json":
        assert json.loads(shown)["verdict"] == "changed behaviour"


@pytest.mark.skipif(sys.platform == "win32", reason="file names are text there")
def test_a_file_name_that_is_no_text_comes_through(run: Run, tmp_path: Path) -> None:
    file = Path(os.fsdecode(os.fsencode(tmp_path) + b"/b\xff.nc"))
    file.write_text(GOOD)
    out = tmp_path / "report.json"
    done = really("check", file, "--as", "json")
    assert done.returncode == 0 and json.loads(done.stdout)["new"]["name"] == str(file)
    for form in ("text", "json", "html"):
        assert run("check", file, "--as", form).exit_code == 0
        assert run("check", file, "--as", form, "--out", out).exit_code == 0
        assert out.read_bytes().decode("utf-8")
    assert "absent" in error_object(run("check", str(file) + "absent", "--as", "json"))["problems"][0]["message"]


@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_out_holds_what_would_have_been_printed(form: str, run: Run, tmp_path: Path) -> None:
    out = tmp_path / "report"
    out.write_text("the one before")
    printed = run("compare", BASE, OTHER, "--as", form)
    written = run("compare", BASE, OTHER, "--as", form, "--out", out)
    assert written.stdout == "" and written.exit_code == printed.exit_code == 1
    assert out.read_bytes() == printed.stdout_bytes.rstrip(b"\n") + b"\n"
    assert [path.name for path in tmp_path.iterdir()] == ["report"]


@pytest.mark.parametrize("where", ["no/such/folder/report.txt", ".", "file/report.txt", "x" * 300])
def test_a_report_that_cannot_be_written_is_refused(where: str, run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    out = tmp_path / where
    for form in ("text", "json", "html"):
        told = run("check", BASE, "--out", out, "--as", form)
        assert told.exit_code == 2
        message = told.stderr if form != "json" else error_object(told)["problems"][0]["message"]
        assert f"cannot write {out}" in message
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.mark.parametrize("where", [".", "..", "/", ""])
def test_a_folder_without_a_name_is_refused_too(
    where: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    told = run("check", BASE, "--out", where)
    assert told.exit_code == 2 and "cannot write" in told.stderr and list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="a read-only folder stops nobody here")
def test_a_report_into_a_folder_without_the_right_to_write_is_refused(run: Run, tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    told = run("check", BASE, "--out", closed / "report.txt")
    assert told.exit_code == 2 and "cannot write" in told.stderr


def test_a_disk_that_is_full_leaves_the_report_before_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "report"
    out.write_text("the one before")

    def full(self: Path, content: bytes) -> int:
        with self.open("wb") as file:
            file.write(content[:3])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(VerifierError, match="No space left"):
        write("report", out)
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("report", "the one before")]


@pytest.mark.parametrize("which", ["old", "new", "new by another name"])
def test_a_report_never_replaces_a_program_that_was_read(which: str, run: Run, tmp_path: Path) -> None:
    old, new = tmp_path / "old.nc", tmp_path / "new.nc"
    old.write_text(GOOD)
    new.write_text(GOOD.replace("X50.", "X51."))
    (tmp_path / "sub").mkdir()
    out = {"old": old, "new": new}.get(which, tmp_path / "sub" / ".." / "new.nc")
    told = run("compare", old, new, "--out", out)
    assert told.exit_code == 2 and "one of the files" in told.stderr
    assert old.read_text() == GOOD and new.read_text() == GOOD.replace("X50.", "X51.")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_or_a_device_is_written_to_and_never_replaced(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write("report", pipe)
        assert os.read(reader, 100) == b"report\n"
    finally:
        os.close(reader)
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    link, kept = tmp_path / "link", tmp_path / "kept"
    kept.write_text("")
    link.symlink_to(kept)
    write("report", link)
    assert link.is_symlink() and kept.read_bytes() == b"report\n"


@pytest.mark.parametrize("error", [PermissionError(13, "Permission denied", "/x/y"), OSError("odd")])
def test_an_error_of_the_system_is_a_message_and_not_a_trace(error: OSError) -> None:
    @click.command()
    @ending_well
    def broken() -> None:
        raise error

    told = CliRunner().invoke(broken, [], catch_exceptions=False)
    assert told.exit_code == 2 and told.stderr.startswith("error: ") and "Traceback" not in told.stderr
    assert (error.strerror or "odd") in told.stderr


def test_output_that_nobody_reads_any_more_ends_quietly() -> None:
    command = [sys.executable, "-m", "verifier", "rules"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    told = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=30)
    assert b"Traceback" not in told


BROKEN = {
    "no checkpoint at all": "hello",
    "another kind of file": '{"a": 1}',
    "a list": "[1, 2]",
    "a size that is no number": '{"schema": "ledger-checkpoint/1", "shop": "x", "size": "two", "head": "y"}',
    "another version": '{"schema": "ledger-checkpoint/9", "shop": "x", "size": 2, "head": "y"}',
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_file_that_is_no_checkpoint_is_refused(name: str, run: Run, shop: Path, tmp_path: Path) -> None:
    file = tmp_path / "point.json"
    file.write_text(BROKEN[name])
    told = run("ledger", "verify", "--shop", shop, "--checkpoint", file)
    assert told.exit_code == 2 and "checkpoint" in told.stderr
    assert run("ledger", "verify", "--shop", shop, "--checkpoint", tmp_path / "absent").exit_code == 2


@pytest.mark.parametrize(
    ("content", "said"), [(b"\xff\xfe\xfd", "no text"), (b"123\n", "6 characters"), (b"111111\n", "tried first")]
)
def test_a_pin_that_cannot_be_adds_nobody(content: bytes, said: str, run: Run, shop: Path, tmp_path: Path) -> None:
    file = tmp_path / "pin"
    file.write_bytes(content)
    before = contents(shop)
    words = ("--full-name", "New Person", "--role", "operator", "--pin-file", file)
    told = run("shop", "person", "--shop", shop, "--by", "ada", "new", *words)
    assert told.exit_code == 2 and said in told.stderr
    assert contents(shop) == before
    fresh = tmp_path / "fresh"
    words = ("--name", "W", "--administrator", "ada", "--full-name", "A", "--pin-file", file)
    assert run("shop", "init", fresh, *words).exit_code == 2
    assert not fresh.exists()
    file.write_text("240613\n")
    assert run("shop", "init", fresh, *words).exit_code == 0


@pytest.mark.parametrize(
    "words",
    [
        ("shop", "init", "{file}/x", "--name", "W", "--administrator", "ada", "--full-name", "A"),
        ("demo", "--folder", "{file}/x"),
        ("shop", "restore", "{file}", "{file}/x"),
        ("shop", "restore", "{absent}", "{fresh}"),
        ("ledger", "verify", "--shop", "{absent}"),
        ("shop", "check", "--shop", "{file}"),
        ("history", "--shop", "{absent}", "--for", "m", "O1"),
        ("shop", "backup", "--shop", "{absent}", "{fresh}"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_folder_that_cannot_be_used_ends_with_a_message(words: tuple[str, ...], run: Run, tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("in the way")
    places = {"file": file, "absent": tmp_path / "absent", "fresh": tmp_path / "fresh"}
    told = run(*(word.format(**places) for word in words))
    assert told.exit_code == 2 and "error: " in told.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"] and file.read_text() == "in the way"
