"""What the command line's tests share: a runner, and a small shop with people, one machine and a released program."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from verifier.cli import main

ROOT = Path(__file__).parents[2]
SHOP = ROOT / "fixtures" / "shop"
PIN = "240613"
PEOPLE = {"pia": ("programmer",), "leo": ("lead",), "both": ("programmer", "lead"), "otto": ("operator",)}

Run = Callable[..., Result]


@pytest.fixture
def run() -> Run:
    """Run one command; PINs come from the environment."""

    def go(*words: object, given: bytes | None = None) -> Result:
        return CliRunner(env={"VERIFIER_PIN": PIN}).invoke(
            main, [str(word) for word in words], input=given, catch_exceptions=False
        )

    return go


@pytest.fixture
def shop(tmp_path: Path, run: Run) -> Path:
    """A shop with four people and the north lathe; the drive shaft's base is released there."""
    folder = tmp_path / "shop"
    assert (
        run(
            "shop", "init", folder, "--name", "Works", "--administrator", "ada", "--full-name", "Administrator"
        ).exit_code
        == 0
    )
    for login, roles in PEOPLE.items():
        words = [word for role in roles for word in ("--role", role)]
        assert (
            run("shop", "person", "--shop", folder, "--by", "ada", login, "--full-name", login, *words).exit_code == 0
        )
    profile = SHOP / "machines" / "north-lathe.toml"
    assert run("shop", "machine", "--shop", folder, "--by", "ada", profile, "--folder", "floor/north").exit_code == 0
    assert submit(run, folder, program("base.nc")).exit_code == 1
    assert decide(run, folder).exit_code == 0
    assert release(run, folder).exit_code == 0
    return folder


def program(name: str) -> Path:
    """A file of the drive shaft."""
    return SHOP / "programs" / "drive-shaft" / name


def act(run: Run, folder: Path, verb: str, by: str, *words: object) -> Result:
    """An act on the drive shaft's program."""
    return run(verb, "--shop", folder, "--by", by, "--for", "north-lathe", "O2101", *words)


def submit(run: Run, folder: Path, file: Path | str, by: str = "pia") -> Result:
    """Submit a file."""
    return act(run, folder, "submit", by, file, "--reason", "because", "--setup", SHOP / "setups" / "drive-shaft.toml")


def report_of(run: Run, folder: Path) -> str:
    """Digest of the report on the newest revision."""
    from verifier import records

    with records.open_shop(folder, lambda: 1) as opened:
        return records.revisions(opened, "O2101", "north-lathe")[-1].report_digest


def decide(run: Run, folder: Path, by: str = "leo", verdict: str = "approve", seen: str = "") -> Result:
    """Decide on the newest revision, by default with its own report."""
    digest = seen or report_of(run, folder)
    return act(run, folder, "decide", by, "--verdict", verdict, "--reason", "looked", "--report", digest)


def release(run: Run, folder: Path, by: str = "leo") -> Result:
    """Release the newest revision."""
    return act(run, folder, "release", by, "--reason", "go")
