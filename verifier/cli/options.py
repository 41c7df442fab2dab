"""Options and files that several commands share: how a program, profile, setup sheet, policy and library are read."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar

import click

from verifier.cli.ending import echo_json, ending_well, refusing
from verifier.control import Library, library_of
from verifier.findings import Policy, default_policy, load_policy
from verifier.machines import Machine, Setup, generic_lathe, load_machine, load_setup
from verifier.report import report_schema
from verifier.source import SIZE_LIMIT, Source, VerifierError, read_path, read_source
from verifier.syntax import Program, parse, parse_program

P = ParamSpec("P")
R = TypeVar("R")

_FILE = click.Path(path_type=Path)


def _show_schema(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted:
        echo_json(report_schema())
        ctx.exit()


def program_options(command: Callable[P, R]) -> Callable[P, R]:
    """The options of commands that execute programs."""
    for decorate in (
        click.option(
            "--machine", type=_FILE, help="Machine profile (TOML). Without it the generic lathe is used and named."
        ),
        click.option("--setup", type=_FILE, help="Setup sheet (TOML)."),
        click.option("--policy", type=_FILE, help="Shop policy (TOML). Without it the built-in policy is used."),
        click.option("--library", type=_FILE, help="Folder with the programs that are called."),
        click.option(
            "--as",
            "form",
            type=click.Choice(["text", "json", "sarif", "html"]),
            default="text",
            show_default=True,
            help="Form of the report.",
        ),
        click.option(
            "--schema",
            is_flag=True,
            is_eager=True,
            expose_value=False,
            callback=_show_schema,
            help="Print the JSON Schema of --as json and end.",
        ),
        click.option("--out", type=_FILE, help="Write the report to this file instead of the terminal."),
        click.option(
            "--all", "everything", is_flag=True, help="Text form: all cards, standing hazards and unchecked things."
        ),
    ):
        command = decorate(command)
    return command


def read_program(path: str) -> Source:
    """The program in a file, or from standard input for "-"; a refusal names the file."""
    name = "standard input" if path == "-" else path
    with refusing(name):
        return read_source(sys.stdin.buffer.read(SIZE_LIMIT + 1), name) if path == "-" else read_path(path)


def program_at(path: str) -> Program:
    """The same, read; a text that does not read as a program is refused, too."""
    source = read_program(path)
    with refusing(source.name):
        return parse_program(source)


def machine_from(path: Path | None) -> Machine:
    """The profile in a file, else the generic lathe."""
    return load_machine(path) if path is not None else generic_lathe()


def setup_from(path: Path | None, machine: Machine) -> Setup | None:
    """The setup sheet in a file, if any."""
    return load_setup(path, machine) if path is not None else None


def policy_from(path: Path | None) -> Policy:
    """The policy in a file, else the built-in one."""
    return default_policy() if path is None else load_policy(path)


def library_from(folder: Path | None) -> Library | None:
    """All programs in a folder, by number. Files that are no programs are refused by name."""
    if folder is None:
        return None
    if not folder.is_dir():
        raise VerifierError(f"{folder} is not a folder", "give the folder that holds the called programs")
    files = sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    return library_of(parse(read_program(str(path))) for path in files)


__all__ = [
    "ending_well",
    "library_from",
    "machine_from",
    "policy_from",
    "program_at",
    "program_options",
    "read_program",
    "setup_from",
]
