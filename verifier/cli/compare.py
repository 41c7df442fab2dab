"""`verifier compare OLD NEW` and `verifier check PROGRAM`."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path

import click

from verifier.cli.ending import EXIT_LEAD, EXIT_SAME, EXIT_UNDETERMINED, JsonCommand, ending_well, write
from verifier.cli.options import library_from, machine_from, policy_from, program_options, read_program, setup_from
from verifier.findings import Weight
from verifier.report import Reviewed, examined, reviewed, to_html, to_json, to_text
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)


@click.command("compare", cls=JsonCommand)
@click.argument("old")
@click.argument("new")
@program_options
@click.option("--old-machine", type=_FILE, help="Machine profile of the base, where it ran on another machine.")
@click.option("--old-setup", type=_FILE, help="Setup sheet of the base, where it was another one.")
@ending_well
def compare_command(
    old: str,
    new: str,
    machine: Path | None,
    old_machine: Path | None,
    setup: Path | None,
    old_setup: Path | None,
    policy: Path | None,
    library: Path | None,
    form: str,
    out: Path | None,
    everything: bool,
) -> None:
    """Compare the program OLD with its revision NEW as the machine runs them. "-" is standard input.

    Exit code: 3 undetermined, else 1 where a lead must sign, else 0; 2 for wrong usage or a file that is refused.
    """
    if old == new == "-":
        raise VerifierError("only one of the two programs can come from standard input", "name a file for the other")
    here = machine_from(machine)
    there = machine_from(old_machine) if old_machine else None
    found = reviewed(
        read_program(old),
        read_program(new),
        machine=here,
        old_machine=there,
        setup=setup_from(setup, here),
        old_setup=setup_from(old_setup, there or here),
        policy=policy_from(policy),
        library=library_from(library),
    )
    report = found.report
    _show(found, form, out, (old, new, machine, old_machine, setup, old_setup, policy), everything=everything)
    if report.verdict == "undetermined":
        sys.exit(EXIT_UNDETERMINED)
    sys.exit(EXIT_LEAD if report.sign_off.required else EXIT_SAME)


@click.command("check", cls=JsonCommand)
@click.argument("program")
@program_options
@ending_well
def check_command(
    program: str,
    machine: Path | None,
    setup: Path | None,
    policy: Path | None,
    library: Path | None,
    form: str,
    out: Path | None,
    everything: bool,
) -> None:
    """Judge one PROGRAM without a base. "-" is standard input.

    Exit code: 1 for any critical or major finding, else 0; 2 for wrong usage or a file that is refused.
    """
    here = machine_from(machine)
    found = examined(
        read_program(program),
        machine=here,
        setup=setup_from(setup, here),
        policy=policy_from(policy),
        library=library_from(library),
    )
    report = found.report
    _show(found, form, out, (program, machine, setup, policy), everything=everything)
    heavy = any(finding.weight is not Weight.MINOR for finding in report.findings)
    sys.exit(EXIT_LEAD if heavy else EXIT_SAME)


def _show(
    found: Reviewed, form: str, out: Path | None, inputs: Iterable[str | Path | None], *, everything: bool
) -> None:
    report = found.report
    if form == "json":
        write(json.dumps(to_json(report), indent=2, ensure_ascii=False), out, inputs)
    elif form == "html":
        write(to_html(report, found.picture()), out, inputs)
    elif out is None:
        click.echo(to_text(report, everything=everything), nl=False)
    else:
        write(to_text(report, everything=everything), out, inputs)
