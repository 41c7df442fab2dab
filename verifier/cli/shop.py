"""`verifier shop ...` and `verifier ledger ...`: making, filling, checking and copying a shop's records."""

from __future__ import annotations

import json
import secrets
import sys
from pathlib import Path

import click

from verifier import records
from verifier.cli.desks import desk_option, new_id, now_us, open_desk, secret_from
from verifier.cli.ending import EXIT_LEAD, ending_well
from verifier.cli.looking import moment
from verifier.cli.options import policy_from
from verifier.desk import Desk, check_pin, kept_key
from verifier.findings import policy_changes
from verifier.floor import check_floor
from verifier.machines import load_machine
from verifier.records import Checkpoint, LedgerReport
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)


@click.group("shop")
def shop_group() -> None:
    """A shop's records: programs, people, machines, releases."""


@shop_group.command("init")
@click.argument("folder", type=_FILE)
@click.option("--name", required=True, help="Name of the shop.")
@click.option("--administrator", required=True, metavar="LOGIN", help="Login of the first person, an administrator.")
@click.option("--full-name", required=True, help="Full name of that person.")
@click.option("--pin-file", type=_FILE, help="File with the person's PIN (else VERIFIER_PIN, else asked).")
@ending_well
def shop_init(folder: Path, name: str, administrator: str, full_name: str, pin_file: Path | None) -> None:
    """Make a shop in FOLDER with one administrator."""
    pin = check_pin(secret_from(pin_file, "PIN of the administrator", new=True))
    with records.init_shop(folder, name, (administrator, full_name), clock=now_us, new_id=new_id) as shop:
        Desk(shop, new_id).set_pin(administrator, administrator, pin)
    click.echo(f"shop {name} made in {folder}")


@shop_group.command("person")
@desk_option
@click.option("--by", required=True, metavar="LOGIN", help="Who adds them: an administrator.")
@click.argument("login")
@click.option("--full-name", required=True)
@click.option(
    "--role",
    "roles",
    multiple=True,
    required=True,
    type=click.Choice(records.ROLES),
    help="May be given more than once.",
)
@click.option("--pin-file", type=_FILE, help="File with the person's PIN (else VERIFIER_PIN, else asked).")
@ending_well
def shop_person(shop: Path, by: str, login: str, full_name: str, roles: tuple[str, ...], pin_file: Path | None) -> None:
    """Add a person."""
    with open_desk(shop) as desk:
        pin = check_pin(secret_from(pin_file, f"PIN of {login}", new=True))
        records.add_person(desk.shop, desk.person(by).id, login, full_name, roles)
        desk.set_pin(by, login, pin)
    click.echo(f"{login} added as {', '.join(roles)}")


@shop_group.command("pin")
@desk_option
@click.option("--by", required=True, metavar="LOGIN", help="The person, or an administrator.")
@click.argument("login")
@click.option("--pin-file", type=_FILE, help="File with the new PIN (else VERIFIER_PIN, else asked).")
@ending_well
def shop_pin(shop: Path, by: str, login: str, pin_file: Path | None) -> None:
    """Give a person another PIN."""
    with open_desk(shop) as desk:
        desk.set_pin(by, login, secret_from(pin_file, f"new PIN of {login}", new=True))
    click.echo(f"{login} has another PIN")


@shop_group.command("token")
@desk_option
@click.option("--by", required=True, metavar="LOGIN", help="The person, or an administrator.")
@click.argument("login")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    required=True,
    type=click.Choice(records.SCOPES),
    help="What it may be used for; may be given more than once.",
)
@click.option("--days", type=int, default=90, show_default=True, help="How long it lasts.")
@click.option("--name", default="command line", show_default=True, help="What it is for, for the list of tokens.")
@click.option("--pin-file", type=_FILE, help="File with the PIN of whoever makes it (else VERIFIER_PIN, else asked).")
@ending_well
def shop_token(
    shop: Path, by: str, login: str, scopes: tuple[str, ...], days: int, name: str, pin_file: Path | None
) -> None:
    """Make a token with which a program acts for LOGIN over the service; its secret is printed this once.

    What acts in a person's name only that person makes; an administrator makes for others only what reads.
    """
    secret = secrets.token_urlsafe(32)
    with open_desk(shop) as desk:
        made = desk.make_token(by, secret_from(pin_file, f"PIN of {by}"), login, name, secret, scopes, days)
    click.echo(f"token {made.id} of {login} for {', '.join(made.scopes)}, {days} days", err=True)
    click.echo(secret)


@shop_group.command("tokens")
@desk_option
@click.option("--by", metavar="LOGIN", help="With --end: the person, or an administrator.")
@click.argument("login")
@click.option("--end", "number", type=int, metavar="NUMBER", help="End this token of LOGIN; it counts no longer.")
@click.option("--pin-file", type=_FILE, help="With --end: file with the PIN (else VERIFIER_PIN, else asked).")
@ending_well
def shop_tokens(shop: Path, by: str | None, login: str, number: int | None, pin_file: Path | None) -> None:
    """The tokens of LOGIN, without their secrets."""
    if (by is None) != (number is None):
        raise VerifierError("a token is ended by somebody", "give --by LOGIN and --end NUMBER together")
    with open_desk(shop) as desk:
        person = desk.person(login)
        if by is not None and number is not None:
            if number not in [one.id for one in records.tokens_of(desk.shop, person.id)]:
                raise VerifierError(f"{login} has no token {number}")
            records.end_token(desk.shop, desk.proven(by, secret_from(pin_file, f"PIN of {by}")).id, number)
        for one in records.tokens_of(desk.shop, person.id):
            state = "ended" if one.ended_us is not None else f"until {moment(one.ends_us)}"
            click.echo(f"{one.id:5}  {one.name}: {', '.join(one.scopes)}; {state}")


@shop_group.command("machine")
@desk_option
@click.option("--by", required=True, metavar="LOGIN", help="Who adds it: an administrator.")
@click.argument("profile", type=_FILE)
@click.option("--name", help="Name of the machine (default: that of its profile).")
@click.option("--folder", required=True, help="Folder for its floor copies (relative to the shop's, or absolute).")
@click.option("--group", help="Group of equal machines that it belongs to.")
@click.option("--extension", default=".NC", show_default=True, help="Ending of its files.")
@click.option(
    "--takeover", is_flag=True, help="It runs from its folder: a new file waits for the operator to take it over."
)
@ending_well
def shop_machine(
    shop: Path, by: str, profile: Path, name: str | None, folder: str, group: str | None, extension: str, takeover: bool
) -> None:
    """Add a machine with its PROFILE."""
    loaded = load_machine(profile)
    with open_desk(shop) as desk:
        added = desk.add_machine(
            by, loaded, name=name or loaded.name, folder=folder, group=group, extension=extension, takeover=takeover
        )
    click.echo(f"machine {added.name} added, floor copies in {added.folder}")


@shop_group.command("policy")
@desk_option
@click.option("--by", required=True, metavar="LOGIN", help="Who sets it: a lead.")
@click.option("--reason", required=True)
@click.argument("file", type=_FILE)
@ending_well
def shop_policy(shop: Path, by: str, reason: str, file: Path) -> None:
    """Put the policy in FILE in force. Sign-offs made under another one no longer count."""
    wanted = policy_from(file)
    with open_desk(shop) as desk:
        changes = policy_changes(desk.policy(), wanted)
        policy = desk.set_policy(by, file.read_bytes(), str(file), reason)
    click.echo(f"policy {policy.name} version {policy.version} is in force")
    for change in changes:
        click.echo(f"  {change.line}")


@shop_group.command("check")
@desk_option
@ending_well
def shop_check(shop: Path) -> None:
    """Write what is still to be written, then hold every machine's folder against its releases. Exit code 1 for any drift."""
    with open_desk(shop) as desk:
        for job in desk.publish():
            click.echo(f"{job.machine} {job.file}: {job.state}" + (f" ({job.trouble})" if job.trouble else ""))
        drifts = check_floor(desk.shop)
    for drift in drifts:
        click.echo(f"{drift.machine} {drift.file}: {drift.kind}: {drift.detail}")
    if drifts:
        sys.exit(EXIT_LEAD)
    click.echo("every folder holds what is released, and nothing else")


@shop_group.command("backup")
@desk_option
@click.argument("file", type=_FILE)
@ending_well
def shop_backup(shop: Path, file: Path) -> None:
    """Write a checked copy of the records to FILE and print a checkpoint to be kept elsewhere."""
    with open_desk(shop) as desk:
        click.echo(records.checkpoint_text(records.backup_shop(desk.shop, file)))
        names = " and ".join(desk.keys_wanted())
    if names:
        click.echo(
            f"not in the copy: {shop / 'server.key'} (key {names}). Keep it apart from the copy; without it every PIN is to"
            " be set anew",
            err=True,
        )


@shop_group.command("restore")
@click.argument("file", type=_FILE)
@click.argument("folder", type=_FILE)
@click.option("--checkpoint", type=_FILE, help="A checkpoint kept elsewhere; a copy that lacks it is refused.")
@ending_well
def shop_restore(file: Path, folder: Path, checkpoint: Path | None) -> None:
    """Put a copy of the records in FILE back into FOLDER, which must hold none. Exit code 1 where the server key is missing.

    Put the shop's server.key into FOLDER first: the PINs were made with it.
    """
    report = records.restore_shop(file, folder, _point(checkpoint))
    _tell(report)
    with open_desk(folder) as desk:
        wanted, found = desk.keys_wanted(), kept_key(folder)
    if [name for name in wanted if found is None or name != found.name]:
        lies = "none lies there" if found is None else f"the one there is {found.name}"
        click.echo(
            f"the PINs were made with server key {' and '.join(wanted)}, and {lies}: put the right {folder / 'server.key'}"
            " back before anybody works with these records, or set every PIN anew",
            err=True,
        )
        sys.exit(EXIT_LEAD)


@click.group("ledger")
def ledger_group() -> None:
    """The append-only, hash-chained record of every act."""


@ledger_group.command("verify")
@desk_option
@click.option("--checkpoint", type=_FILE, help="A checkpoint kept elsewhere, to be part of this ledger.")
@ending_well
def ledger_verify(shop: Path, checkpoint: Path | None) -> None:
    """Check the whole chain, and every stored object against its digest. Exit code 1 for any fault."""
    _tell(records.verify_ledger(shop, _point(checkpoint)))


@ledger_group.command("checkpoint")
@desk_option
@ending_well
def ledger_checkpoint(shop: Path) -> None:
    """Print where the ledger stands, to be kept on another computer or on paper."""
    with open_desk(shop) as desk:
        click.echo(records.checkpoint_text(records.checkpoint(desk.shop)))


def _point(file: Path | None) -> Checkpoint | None:
    """The checkpoint in a file, as `verifier ledger checkpoint` prints it."""
    if file is None:
        return None
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
        point = Checkpoint(kept["shop"], kept["size"], kept["head"])
    except (ValueError, KeyError, TypeError) as error:
        raise VerifierError(f"{file} holds no checkpoint", "`verifier ledger checkpoint` prints one") from error
    if kept.get("schema") != "ledger-checkpoint/1" or type(point.size) is not int:
        raise VerifierError(f"{file} holds no checkpoint of this kind", "`verifier ledger checkpoint` prints one")
    return point


def _tell(report: LedgerReport) -> None:
    for fault in report.faults:
        click.echo(f"{fault.code} at {fault.where}: {fault.message}")
    if report.faults:
        sys.exit(EXIT_LEAD)
    click.echo(
        f"{report.entries} entries, {report.bodies} stored objects: nothing altered; head {report.head.head[:16]}"
    )
