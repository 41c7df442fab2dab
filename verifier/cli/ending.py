"""How a command ends: exit codes, mistakes told as text or JSON, and a report printed or written whole."""

from __future__ import annotations

import json
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import wraps
from itertools import pairwise
from pathlib import Path
from typing import Any, NoReturn, ParamSpec, TypeVar

import click

from verifier.report import error_json
from verifier.source import MachineError, Problem, SourceRefused, VerifierError

P = ParamSpec("P")
R = TypeVar("R")

EXIT_SAME, EXIT_LEAD, EXIT_USAGE, EXIT_UNDETERMINED = 0, 1, 2, 3
"""Exit codes of compare and check; the acts use 0, 2, and 1 where somebody still has to do something."""
EXIT_MISTAKE = 70
"""A mistake of this program (EX_SOFTWARE of sysexits.h): never to be taken for "a lead must sign"."""


class FileRefused(SourceRefused):
    """A program that is refused, with the name of its file."""

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        super().__init__(tuple(problems))
        self.name = name


@contextmanager
def refusing(name: str) -> Iterator[None]:
    """Tell of which file a refusal is; a command may read several."""
    try:
        yield
    except SourceRefused as refused:
        raise FileRefused(name, refused.problems) from refused


class EndingGroup(click.Group):
    """The commands; one that breaks off by a mistake of this program says so and ends with a code of its own."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was named."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.Abort, click.exceptions.Exit, BrokenPipeError):
            raise
        except Exception as error:
            traceback.print_exception(error)
            click.echo("a mistake of this program: nothing above is a verdict; please report it", err=True)
            sys.exit(EXIT_MISTAKE)


class JsonCommand(click.Command):
    """A command that tells wrong usage as JSON, too, where JSON was asked for."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """As click does it; a usage error ends the command here."""
        as_json = "--as=json" in args or ("--as", "json") in pairwise(args)
        try:
            return super().make_context(info_name, args, parent, **extra)
        except click.UsageError as error:
            if not as_json:
                raise
            fail(VerifierError(error.format_message(), f"{info_name} --help"), as_json=True)


def ending_well(command: Callable[P, R]) -> Callable[P, R]:
    """Turn every error of the package or of the system into a message and exit code 2 (as JSON where JSON was asked for)."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        as_json = kwargs.get("form") == "json"
        try:
            return command(*args, **kwargs)
        except VerifierError as error:
            fail(error, as_json=as_json)
        except BrokenPipeError:
            raise  # whoever read our output has gone; nobody is there to be told
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            fail(VerifierError(f"{where}{error.strerror or error}"), as_json=as_json)

    return run


def fail(error: VerifierError, *, as_json: bool = False) -> NoReturn:
    """Say what is wrong and end with exit code 2."""
    if as_json:
        echo_json(_error_object(error))
    elif isinstance(error, SourceRefused):
        for problem in error.problems:
            click.echo(_refusal(problem, getattr(error, "name", "")), err=True)
    elif isinstance(error, MachineError):
        click.echo("\n".join(error.mistakes), err=True)
    else:
        click.echo(f"error: {error.message}" + (f"\nhint: {error.hint}" if error.hint else ""), err=True)
    sys.exit(EXIT_USAGE)


def _refusal(problem: Problem, name: str) -> str:
    where = f"line {problem.span.line}, column {problem.span.column}"
    text = f"{name}: " * bool(name) + f"refused ({problem.code}): {where}: {problem.message}"
    return text + (f"\nhint: {problem.hint}" if problem.hint else "")


def _error_object(error: VerifierError) -> dict[str, Any]:
    if isinstance(error, SourceRefused):
        found = error_json(list(error.problems))
        file = {"file": error.name} if isinstance(error, FileRefused) else {}
        return {**found, "problems": [{**file, **problem} for problem in found["problems"]]}
    if isinstance(error, MachineError):
        return {
            "schema": "error/1",
            "problems": [{"code": "file-not-valid", "message": text} for text in error.mistakes],
        }
    return {
        "schema": "error/1",
        "problems": [{"code": getattr(error, "code", "error"), "message": error.message, "hint": error.hint}],
    }


def speak_any_encoding() -> None:
    """Let a terminal or a pipe that lacks a character show its code instead of breaking the report off."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def _bytes(text: str) -> bytes:
    """Text in UTF-8 whatever the terminal's encoding; file names that are no text become codes, which JSON reads too."""
    return (text.rstrip("\n") + "\n").encode("utf-8", "backslashreplace")


def echo_json(value: object) -> None:
    """Print a value as JSON, in UTF-8."""
    click.echo(_bytes(json.dumps(value, indent=2, ensure_ascii=False)), nl=False)


def write_bytes(content: bytes, out: Path) -> None:
    """Write bytes to a file completely or not at all."""
    try:
        _write_whole(out, content)
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise VerifierError(f"cannot write {out}: {said}", "choose another file with --out") from error


def write(text: str, out: Path | None, inputs: Iterable[str | Path | None] = ()) -> None:
    """Print a text as UTF-8, or write it to a file completely or not at all; never over one of the files that were read."""
    if out is None:
        click.echo(_bytes(text), nl=False)
        return
    if any(_is_file(out, one) for one in inputs if one is not None):
        raise VerifierError(f"cannot write {out}: it is one of the files compared", "choose another file with --out")
    write_bytes(_bytes(text), out)


def _is_file(out: Path, one: str | Path) -> bool:
    try:
        return out.samefile(one)
    except (OSError, ValueError):
        return False  # one of them is not there


def _write_whole(out: Path, content: bytes) -> None:
    if out.is_dir():
        raise VerifierError(f"cannot write {out}: it is a folder", "choose a file with --out")
    if out.is_symlink() or (out.exists() and not out.is_file()):
        out.write_bytes(content)  # a device, a pipe or a link is written to, never replaced
        return
    part = out.with_name(f".{out.name}.part")
    try:
        part.write_bytes(content)
        part.replace(out)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise


__all__ = [
    "EXIT_LEAD",
    "EXIT_SAME",
    "EXIT_UNDETERMINED",
    "EXIT_USAGE",
    "FileRefused",
    "JsonCommand",
    "echo_json",
    "ending_well",
    "fail",
    "refusing",
    "speak_any_encoding",
    "write",
]
