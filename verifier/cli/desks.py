"""What the acts share: the shop's folder, clock, ids, and how a PIN is asked for (never on the command line)."""

from __future__ import annotations

import os
import secrets
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import ParamSpec, TypeVar

import click

from verifier import records
from verifier.desk import Desk
from verifier.records import RevisionFacts
from verifier.source import VerifierError

P = ParamSpec("P")
R = TypeVar("R")


def now_us() -> int:
    """The time in microseconds since 1970, UTC."""
    return time.time_ns() // 1000


def new_id() -> str:
    """A name that nothing else has."""
    return secrets.token_hex(16)


def desk_option(command: Callable[P, R]) -> Callable[P, R]:
    """The option that names the shop's folder."""
    return click.option(
        "--shop",
        type=click.Path(path_type=Path),
        envvar="VERIFIER_SHOP",
        required=True,
        show_envvar=True,
        help="Folder of the shop's records.",
    )(command)


@contextmanager
def open_desk(folder: Path) -> Iterator[Desk]:
    """The desk of the shop in a folder."""
    with records.open_shop(folder, now_us) as shop:
        yield Desk(shop, new_id)


def secret_from(file: Path | None, what: str, *, new: bool = False) -> str:
    """A PIN from a file, else from VERIFIER_PIN, else asked for without showing it."""
    if file is not None:
        try:
            return file.read_text(encoding="utf-8").strip()
        except OSError as error:
            raise VerifierError(f"cannot read {file}: {error.strerror or error}") from error
        except UnicodeDecodeError as error:
            raise VerifierError(f"cannot read {file}: it holds no text", "write the PIN into it in UTF-8") from error
    given = os.environ.get("VERIFIER_PIN")
    if given is not None:
        return given
    return str(click.prompt(what, hide_input=True, confirmation_prompt=new, err=True))


def find(desk: Desk, program: str, target: str, n: int | None) -> RevisionFacts:
    """Revision n of a program, or its newest one."""
    if n is not None:
        return records.find_revision(desk.shop, program, target, n)
    found = records.revisions(desk.shop, program, target)
    if not found:
        raise VerifierError(f"{program} has no revision for {target}")
    return found[-1]


def find_standing(desk: Desk, program: str, target: str, n: int | None, machine: str | None = None) -> RevisionFacts:
    """Revision n of a program, or the one that stands at its machines now, whatever was submitted since."""
    if n is not None:
        return records.find_revision(desk.shop, program, target, n)
    places = (machine,) if machine is not None else desk.machines_of(target)
    wanted = records.fold_program_name(program)
    there = [
        release.revision
        for place in places
        for release in records.at_machine(desk.shop, place)
        if records.fold_program_name(release.program) == wanted
    ]
    if len(dict.fromkeys(there)) > 1:
        raise VerifierError(f"the machines of {target} hold different revisions of {program}", "say --revision")
    return records.revision(desk.shop, there[0]) if there else find(desk, program, target, None)
