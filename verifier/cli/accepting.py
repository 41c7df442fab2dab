"""Hazards that stand in a program, accepted once by a lead: what may be accepted, the act, and its withdrawal; local or over the service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from verifier.cli.acts import act_options
from verifier.cli.desks import secret_from
from verifier.cli.ending import JsonCommand, echo_json, ending_well
from verifier.cli.looking import moment
from verifier.cli.remote import Where, open_place, place_option
from verifier.records import AcceptanceFacts
from verifier.report import acceptable
from verifier.source import VerifierError, visible

_FILE = click.Path(path_type=Path)
_LEAST = 8
"""So many digits of a key or a digest name it."""
_REVISION = click.option("--revision", "n", type=int, help="Number of the revision (default: the newest).")
_REASON = click.option("--reason", required=True, help="Why; it goes into the ledger.")
_PIN = click.option("--pin-file", type=_FILE, help="File with your PIN (else VERIFIER_PIN, else asked).")


@click.command("standing", cls=JsonCommand)
@place_option
@click.option("--for", "target", required=True, metavar="MACHINE", help="The machine or group the program is for.")
@click.argument("program")
@_REVISION
@click.option(
    "--as", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="Form of the list."
)
@ending_well
def standing_command(where: Where, target: str, program: str, n: int | None, form: str) -> None:
    """The hazards of PROGRAM that stood before and are still there, by the names that `accept` takes, and every acceptance."""
    with open_place(where) as desk:
        revision = desk.find(program, target, n)
        reports, given = desk.reports_of(revision), desk.acceptances(program, target)
    rows = _rows(reports, given)
    if form == "json":
        echo_json({"report": revision.report_digest, "standing": rows, "acceptances": [_told(one) for one in given]})
        return
    click.echo(f"{revision.program} revision {revision.n} for {revision.target}, report {revision.report_digest}")
    for row in rows:
        where_ = f"line {row['line']}: " if row["line"] is not None else ""
        name = row["key"][:_LEAST] if row["key"] else "-" * _LEAST
        click.echo(visible(f"{name}  {row['weight']}, {where_}{row['title']}  <{row['rule']}>"))
        click.echo(f"          {row['state']}")
    if not rows:
        click.echo("no hazard stood before and is still there")
    for one in given:
        state = "holds" if one.ended_us is None else f"withdrawn by {one.ended_by}, {moment(one.ended_us)}"
        click.echo(visible(f"acceptance {one.id} ({state}): {one.title}  <{one.rule}>"))
        click.echo(visible(f"          by {one.by}, {moment(one.at_us)}: {one.reason}"))


def _rows(reports: Sequence[Mapping[str, Any]], given: Sequence[AcceptanceFacts]) -> list[dict[str, Any]]:
    """Each standing hazard once, with what may be done about it."""
    holding = {one.key: one.id for one in given if one.ended_us is None}
    found: dict[object, dict[str, Any]] = {}
    for report in reports:
        for row in report.get("standing", ()):
            finding = report["findings"][row["finding"]]
            line = finding["causes"][0]["line"] if finding["causes"] else None
            said = {name: finding[name] for name in ("rule", "weight", "title")}
            state = row["told"] or "may be accepted"
            if row["key"] in holding:
                state = f"accepted: {holding[row['key']]}" + (
                    f"; told in full, because {row['told']}" if row["told"] else ""
                )
            found.setdefault(
                row["key"] or (line, *said.values()), {"key": row["key"], **said, "line": line, "state": state}
            )
    return list(found.values())


def _told(one: AcceptanceFacts) -> dict[str, Any]:
    return {**asdict(one), "at": moment(one.at_us)}


@click.command("accept")
@act_options
@_REVISION
@click.option(
    "--hazard",
    required=True,
    metavar="NAME",
    help="The hazard, by its name in `verifier standing` (8 digits are enough).",
)
@click.option(
    "--report",
    "seen",
    required=True,
    metavar="DIGEST",
    help="Digest of the report that you looked at (8 digits are enough).",
)
@_REASON
@_PIN
@ending_well
def accept_command(
    where: Where, by: str, target: str, program: str, n: int | None, hazard: str, seen: str, reason: str,
    pin_file: Path | None,
) -> None:  # fmt: skip
    """Accept one hazard of PROGRAM that stood before, as a lead: reports count it in one line for as long as its words stand as they are."""
    with open_place(where, by) as desk:
        revision = desk.find(program, target, n)
        keys = dict.fromkeys(one.key for report in desk.reports_of(revision) for one in acceptable(report))
        fit = [key for key in keys if len(hazard) >= _LEAST and key.startswith(hazard.lower())]
        if len(fit) > 1:
            raise VerifierError(f"{hazard} names {len(fit)} hazards of this report", "give more digits of the key")
        digest = revision.report_digest if len(seen) >= _LEAST and revision.report_digest.startswith(seen) else seen
        pin = secret_from(pin_file, f"PIN of {by or 'the person of the token'}")
        done = desk.accept(by, pin, revision, fit[0] if fit else hazard, reason, digest)
    click.echo(visible(f"acceptance {done.id}: {done.title}  <{done.rule}>"))
    click.echo(f"bound to {done.key}; it holds for {done.program} for {done.target} until anything of that changes")


@click.command("withdraw-acceptance")
@act_options
@click.option("--number", type=int, required=True, help="Number of the acceptance.")
@_REASON
@_PIN
@ending_well
def withdraw_acceptance_command(
    where: Where, by: str, target: str, program: str, number: int, reason: str, pin_file: Path | None
) -> None:
    """Withdraw an acceptance of PROGRAM, as a lead: the hazard is told in full again, and reports that rest on it are out of date."""
    with open_place(where, by) as desk:
        pin = secret_from(pin_file, f"PIN of {by or 'the person of the token'}")
        done = desk.withdraw_acceptance(by, pin, program, target, number, reason)
    click.echo(visible(f"acceptance {done.id} is withdrawn: {done.title}  <{done.rule}>"))


ACCEPTING = (standing_command, accept_command, withdraw_acceptance_command)
