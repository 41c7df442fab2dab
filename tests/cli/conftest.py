"""What the command line's tests share: a runner, and a small shop with people, one machine and a released program."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from verifier import records
from verifier.cli import main
from verifier.cli.ending import EXIT_MISTAKE
from verifier.records import RevisionFacts

ROOT = Path(__file__).parents[2]
SHOP = ROOT / "fixtures" / "shop"
SHEET = SHOP / "setups" / "drive-shaft.toml"
PIN = "240613"
PEOPLE = {
    "pia": ("programmer",),
    "leo": ("lead",),
    "both": ("programmer", "lead"),
    "otto": ("operator",),
}

Run = Callable[..., Result]

HEAD = "O1 (SPACER)\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG50 S2000\nG96 S180 M03\nG00 X62. Z2. M08\n"
TAIL = "G00 X100. Z50.\nM09\nM05\nG97\nM30\n"
GOOD = HEAD + "G01 X50. F0.2\nZ-20.\n" + TAIL
"""A small program without a fault."""


def go(*words: object, given: bytes | None = None, pin: str | None = PIN) -> Result:
    """Run one command in this process; the PIN comes from the environment. A mistake of the program fails the test."""
    done = CliRunner(env={"VERIFIER_PIN": pin}).invoke(
        main, [str(word) for word in words], input=given, catch_exceptions=False
    )
    assert done.exit_code != EXIT_MISTAKE, done.output
    return done


def really(*words: object, given: bytes = b"", **env: str) -> subprocess.CompletedProcess[bytes]:
    """Run one command as a process of its own."""
    command = [sys.executable, "-m", "verifier", *(os.fspath(w) if isinstance(w, Path) else str(w) for w in words)]
    return subprocess.run(
        command, input=given, capture_output=True, cwd=ROOT, env={**os.environ, **env}, check=False, timeout=60
    )


@pytest.fixture
def run() -> Run:
    return go


def _ok(done: Result, code: int = 0) -> None:
    assert done.exit_code == code, done.output


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("once") / "shop"
    _ok(go("shop", "init", folder, "--name", "Works", "--administrator", "ada", "--full-name", "Administrator"))
    for login, roles in PEOPLE.items():
        words = [word for role in roles for word in ("--role", role)]
        _ok(go("shop", "person", "--shop", folder, "--by", "ada", login, "--full-name", f"Person {login}", *words))
    profile = SHOP / "machines" / "north-lathe.toml"
    _ok(go("shop", "machine", "--shop", folder, "--by", "ada", profile, "--folder", "floor/north"))
    _ok(submit(go, folder, program("base.nc")), 1)
    _ok(decide(go, folder))
    _ok(release(go, folder))
    return folder


@pytest.fixture
def shop(made_once: Path, tmp_path: Path) -> Path:
    """A shop with four people and the north lathe; the drive shaft's base is released there."""
    folder = tmp_path / "shop"
    shutil.copytree(made_once, folder)
    return folder


def program(name: str) -> Path:
    """A file of the drive shaft."""
    return SHOP / "programs" / "drive-shaft" / name


def floor(folder: Path) -> Path:
    """The drive shaft's floor copy."""
    return folder / "floor" / "north" / "O2101.NC"


def act(run: Run, folder: Path, verb: str, by: str, *words: object, pin: str | None = PIN) -> Result:
    """An act on the drive shaft's program."""
    return run(verb, "--shop", folder, "--by", by, "--for", "north-lathe", "O2101", *words, pin=pin)


def submit(run: Run, folder: Path, file: Path | str, by: str = "pia") -> Result:
    """Submit a file."""
    return act(run, folder, "submit", by, file, "--reason", "because", "--setup", SHEET)


def newest(folder: Path) -> RevisionFacts:
    """The newest revision of the drive shaft."""
    with records.open_shop(folder, lambda: 1) as opened:
        return records.revisions(opened, "O2101", "north-lathe")[-1]


def state_of(folder: Path, n: int) -> str:
    """What revision n of the drive shaft is now."""
    with records.open_shop(folder, lambda: 1) as opened:
        return records.find_revision(opened, "O2101", "north-lathe", n).state


def report_of(folder: Path) -> str:
    """Digest of the report on the newest revision."""
    return newest(folder).report_digest


def decide(
    run: Run,
    folder: Path,
    by: str = "leo",
    verdict: str = "approve",
    seen: str = "",
    words: tuple[object, ...] = (),
    pin: str | None = PIN,
) -> Result:
    """Decide on the newest revision, by default with its own report."""
    digest = seen or report_of(folder)
    given = ("--verdict", verdict, "--reason", "looked", "--report", digest, *words)
    return act(run, folder, "decide", by, *given, pin=pin)


def ticks(report: str) -> list[str]:
    """The names under which a printed report asks for its new critical findings."""
    _, _, part = report.partition("NEW AND CRITICAL")
    return re.findall(r"^  ([0-9a-f]{8}(?:-[0-9]+)?)  ", part, re.MULTILINE)


def seen_as(names: list[str]) -> tuple[object, ...]:
    """The options that name findings as read."""
    return tuple(word for name in names for word in ("--seen", name))


def release(run: Run, folder: Path, by: str = "leo", *words: object) -> Result:
    """Release the newest revision."""
    return act(run, folder, "release", by, "--reason", "go", *words)


def contents(folder: Path) -> tuple[Any, ...]:
    """All that records and folders hold, to see that a refusal left no trace."""
    report = records.verify_ledger(folder)
    assert report.ok, report.faults
    files = sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("shop.db"))
    return report.entries, report.bodies, report.head, [(str(path), path.read_bytes()) for path in files]


def error_object(done: Result) -> dict[str, Any]:
    """The JSON object of a refusal: exit code 2, and on standard output nothing but it."""
    assert done.exit_code == 2, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    assert found["schema"] == "error/1" and set(found) == {"schema", "problems"} and found["problems"]
    for problem in found["problems"]:
        assert {"code", "message"} <= set(problem) and all(problem[key] for key in ("code", "message"))
    return found


def bytes_of(name: str) -> bytes:
    """The bytes of a file of the drive shaft."""
    return program(name).read_bytes()
