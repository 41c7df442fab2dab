"""`verifier picture`: what an edit does to the path, or one program's path, as an SVG file."""

from __future__ import annotations

from pathlib import Path

import click

from verifier.cli.ending import ending_well, write
from verifier.cli.options import library_from, machine_from, policy_from, program_at, setup_from
from verifier.report import examined, reviewed
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)


@click.command("picture")
@click.argument("old")
@click.argument("new", required=False)
@click.option("--machine", type=_FILE, help="Machine profile (TOML). Without it the generic lathe is used and named.")
@click.option("--old-machine", type=_FILE, help="Machine profile of the base, where it ran on another machine.")
@click.option("--setup", type=_FILE, help="Setup sheet (TOML): stock, keep-out zones and tools are drawn with it.")
@click.option("--old-setup", type=_FILE, help="Setup sheet of the base, where it was another one.")
@click.option("--policy", type=_FILE, help="Shop policy (TOML): it decides the order of the numbered edits.")
@click.option("--library", type=_FILE, help="Folder with the programs that are called.")
@click.option("--out", type=_FILE, required=True, help="Write the picture (SVG) to this file.")
@ending_well
def picture_command(
    old: str, new: str | None, machine: Path | None, old_machine: Path | None, setup: Path | None, old_setup: Path | None,
    policy: Path | None, library: Path | None, out: Path,
) -> None:  # fmt: skip
    """Draw what the revision NEW changes in the path of OLD; with one program only, its path.

    The base is hatched, the revision solid, what both share thin, rapids dotted; below it spindle speed and feed along time.
    """
    if old == new == "-":
        raise VerifierError("only one of the two programs can come from standard input", "name a file for the other")
    here = machine_from(machine)
    there = machine_from(old_machine) if old_machine else None
    sheet, rules, called = setup_from(setup, here), policy_from(policy), library_from(library)
    if new is None:
        found = examined(program_at(old), machine=here, setup=sheet, policy=rules, library=called)
    else:
        found = reviewed(
            program_at(old), program_at(new), machine=here, old_machine=there, setup=sheet,
            old_setup=setup_from(old_setup, there or here), policy=rules, library=called,
        )  # fmt: skip
    write(found.picture(), out, (old, new, machine, old_machine, setup, old_setup, policy))
