"""Every command tells what it does and names its options; the README's lines can be typed as they stand."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import click
import pytest

from tests.cli.conftest import ROOT, SHEET, SHOP, Run
from verifier.cli import main
from verifier.findings import all_rules


def _commands(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], click.Command]]:
    found: list[tuple[tuple[str, ...], click.Command]] = []
    for name, command in group.commands.items():
        here = (*path, name)
        found += _commands(command, here) if isinstance(command, click.Group) else [(here, command)]
    return found


COMMANDS = dict(_commands(main))
GROUPS = [name for name, command in main.commands.items() if isinstance(command, click.Group)]


def _plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_every_command_tells_what_it_does_and_names_its_options(path: tuple[str, ...], run: Run) -> None:
    command = COMMANDS[path]
    for asked in ("--help", "-h"):
        told = run(*path, asked)
        assert told.exit_code == 0 and told.stderr == ""
        assert command.help and _plain(command.help.split("\n\n")[0]) in _plain(told.stdout)
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert all(name in told.stdout for name in parameter.opts)
                assert parameter.help or parameter.required, f"{parameter.opts[0]} does not say what it is"
            else:
                assert (parameter.metavar or str(parameter.name).upper()) in told.stdout


@pytest.mark.parametrize("group", GROUPS)
def test_a_group_lists_its_commands(group: str, run: Run) -> None:
    told = run(group, "--help")
    entry = main.commands[group]
    assert told.exit_code == 0 and isinstance(entry, click.Group)
    assert [name for name in entry.commands if name not in told.stdout] == []


def test_the_program_itself_lists_its_commands_and_says_that_it_is_an_aid(run: Run) -> None:
    told = run("--help")
    assert told.exit_code == 0 and [name for name in main.commands if name not in told.stdout] == []
    assert "It is an aid" in told.stdout
    assert re.search(r"[0-9]+\.[0-9]+", run("--version").stdout)


def _typed() -> list[list[str]]:
    """Every line of the README's code blocks that calls the program."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```[a-z]*\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    calls = [part.strip() for block in blocks for line in block.splitlines() for part in line.split("&&")]
    words = [shlex.split(call) for call in calls if re.match(r"(\S*/)?verifier ", call)]
    return [given[1:] for given in words]


def test_the_readme_shows_the_ways_in() -> None:
    shown = {tuple(given[:2]) for given in _typed()} | {tuple(given[:1]) for given in _typed()}
    for wanted in [
        ("compare",),
        ("demo", "--once"),
        ("submit",),
        ("decide",),
        ("release",),
        ("readback",),
        ("confirm",),
    ]:
        assert wanted in shown
    assert ("shop", "init") in shown


@pytest.mark.parametrize("given", _typed(), ids=" ".join)
def test_a_line_of_the_readme_fits_the_command(given: list[str]) -> None:
    """Parsed by the command itself, without running it: unknown options, missing ones and wrong choices fail."""
    command: click.Command = main
    context = click.Context(main, info_name="verifier")
    rest = given
    while isinstance(command, click.Group):
        found = command.get_command(context, rest[0])
        assert found is not None, f"there is no command {rest[0]}"
        command, rest = found, rest[1:]
    with command.make_context(command.name, list(rest), parent=context, resilient_parsing=False) as made:
        assert made.args == []


def test_the_commands_in_the_readmes_tables_exist() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"`verifier ([a-z][a-z -]*[a-z])", text)
    assert len(named) > 20
    for name in named:
        words = tuple(name.split())
        assert any(words[: len(path)] == path for path in COMMANDS) or words[0] in GROUPS, name


def test_every_rule_has_its_page(run: Run) -> None:
    listed = run("rules").stdout
    for rule in all_rules():
        assert rule.id in listed
        page = run("rules", rule.id).stdout
        assert rule.title in page and rule.watch in page and "Example: " in page


@pytest.mark.parametrize("kind", ["machine", "setup", "policy"])
def test_a_schema_is_shown_and_what_is_shown_can_be_read_again(kind: str, run: Run, tmp_path: Path) -> None:
    schema = json.loads(run(kind, "show", "--schema").stdout)
    assert schema["$schema"].startswith("https://json-schema.org/") and schema["title"]
    source = {"machine": SHOP / "machines" / "dock-lathe.toml", "setup": SHEET, "policy": SHOP / "policy.toml"}[kind]
    again = tmp_path / "again.toml"
    as_file = ("--toml",) if kind == "policy" else ()
    shown = run(kind, "show", source, *as_file)
    assert shown.exit_code == 0
    again.write_text(shown.stdout, encoding="utf-8")
    assert run(kind, "show", again, *as_file).stdout == shown.stdout
