"""Options and files that several commands share: how a program, profile, setup sheet, policy and library are read, and how mistakes end."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from pathlib import Path
from typing import Any, NoReturn, ParamSpec, TypeVar

import click

from verifier.control import Library, library_of
from verifier.findings import Policy, all_rules, default_policy, load_policy
from verifier.machines import Machine, Setup, generic_lathe, load_machine, load_setup
from verifier.report import error_json
from verifier.source import MachineError, Source, SourceRefused, VerifierError, excerpt_problem, read_path, read_source
from verifier.syntax import parse

P = ParamSpec("P")
R = TypeVar("R")

EXIT_SAME, EXIT_LEAD, EXIT_USAGE, EXIT_UNDETERMINED = 0, 1, 2, 3
"""Exit codes of compare and check; the acts use 0 and 2."""

_FILE = click.Path(path_type=Path)


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
            type=click.Choice(["text", "json", "html"]),
            default="text",
            show_default=True,
            help="Form of the report.",
        ),
        click.option("--out", type=_FILE, help="Write the report to this file instead of the terminal."),
        click.option(
            "--all", "everything", is_flag=True, help="Text form: all cards, standing hazards and unchecked things."
        ),
    ):
        command = decorate(command)
    return command


def ending_well(command: Callable[P, R]) -> Callable[P, R]:
    """Turn every error of the package into a message and exit code 2 (as JSON where JSON was asked for)."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except VerifierError as error:
            fail(error, as_json=kwargs.get("form") == "json")

    return run


def fail(error: VerifierError, *, as_json: bool = False) -> NoReturn:
    """Say what is wrong and end with exit code 2."""
    if as_json:
        click.echo(json.dumps(_error_object(error), indent=2, ensure_ascii=False))
    elif isinstance(error, SourceRefused):
        for problem in error.problems:
            click.echo(_refusal(problem), err=True)
    elif isinstance(error, MachineError):
        click.echo("\n".join(error.mistakes), err=True)
    else:
        click.echo(f"error: {error.message}" + (f"\nhint: {error.hint}" if error.hint else ""), err=True)
    sys.exit(EXIT_USAGE)


def _refusal(problem: Any) -> str:
    text = f"refused ({problem.code}): line {problem.span.line}, column {problem.span.column}: {problem.message}"
    return text + (f"\nhint: {problem.hint}" if problem.hint else "")


def _error_object(error: VerifierError) -> dict[str, Any]:
    if isinstance(error, SourceRefused):
        return error_json(list(error.problems))
    if isinstance(error, MachineError):
        return {
            "schema": "error/1",
            "problems": [{"code": "file-not-valid", "message": text} for text in error.mistakes],
        }
    return {
        "schema": "error/1",
        "problems": [{"code": getattr(error, "code", "error"), "message": error.message, "hint": error.hint}],
    }


def read_program(path: str) -> Source:
    """The program in a file, or from standard input for "-"."""
    if path == "-":
        return read_source(sys.stdin.buffer.read(), "standard input")
    return read_path(path)


def machine_from(path: Path | None) -> Machine:
    """The profile in a file, else the generic lathe."""
    return load_machine(path) if path is not None else generic_lathe()


def setup_from(path: Path | None, machine: Machine) -> Setup | None:
    """The setup sheet in a file, if any."""
    return load_setup(path, machine) if path is not None else None


def policy_from(path: Path | None) -> Policy:
    """The policy in a file, else the built-in one; weights for rules that do not exist are mistakes."""
    if path is None:
        return default_policy()
    policy = load_policy(path)
    known = {rule.id for rule in all_rules()}
    unknown = [name for name in policy.overridden_rules() if name not in known]
    if unknown:
        raise MachineError(
            [
                f"{path}: weights.{name}: got a weight, expected the id of a rule (see `verifier rules`)"
                for name in unknown
            ]
        )
    return policy


def library_from(folder: Path | None) -> Library | None:
    """All programs in a folder, by number. Files that are no programs are refused by name."""
    if folder is None:
        return None
    if not folder.is_dir():
        raise VerifierError(f"{folder} is not a folder", "give the folder that holds the called programs")
    files = sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    return library_of(parse(read_path(path)) for path in files)


def write(text: str, out: Path | None) -> None:
    """Print a text, or write it to a file completely or not at all."""
    if out is None:
        click.echo(text, nl=not text.endswith("\n"))
        return
    part = out.with_name(f".{out.name}.part")
    try:
        part.write_text(text if text.endswith("\n") else text + "\n", encoding="utf-8")
        part.replace(out)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise VerifierError(
            f"cannot write {out}: {error.strerror or error}", "choose another file with --out"
        ) from error


__all__ = [
    "EXIT_LEAD",
    "EXIT_SAME",
    "EXIT_UNDETERMINED",
    "EXIT_USAGE",
    "ending_well",
    "excerpt_problem",
    "fail",
    "library_from",
    "machine_from",
    "policy_from",
    "program_options",
    "read_program",
    "setup_from",
    "write",
]
