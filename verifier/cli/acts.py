"""The acts on a shop, local or over its service: submit, decide, release, readback, confirm, recall, withdraw, and going back."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click

from verifier.cli.desks import secret_from
from verifier.cli.ending import EXIT_LEAD, ending_well
from verifier.cli.looking import moment
from verifier.cli.options import read_program
from verifier.cli.remote import Where, open_place, place_option
from verifier.desk import Released
from verifier.records import RevisionFacts
from verifier.source import VerifierError

R = TypeVar("R")
_FILE = click.Path(path_type=Path)


def act_options(command: Callable[..., R]) -> Callable[..., R]:
    """Shop, person, program and target: what every act names."""
    for decorate in (
        place_option,
        click.option("--by", metavar="LOGIN", help="The person who acts; over --server it is the token's."),
        click.option(
            "--for", "target", required=True, metavar="MACHINE", help="The machine or group the program is for."
        ),
        click.argument("program"),
    ):
        command = decorate(command)
    return command


_REVISION = click.option("--revision", "n", type=int, help="Number of the revision (default: the newest).")
_STANDING = click.option(
    "--revision", "n", type=int, help="Number of the revision (default: what stands at the machine)."
)
_REASON = click.option("--reason", required=True, help="Why; it goes into the ledger.")
_BESIDE = click.option(
    "--beside", multiple=True, metavar="NAME",
    help="A program whose open revision goes with this one (a subprogram, the other channel); once for each.",
)  # fmt: skip
_PIN_THERE = click.option(
    "--pin-file", type=_FILE, help="Over --server: file with your PIN (else VERIFIER_PIN, else asked)."
)
_PIN = click.option("--pin-file", type=_FILE, help="File with your PIN (else VERIFIER_PIN, else asked).")


@click.command("submit")
@act_options
@click.argument("file")
@_REASON
@click.option("--setup", type=_FILE, help="Setup sheet that goes with the program.")
@_BESIDE
@click.option("--all", "everything", is_flag=True, help="Show the whole report.")
@ending_well
def submit_command(
    where: Where, by: str, target: str, program: str, file: str, reason: str, setup: Path | None,
    beside: tuple[str, ...], everything: bool,
) -> None:  # fmt: skip
    """Submit FILE as a revision of PROGRAM (its number, O2101, or name). Exit code 1 where a lead must sign."""
    body = read_program(file).data
    sheet = setup.read_bytes() if setup is not None else None
    with open_place(where, by) as desk:
        revision, texts = desk.hand_in(by, program, target, body, reason, sheet, everything, beside)
    for text in texts:
        click.echo(text)
    _stands(revision)
    if revision.state == "held":
        sys.exit(EXIT_LEAD)


def _stands(revision: RevisionFacts) -> None:
    held = f": {', '.join(revision.held_because)}" if revision.state == "held" else ""
    click.echo(f"{revision.program} revision {revision.n} for {revision.target} is {revision.state}{held}")
    click.echo(f"report {revision.report_digest}")


@click.command("check-again")
@act_options
@_REVISION
@click.option("--all", "everything", is_flag=True, help="Show the whole report.")
@_PIN_THERE
@ending_well
def check_again_command(
    where: Where, by: str, target: str, program: str, n: int | None, everything: bool, pin_file: Path | None
) -> None:
    """Put a held revision of PROGRAM on reports computed now, where what they rest on has changed; it stays held, and its author's."""
    with open_place(where, by, pin_file) as desk:
        revision, texts = desk.look_again(by, desk.find(program, target, n), everything)
    for text in texts:
        click.echo(text)
    _stands(revision)


@click.command("decide")
@act_options
@_REVISION
@click.option("--verdict", required=True, type=click.Choice(["approve", "prove-out", "turn back"]))
@_REASON
@click.option(
    "--report",
    "seen",
    required=True,
    metavar="DIGEST",
    help="Digest of the report that you looked at (8 digits are enough).",
)
@click.option(
    "--seen",
    "ticked",
    multiple=True,
    metavar="NAME",
    help="A new critical finding that you have read, by its name in the report; once for each, to approve or prove out.",
)
@click.option("--machine", help="For a prove-out: the one machine.")
@click.option("--days", type=int, help="For a prove-out: how many days it may run.")
@_PIN
@ending_well
def decide_command(
    where: Where, by: str, target: str, program: str, n: int | None, verdict: str, reason: str, seen: str,
    ticked: tuple[str, ...], machine: str | None, days: int | None, pin_file: Path | None,
) -> None:  # fmt: skip
    """Decide on a held revision of PROGRAM, as a lead. Nobody decides on a revision of their own."""
    with open_place(where, by) as desk:
        revision = desk.find(program, target, n)
        digest = revision.report_digest if len(seen) >= 8 and revision.report_digest.startswith(seen) else seen
        decided = desk.decide(
            by,
            secret_from(pin_file, f"PIN of {by or 'the person of the token'}"),
            revision,
            verdict,
            reason,
            digest,
            ticked=ticked,
            machine=machine,
            days=days,
        )
    _stands(decided)


@click.command("release")
@act_options
@_REVISION
@_REASON
@_BESIDE
@_PIN_THERE
@ending_well
def release_command(
    where: Where, by: str, target: str, program: str, n: int | None, reason: str, beside: tuple[str, ...],
    pin_file: Path | None,
) -> None:  # fmt: skip
    """Release a cleared revision of PROGRAM: its file is written to the machine's folder. Exit code 1 while it is not yet there."""
    with open_place(where, by, pin_file) as desk:
        revision = desk.find(program, target, n)
        done = desk.let_go(by, revision, reason, beside)
        now = [release for name in desk.machines_of(target) for release in desk.at_machine(name)]
    _told(done)
    going = {revision.id, *(release.revision for release in done.releases)}
    waiting = [r for r in now if r.revision in going and not r.at_machine]
    for release in waiting:
        click.echo(f"{release.machine}: not yet at the machine" + (f" ({release.trouble})" if release.trouble else ""))
    if waiting:
        sys.exit(EXIT_LEAD)


def _told(done: Released) -> None:
    for release in done.releases:
        click.echo(
            f"{release.program} revision {release.n} is released to {release.machine}; check code {release.check_code}"
        )
        for word in release.challenge:
            click.echo(f"  to confirm by check code, read from the control: {word.place}")
    for job in done.jobs:
        click.echo(f"  {job.machine} {job.file}: {job.state}" + (f" ({job.trouble})" if job.trouble else ""))


@click.command("readback")
@act_options
@click.argument("file")
@click.option("--machine", help="The machine that sent it (where the program is for a group).")
@_STANDING
@ending_well
def readback_command(
    where: Where, by: str, target: str, program: str, file: str, machine: str | None, n: int | None
) -> None:
    """Compare FILE, the program as the control sent it back, with a revision of PROGRAM. Exit code 1 where it differs."""
    sent = read_program(file).data
    with open_place(where, by) as desk:
        found = desk.readback(by, machine or target, desk.find_standing(program, target, n, machine), sent)
    if found.again:
        click.echo(f"these bytes were read back already, {moment(found.at_us)}; nothing new is recorded")
    for line in found.differences:
        click.echo(line)
    if not found.equal:
        click.echo(f"read-back {found.id} is not the release: submit it as a revision, or load the release again")
        sys.exit(EXIT_LEAD)
    click.echo(f"read-back {found.id} is word for word the release; confirm with --readback {found.id}")


@click.command("confirm")
@act_options
@click.option("--machine", help="The machine (where the program is for a group).")
@_STANDING
@click.option("--readback", type=int, help="Number of the read-back that is equal to the release (strong).")
@click.option("--code", help="The check code of the release (weak; not after a critical finding).")
@click.option("--word", "words", multiple=True, help="A word read from the control, in the order asked for; twice.")
@click.option("--readings", help="For a prove-out: the first piece's readings, as text.")
@_PIN
@ending_well
def confirm_command(
    where: Where, by: str, target: str, program: str, machine: str | None, n: int | None, readback: int | None,
    code: str | None, words: tuple[str, ...], readings: str | None, pin_file: Path | None,
) -> None:  # fmt: skip
    """Confirm as an operator that the machine holds the released revision of PROGRAM, or that a prove-out is proven."""
    if [readback, code, readings].count(None) != 2 or (words and code is None):
        raise VerifierError("confirm by --readback NUMBER, by --code and two --word, or a prove-out by --readings")
    with open_place(where, by) as desk:
        revision = desk.find_standing(program, target, n, machine)
        if readings is not None and revision.state != "prove-out":
            raise VerifierError(
                f"revision {revision.n} is {revision.state}, not in prove-out", "readings confirm no other"
            )
        pin = secret_from(pin_file, f"PIN of {by or 'the person of the token'}")
        if revision.state == "prove-out":
            done = desk.confirm_prove_out(by, pin, machine or target, revision, readings=readings, readback=readback)
        elif readback is not None:
            done = desk.confirm_by_readback(by, pin, machine or target, revision, readback)
        else:
            done = desk.confirm_by_code(by, pin, machine or target, revision, code or "", words)
    click.echo(
        f"{done.machine}: revision {revision.n} confirmed by {done.how} ({done.strength}); held before: {done.held_before}"
    )


@click.command("recall")
@act_options
@_STANDING
@_REASON
@_PIN_THERE
@ending_well
def recall_command(
    where: Where, by: str, target: str, program: str, n: int | None, reason: str, pin_file: Path | None
) -> None:
    """Recall a revision of PROGRAM at once: its floor copy is taken away, and every machine believed to hold it is named."""
    with open_place(where, by, pin_file) as desk:
        notice = desk.recall(by, desk.find_standing(program, target, n), reason)
    click.echo(
        f"STOP: {notice.program} revision {notice.n} is recalled; believed to be at: {', '.join(notice.machines) or 'no machine'}"
    )


@click.command("withdraw")
@act_options
@_REVISION
@_REASON
@_PIN_THERE
@ending_well
def withdraw_command(
    where: Where, by: str, target: str, program: str, n: int | None, reason: str, pin_file: Path | None
) -> None:
    """Withdraw a revision of your own before it is released."""
    with open_place(where, by, pin_file) as desk:
        _stands(desk.withdraw(by, desk.find(program, target, n), reason))


@click.command("take-over")
@act_options
@_STANDING
@click.option("--machine", help="The machine (where the program is for a group).")
@_PIN_THERE
@ending_well
def take_over_command(
    where: Where, by: str, target: str, program: str, n: int | None, machine: str | None, pin_file: Path | None
) -> None:
    """Let the new file of PROGRAM appear at a machine that runs from its folder: cycle stopped, tools home."""
    with open_place(where, by, pin_file) as desk:
        for job in desk.take_over(by, machine or target, desk.find_standing(program, target, n, machine)):
            click.echo(f"{job.machine} {job.file}: {job.state}" + (f" ({job.trouble})" if job.trouble else ""))


@click.command("go-back")
@act_options
@click.option("--machine", help="The machine (where the program is for a group).")
@_REASON
@_PIN_THERE
@ending_well
def go_back_command(
    where: Where, by: str, target: str, program: str, machine: str | None, reason: str, pin_file: Path | None
) -> None:
    """Go back at once to the revision of PROGRAM last proven on the machine; an operator may do so alone."""
    place = machine or target
    with open_place(where, by, pin_file) as desk:
        _told(desk.go_back(by, program, place, desk.leaving(program, place), reason))


@click.command("write-again")
@act_options
@click.option("--machine", help="The machine (where the program is for a group).")
@_REASON
@_PIN_THERE
@ending_well
def write_again_command(
    where: Where, by: str, target: str, program: str, machine: str | None, reason: str, pin_file: Path | None
) -> None:
    """Write the released file of PROGRAM once more, where it went missing or was edited; a lead's act."""
    with open_place(where, by, pin_file) as desk:
        _told(desk.write_again(by, program, machine or target, reason))


ACTS = (
    submit_command, check_again_command, decide_command, release_command, readback_command, confirm_command, recall_command, withdraw_command,
    take_over_command, go_back_command, write_again_command,
)  # fmt: skip
