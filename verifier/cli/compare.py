"""`verifier compare OLD NEW` and `verifier check PROGRAM`."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

import click

from verifier.cli.ending import EXIT_LEAD, EXIT_SAME, EXIT_UNDETERMINED, JsonCommand, ending_well, write
from verifier.cli.options import library_from, machine_from, policy_from, program_at, program_options, setup_from
from verifier.findings import Weight
from verifier.report import (
    Origin,
    Reviewed,
    ThreeWay,
    examined,
    reviewed,
    stock_left,
    three_way,
    three_way_html,
    three_way_json,
    three_way_sarif,
    three_way_text,
    to_html,
    to_json,
    to_sarif,
    to_text,
)
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)


@click.command("compare", cls=JsonCommand)
@click.argument("old")
@click.argument("new")
@program_options
@click.option("--old-machine", type=_FILE, help="Machine profile of the base, where it ran on another machine.")
@click.option("--old-setup", type=_FILE, help="Setup sheet of the base, where it was another one.")
@click.option(
    "--proven", metavar="FILE", help="The revision last proven at the machine: the total change since it counts too."
)
@click.option("--came-back", metavar="FILE", help="What came back from the machine: tells apart who changed what.")
@ending_well
def compare_command(
    old: str,
    new: str,
    machine: Path | None,
    old_machine: Path | None,
    setup: Path | None,
    old_setup: Path | None,
    proven: str | None,
    came_back: str | None,
    policy: Path | None,
    library: Path | None,
    form: str,
    out: Path | None,
    everything: bool,
) -> None:
    """Compare the program OLD with its revision NEW as the machine runs them. "-" is standard input.

    OLD and NEW may be one file: this job on the other lathe (--old-machine), or with another setup sheet (--old-setup).

    Exit code: 3 undetermined, else 1 where a lead must sign, else 0; 2 for wrong usage or a file that is refused.
    """
    if [old, new, proven, came_back].count("-") > 1:
        raise VerifierError("only one of the programs can come from standard input", "name a file for the other")
    here = machine_from(machine)
    if came_back is not None:
        if old_machine or old_setup or proven:
            raise VerifierError(
                "--came-back is about one machine and one setup sheet",
                "leave --old-machine, --old-setup and --proven out",
            )
        three = three_way(
            program_at(old),
            program_at(new),
            program_at(came_back),
            machine=here,
            setup=setup_from(setup, here),
            policy=policy_from(policy),
            library=library_from(library),
        )
        inputs = (old, new, came_back, machine, setup, policy)
        write(_THREE_WAY[form](three, everything), out, inputs)
        sys.exit(_exit_of_three(three))
    there = machine_from(old_machine) if old_machine else None
    found = reviewed(
        program_at(old),
        program_at(new),
        machine=here,
        old_machine=there,
        setup=setup_from(setup, here),
        old_setup=setup_from(old_setup, there or here),
        policy=policy_from(policy),
        library=library_from(library),
        proven=program_at(proven) if proven is not None else None,
    )
    report = found.report
    _show(found, form, out, (old, new, proven, machine, old_machine, setup, old_setup, policy), everything=everything)
    if report.verdict == "undetermined":
        sys.exit(EXIT_UNDETERMINED)
    sys.exit(EXIT_LEAD if report.sign_off.required else EXIT_SAME)


def _exit_of_three(found: ThreeWay) -> int:
    """As for one report; what would be lost needs a lead, too."""
    if any(report.verdict == "undetermined" for report in found.reports):
        return EXIT_UNDETERMINED
    return EXIT_LEAD if found.lost or found.edit.sign_off.required else EXIT_SAME


_THREE_WAY: dict[str, Callable[[ThreeWay, bool], str]] = {
    "text": lambda found, everything: three_way_text(found, everything=everything),
    "json": lambda found, _: _dumped(three_way_json(found)),
    "sarif": lambda found, _: _dumped(three_way_sarif(found)),
    "html": lambda found, _: three_way_html(found),
}


@click.command("check", cls=JsonCommand)
@click.argument("program")
@program_options
@click.option(
    "--stock-out", type=_FILE, help="Write what is left of the stock (TOML), for the next operation's setup sheet."
)
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
    stock_out: Path | None,
) -> None:
    """Judge one PROGRAM without a base. "-" is standard input.

    Exit code: 1 for any critical or major finding, else 0; 2 for wrong usage or a file that is refused.
    """
    here = machine_from(machine)
    found = examined(
        program_at(program),
        machine=here,
        setup=setup_from(setup, here),
        policy=policy_from(policy),
        library=library_from(library),
    )
    report = found.report
    if stock_out is not None:
        _write_stock(found, stock_out, program, machine, setup)
    _show(found, form, out, (program, machine, setup, policy, stock_out), everything=everything)
    heavy = any(finding.weight is not Weight.MINOR for finding in report.findings)
    sys.exit(EXIT_LEAD if heavy else EXIT_SAME)


def _write_stock(found: Reviewed, out: Path, program: str, machine: Path | None, setup: Path | None) -> None:
    """What is left of the stock, in a file that names the others as they lie to it."""
    if program == "-" or setup is None:
        what = "the program comes from standard input" if program == "-" else "no setup sheet was given"
        raise VerifierError(f"{what}: what is left is bound to the files that it comes from", "name them")

    def beside(path: str | Path) -> str:
        return Path(os.path.relpath(Path(path).resolve(), out.resolve().parent)).as_posix()

    origin = Origin(beside(program), beside(setup), beside(machine) if machine is not None else None)
    write(stock_left(found.side, origin), out, (program, machine, setup))


def _dumped(value: object) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False)


def _show(
    found: Reviewed, form: str, out: Path | None, inputs: Iterable[str | Path | None], *, everything: bool
) -> None:
    report = found.report
    if form == "json":
        write(_dumped(to_json(report)), out, inputs)
    elif form == "sarif":
        write(_dumped(to_sarif(report)), out, inputs)
    elif form == "html":
        write(to_html(report, found.picture()), out, inputs)
    elif out is None:
        click.echo(to_text(report, everything=everything), nl=False)
    else:
        write(to_text(report, everything=everything), out, inputs)
