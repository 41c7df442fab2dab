"""What is known of a program, local or over its service: its history, what was read back from controls, and what is most like it."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import click

from verifier.cli.ending import JsonCommand, echo_json, ending_well, write_bytes
from verifier.cli.remote import Where, open_place, place_option
from verifier.records import HistoryEntry
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)
_FORM = click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="Form of the list."
)


def moment(us: int) -> str:
    """A time in microseconds since 1970 as ISO 8601, to the second."""
    return datetime.fromtimestamp(us / 1_000_000, tz=UTC).isoformat(timespec="seconds")


@click.command("history", cls=JsonCommand)
@place_option
@click.option("--for", "target", required=True, metavar="MACHINE", help="The machine or group the program is for.")
@click.argument("program")
@_FORM
@ending_well
def history_command(where: Where, target: str, program: str, form: str) -> None:
    """Every act on PROGRAM, oldest first, as the ledger has it."""
    with open_place(where) as desk:
        entries = desk.history(program, target)
    if form == "json":
        rows = [
            {
                "seq": e.seq,
                "at": moment(e.at_us),
                "person": e.person,
                "act": e.act,
                "subject": e.subject,
                "body": json.loads(e.body),
            }
            for e in entries
        ]
        echo_json(rows)
        return
    for entry in entries:
        click.echo(f"{entry.seq:5}  {moment(entry.at_us)}  {entry.person or '-':16} {_act(entry):18} {entry.subject}")


def _act(entry: HistoryEntry) -> str:
    """The act, with the number of the read-back that it is about, so that it can be looked up."""
    number = json.loads(entry.body).get("readback")
    return entry.act if number is None else f"{entry.act} ({number})"


@click.command("readbacks", cls=JsonCommand)
@place_option
@click.option("--for", "target", required=True, metavar="MACHINE", help="The machine that sent them.")
@click.argument("program")
@click.option("--show", "number", type=int, metavar="NUMBER", help="Tell all about one of them.")
@click.option("--out", type=_FILE, help="With --show: write the bytes that the control sent to this file.")
@_FORM
@ending_well
def readbacks_command(where: Where, target: str, program: str, number: int | None, out: Path | None, form: str) -> None:
    """What was read back of PROGRAM at a machine, oldest first."""
    if out is not None and number is None:
        raise VerifierError("--out writes the bytes of one read-back", "say which with --show NUMBER")
    with open_place(where) as desk:
        found = desk.readbacks(program, target)
        if number is not None:
            found = tuple(one for one in found if one.id == number)
            if not found:
                raise VerifierError(f"{target} has no read-back {number} of {program}")
            if out is not None:
                write_bytes(desk.readback_by_number(number)[1], out)
    if form == "json":
        echo_json([{**asdict(one), "at": moment(one.at_us)} for one in found])
        return
    for one in found:
        how = "word for word" if one.equal else f"{len(one.differences)} differences from"
        used = ", confirmed" if one.confirmed else ""
        click.echo(f"{one.id:5}  {moment(one.at_us)}  {one.operator:16} {how} revision {one.n}{used}  {one.sha[:16]}")
        for line in one.differences if number is not None else ():
            click.echo(f"       {line}")


@click.command("nearest")
@place_option
@click.option("--for", "target", required=True, metavar="MACHINE", help="The machine or group the program is for.")
@click.argument("program")
@click.option("--revision", "n", type=int, help="Number of the revision (default: the newest).")
@click.option("--all", "everything", is_flag=True, help="Show the whole comparison.")
@ending_well
def nearest_command(where: Where, target: str, program: str, n: int | None, everything: bool) -> None:
    """Compare a revision of PROGRAM with the program of the library that is most like it: for information, not the report that is signed."""
    with open_place(where) as desk:
        found = desk.beside_nearest(desk.find(program, target, n), everything)
    if found is None:
        click.echo("no other program of the library has as much as 30 % of its blocks")
        return
    near, text = found
    click.echo(
        f"for information, not the report that is signed: beside {near.program} revision {near.n} for {near.target},"
    )
    click.echo(f"which has {near.percent} % of its blocks")
    click.echo(text, nl=False)


LOOKS = (history_command, readbacks_command, nearest_command)
