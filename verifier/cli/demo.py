"""`verifier demo`: the demo shop, built from scratch; each of its edits submitted and reported, one carried all the way to the machine."""

from __future__ import annotations

import importlib.resources
import os
import secrets
import tempfile
import tomllib
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import click

from verifier import records
from verifier.cli.desks import new_id, now_us
from verifier.cli.options import ending_well
from verifier.desk import Desk, Submitted, password_hash
from verifier.machines import Machine, load_machine
from verifier.records import RevisionFacts
from verifier.report import CAUTION, to_text
from verifier.service import load_config, serve
from verifier.source import ActRefused, VerifierError

_CHECKOUT = Path(__file__).resolve().parents[2] / "fixtures" / "shop"
_PACKED = "_fixtures"


def demo_files() -> Path:
    """The folder of the demo shop's files: packed with the package, or in a checkout."""
    packed: Traversable = importlib.resources.files("verifier") / _PACKED / "shop"
    for place in (packed, _CHECKOUT):
        if isinstance(place, Path) and (place / "shop.toml").is_file():
            return place
    raise VerifierError("the demo shop is missing from this installation", "install the package again")


@click.command("demo")
@click.option("--once", is_flag=True, help="Print the reports and stop; nothing is left behind.")
@click.option("--folder", type=click.Path(path_type=Path), help="Keep the demo shop in this new folder and stop.")
@click.option("--port", type=int, help="Port to serve the demo shop at (default: 8470).")
@ending_well
def demo_command(once: bool, folder: Path | None, port: int | None) -> None:
    """Build the demo shop, submit its edits, print each report, and carry one edit all the way to the machine.

    Without --once or --folder the demo shop is then served on this computer until the process is told to end.
    """
    if once and folder is not None:
        raise VerifierError("say --once to print the reports and stop, or --folder DIR to keep the demo shop there")
    if folder is not None:
        demo_pin = _run(folder)
        with os.fdopen(os.open(folder / "pin.txt", os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(demo_pin + "\n")
        click.echo(f"\nThe demo shop is in {folder}; its people all have the PIN in {folder / 'pin.txt'}.")
        return
    with tempfile.TemporaryDirectory(prefix="verifier-demo-") as place:
        pin = _run(Path(place) / "shop")
        if not once:
            _serve(Path(place) / "shop", pin, port)


def _serve(folder: Path, pin: str, port: int | None) -> None:
    """Give the demo shop's people a password, tell how to sign in, and serve."""
    config = load_config(None, shop=folder, host=None, port=port)
    password = secrets.token_hex(8)
    with records.open_shop(folder, now_us) as shop:
        hashed = password_hash(password)
        for person in records.people(shop):
            records.set_secret_hash(shop, person.id, person.id, password=hashed)
        click.echo(f"\nThe demo shop is served at http://localhost:{config.port}/ ; end it with Ctrl-C.")
        for role in ("programmer", "lead", "operator"):
            login = next(person.login for person in records.people(shop) if role in person.roles)
            click.echo(f"  {role}: sign in as {login}, password {password}, PIN {pin}")
    serve(config, clock=now_us, new_id=new_id, first_code=None, threads_only=False)


@dataclass(frozen=True)
class _Demo:
    desk: Desk
    root: Path
    shop: dict[str, Any]
    pin: str

    def login(self, role: str) -> str:
        """The first person of a role."""
        return next(str(p["login"]) for p in self.shop["people"] if p["role"] == role)

    def machine(self, part: dict[str, Any]) -> Machine:
        """The profile a part is made under."""
        return load_machine(self.root / part["machine"])

    def submit(self, part: dict[str, Any], file: str, by: str, reason: str) -> Submitted:
        """Submit one file of a part."""
        body, setup = (self.root / file).read_bytes(), (self.root / part["setup"]).read_bytes()
        return self.desk.submit(by, part["number"], self.machine(part).name, body, reason, setup=setup)


def _run(folder: Path) -> str:
    """Build the shop, print all reports; gives the PIN of its people."""
    root = demo_files()
    shop: dict[str, Any] = tomllib.loads((root / "shop.toml").read_text(encoding="utf-8"))
    click.echo(CAUTION)
    administrator = next(p["login"] for p in shop["people"] if p["role"] == "administrator")
    with records.init_shop(folder, shop["name"], (administrator, administrator), clock=now_us, new_id=new_id) as opened:
        demo = _Demo(Desk(opened, new_id), root, shop, secrets.token_hex(4))
        _people_and_machines(demo, administrator)
        for part in shop["parts"]:
            _part(demo, part)
        _to_the_machine(demo, shop["parts"][0])
    report = records.verify_ledger(folder)
    click.echo(f"\nLEDGER  {report.entries} entries, {report.bodies} stored objects, {len(report.faults)} faults")
    if report.faults:
        raise VerifierError("the ledger of the demo shop does not verify")
    return demo.pin


def _people_and_machines(demo: _Demo, administrator: str) -> None:
    desk = demo.desk
    desk.set_pin(administrator, administrator, demo.pin)
    for person in demo.shop["people"]:
        if person["login"] != administrator:
            added = records.add_person(
                desk.shop, desk.person(administrator).id, person["login"], person["login"], [person["role"]]
            )
            desk.set_pin(administrator, added.login, demo.pin)
    policy = (demo.root / demo.shop["policy"]).read_bytes()
    records.set_policy(desk.shop, desk.person(demo.login("lead")).id, policy, "the shop's policy")
    for file in dict.fromkeys(part["machine"] for part in demo.shop["parts"]):
        profile = load_machine(demo.root / file)
        folder = f"floor/{profile.name}"
        desk.add_machine(
            administrator, profile, name=profile.name, folder=folder, group=None, extension=".NC", takeover=False
        )


def _part(demo: _Demo, part: dict[str, Any]) -> None:
    """First submission, decision and release of a part's base; then each of its edits."""
    click.echo(f"\n{'=' * 110}\n{part['number']}  {part['title']}  on {demo.machine(part).name}")
    first = demo.submit(part, part["base"], demo.login("programmer"), "first submission")
    hazards = len(first.reports[0].findings)
    click.echo(f"  first submission: {first.revision.state}, {hazards} finding{'' if hazards == 1 else 's'}")
    lead = demo.login("lead")
    decided = _approve(demo, lead, first.revision, "proven on the machine")
    released = demo.desk.release(lead, decided, "proven on the machine")
    click.echo(f"  released to {released.releases[0].machine}: {released.jobs[0].file} {released.jobs[0].state}")
    for edit in part["edits"]:
        click.echo(f"\n{'-' * 110}\nEDIT {edit['file']}\n  by {edit['by']}: {edit['reason']}\n")
        done = demo.submit(part, edit["file"], edit["by"], edit["reason"])
        click.echo(to_text(done.reports[0], brief=True))
        click.echo(f"  -> revision {done.revision.n} is {done.revision.state}")


def _approve(demo: _Demo, lead: str, revision: RevisionFacts, reason: str) -> RevisionFacts:
    ticked = [one.name for one in records.wanted_ticks(demo.desk.shop, revision.id)]
    return demo.desk.decide(lead, demo.pin, revision, "approve", reason, revision.report_digest, ticked=ticked)


def _to_the_machine(demo: _Demo, part: dict[str, Any]) -> None:
    """The whole way once: the last edit of a part that a lead may sign, signed, released, read back, confirmed."""
    desk, machine = demo.desk, demo.machine(part).name
    edit = next(e for e in part["edits"] if e["expect"]["verdict"] == "changed behaviour")
    done = demo.submit(part, edit["file"], edit["by"], edit["reason"])
    click.echo(f"\n{'=' * 110}\nTHE WHOLE WAY: {edit['file']}")
    try:
        desk.release(edit["by"], done.revision, "quickly")
    except ActRefused as refusal:
        click.echo(f"  release without a sign-off: refused ({refusal.code})")
    try:
        desk.decide(edit["by"], demo.pin, done.revision, "approve", "mine", done.revision.report_digest)
    except ActRefused as refusal:
        click.echo(f"  decision by its author: refused ({refusal.code})")
    lead, operator = demo.login("lead"), demo.login("operator")
    turned = desk.decide(
        lead, demo.pin, done.revision, "turn back", "not what was asked for", done.revision.report_digest
    )
    click.echo(f"  lead looks at report {done.revision.report_digest[:8]} and turns it back: {turned.state}")
    good = next(e for e in part["edits"] if e["expect"]["verdict"] == "same behaviour")
    again = demo.submit(part, good["file"], good["by"], good["reason"])
    if again.revision.state == "held":
        _approve(demo, lead, again.revision, "same behaviour")
    released = desk.release(lead, again.revision, "tidied labels")
    click.echo(
        f"  {good['file']}: revision {again.revision.n} released to {machine}, check code {released.releases[0].check_code}"
    )
    for job in released.jobs:
        click.echo(f"  {job.machine} {job.file}: {job.state}")
    sent = (demo.root / good["file"]).read_bytes().replace(b" ", b"")
    readback = desk.readback(operator, machine, again.revision, sent)
    click.echo(
        f"  read-back {readback.id} from the control: {'word for word the release' if readback.equal else 'differs'}"
    )
    confirmed = desk.confirm_by_readback(operator, demo.pin, machine, again.revision, readback.id)
    click.echo(f"  operator confirms by {confirmed.how}: {confirmed.strength}")


__all__ = ["demo_command", "demo_files"]
