"""Where the acts are made: on a shop's folder, or over a running service; the commands cannot tell which."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import click
from click.core import ParameterSource

from verifier import records
from verifier.cli.desks import find, find_standing, new_id, now_us, secret_from
from verifier.client import Client
from verifier.desk import Desk, Near, Released
from verifier.floor import JobResult
from verifier.records import (
    AcceptanceFacts,
    ConfirmationFacts,
    HistoryEntry,
    ReadbackFacts,
    ReleaseFacts,
    RevisionFacts,
    StopNotice,
)
from verifier.report import to_text
from verifier.source import ActRefused, VerifierError

P = ParamSpec("P")
R = TypeVar("R")
_FILE = click.Path(path_type=Path)


@dataclass(frozen=True, slots=True)
class Where:
    """A shop's folder, or the address of its service with a file that holds a token."""

    shop: Path | None
    server: str | None
    token_file: Path | None


def place_option(command: Callable[..., R]) -> Callable[..., R]:
    """The options that say where an act is made; the command gets them together as `where`."""

    @wraps(command)
    def run(shop: Path | None, server: str | None, token_file: Path | None, **given: object) -> R:
        source = click.get_current_context().get_parameter_source("shop")
        if server is not None and source is ParameterSource.ENVIRONMENT:
            shop = None
        if (shop is None) == (server is None):
            raise click.UsageError("Give one of '--shop' and '--server'.")
        if server is None and token_file is not None:
            raise click.UsageError("'--token-file' goes with '--server'.")
        if server is None and "by" in given and given["by"] is None:
            raise click.UsageError("Missing option '--by'.")
        return command(where=Where(shop, server, token_file), **given)

    for decorate in (
        click.option(
            "--shop", type=_FILE, envvar="VERIFIER_SHOP", show_envvar=True, help="Folder of the shop's records."
        ),
        click.option("--server", metavar="URL", help="Address of the shop's service, instead of --shop."),
        click.option("--token-file", type=_FILE, help="File with your token for --server (else VERIFIER_TOKEN)."),
    ):
        run = decorate(run)
    return run


@contextmanager
def open_place(where: Where, by: str | None = None, pin_file: Path | None = None) -> Iterator[LocalPlace | RemotePlace]:
    """The place where the acts are made; over a service, the token must be that of the person named, if one is.

    The service asks for the person's PIN at every act that moves a revision; on a shop's own folder, only signatures do.
    """
    if where.shop is not None:
        with records.open_shop(where.shop, now_us) as shop:
            yield LocalPlace(shop, new_id)
        return
    client = Client(where.server or "", _token(where.token_file), new_key=new_id)
    try:
        if by is not None and client.me()["login"] != by:
            raise VerifierError(f"the token is not {by}'s", "leave --by out, or give that person's token")
        yield RemotePlace(client, lambda: secret_from(pin_file, f"PIN of {by or 'the person of the token'}"))
    finally:
        client.close()


def _token(file: Path | None) -> str:
    if file is not None:
        try:
            return file.read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError) as error:
            raise VerifierError(
                f"cannot read {file}: {getattr(error, 'strerror', None) or 'it holds no text'}"
            ) from error
    given = os.environ.get("VERIFIER_TOKEN", "").strip()
    if not given:
        raise VerifierError("no token for the server", "give --token-file, or set VERIFIER_TOKEN")
    return given


def near_text(near: Near | None) -> tuple[str, ...]:
    """The proposal to compare a first submission with a program like it, where there is one."""
    return () if near is None else (f"{near.told()} (verifier nearest)",)


class LocalPlace(Desk):
    """The desk of a shop in a folder, with what the commands ask besides."""

    def find(self, program: str, target: str, n: int | None) -> RevisionFacts:
        """Revision n, or the newest."""
        return find(self, program, target, n)

    def find_standing(self, program: str, target: str, n: int | None, machine: str | None = None) -> RevisionFacts:
        """Revision n, or what stands at the machines now."""
        return find_standing(self, program, target, n, machine)

    def hand_in(
        self, by: str, program: str, target: str, body: bytes, reason: str, setup: bytes | None, everything: bool,
        beside: Sequence[str] = (),
    ) -> tuple[RevisionFacts, tuple[str, ...]]:  # fmt: skip
        """Submit; gives the revision and its reports in words."""
        done = self.submit(by, program, target, body, reason, setup=setup, beside=beside)
        texts = tuple(to_text(report, everything=everything) for report in done.reports)
        return done.revision, (*texts, *near_text(done.near))

    def look_again(self, by: str, revision: RevisionFacts, everything: bool) -> tuple[RevisionFacts, tuple[str, ...]]:
        """Check a held revision again; gives it and its reports in words."""
        done = self.check_again(by, revision)
        return done.revision, tuple(to_text(report, everything=everything) for report in done.reports)

    def let_go(self, by: str, revision: RevisionFacts, reason: str, beside: Sequence[str]) -> Released:
        """Release a cleared revision, and those of the programs beside it."""
        return self.release(by, revision, reason, [self.open_revision(name, revision.target) for name in beside])

    def beside_nearest(self, revision: RevisionFacts, everything: bool) -> tuple[Near, str] | None:
        """The nearest program of the library, and the comparison with it in words."""
        found = self.nearest_to(revision)
        return None if found is None else (found[0], to_text(found[1], everything=everything))

    def at_machine(self, machine: str) -> tuple[ReleaseFacts, ...]:
        """What a machine should hold now."""
        return records.at_machine(self.shop, machine)

    def leaving(self, program: str, machine: str) -> RevisionFacts | None:
        """The revision that stands at a machine now."""
        wanted = records.fold_program_name(program)
        here = self.at_machine(machine)
        standing = next((r for r in here if records.fold_program_name(r.program) == wanted), None)
        return None if standing is None else records.revision(self.shop, standing.revision)

    def history(self, program: str, target: str) -> tuple[HistoryEntry, ...]:
        """Every act on a program."""
        return records.history(self.shop, program, target)

    def reports_of(self, revision: RevisionFacts) -> tuple[Mapping[str, Any], ...]:
        """The reports that a revision stands on, in their JSON form."""
        return tuple(json.loads(one.json) for one in records.reports(self.shop, revision.id))

    def acceptances(self, program: str, target: str) -> tuple[AcceptanceFacts, ...]:
        """Every acceptance of a hazard of a program."""
        return records.acceptances(self.shop, program, target)

    def readbacks(self, program: str, machine: str) -> tuple[ReadbackFacts, ...]:
        """Every read-back of a program at a machine."""
        return records.readbacks_at(self.shop, program, machine)

    def readback_by_number(self, number: int) -> tuple[ReadbackFacts, bytes]:
        """A read-back, and the bytes that the control sent."""
        found = records.readback(self.shop, number)
        return found, records.body(self.shop, found.sha)


class RemotePlace:
    """The same acts over a service; the person is the token's, so the logins that are passed in count for nothing."""

    def __init__(self, client: Client, pin: Callable[[], str]) -> None:
        """`pin` asks for the PIN of the token's person, when an act needs it."""
        self._client = client
        self._pin = pin

    def find(self, program: str, target: str, n: int | None) -> RevisionFacts:
        """Revision n, or the newest."""
        if n is not None:
            return self._client.revision(target, program, n)
        found = self._client.revisions(target, program)
        if not found:
            raise VerifierError(f"{program} has no revision for {target}")
        return found[-1]

    def find_standing(self, program: str, target: str, n: int | None, machine: str | None = None) -> RevisionFacts:
        """Revision n, or what stands at the machines now, whatever was submitted since."""
        places = () if n is not None else (machine,) if machine is not None else self.machines_of(target)
        wanted = records.fold_program_name(program)
        there = [
            release.n
            for place in places
            for release in self.at_machine(place)
            if records.fold_program_name(release.program) == wanted
        ]
        if len(dict.fromkeys(there)) > 1:
            raise VerifierError(f"the machines of {target} hold different revisions of {program}", "say --revision")
        return self.find(program, target, there[0] if there else n)

    def machines_of(self, target: str) -> tuple[str, ...]:
        """The machines that a target stands for."""
        wanted = target.upper()
        found = tuple(m.name for m in self._client.machines() if wanted in (m.name.upper(), (m.group or "").upper()))
        if not wanted or not found:
            raise ActRefused("unknown_machine", f"there is no machine or group {target}")
        return found

    def hand_in(
        self, by: str, program: str, target: str, body: bytes, reason: str, setup: bytes | None, everything: bool,
        beside: Sequence[str] = (),
    ) -> tuple[RevisionFacts, tuple[str, ...]]:  # fmt: skip
        """Submit; gives the revision and its reports in words."""
        done = self._client.submit(target, program, body, reason, setup=setup, beside=beside)
        texts = tuple(full if everything else brief for brief, full in done.texts)
        return done.revision, (*texts, *near_text(Near(**done.near) if done.near else None))

    def look_again(self, by: str, revision: RevisionFacts, everything: bool) -> tuple[RevisionFacts, tuple[str, ...]]:
        """Check a held revision again; gives it and its reports in words."""
        done = self._client.check_again(revision.target, revision.program, revision.n, self._pin())
        return done.revision, tuple(full if everything else brief for brief, full in done.texts)

    def decide(
        self, login: str, pin: str, revision: RevisionFacts, verdict: str, reason: str, seen: str,
        *, ticked: Sequence[str] = (), machine: str | None = None, days: int | None = None,
    ) -> RevisionFacts:  # fmt: skip
        """A lead's decision."""
        at = (revision.target, revision.program, revision.n)
        return self._client.decide(*at, pin, verdict, reason, seen, ticked=ticked, machine=machine, days=days)

    def accept(
        self, login: str, pin: str, revision: RevisionFacts, hazard: str, reason: str, seen: str
    ) -> AcceptanceFacts:
        """A lead's acceptance of a standing hazard."""
        return self._client.accept(revision.target, revision.program, revision.n, pin, hazard, reason, seen)

    def withdraw_acceptance(
        self, login: str, pin: str, program: str, target: str, number: int, reason: str
    ) -> AcceptanceFacts:
        """A lead's withdrawal of an acceptance."""
        return self._client.withdraw_acceptance(target, program, number, pin, reason)

    def reports_of(self, revision: RevisionFacts) -> tuple[Mapping[str, Any], ...]:
        """The reports that a revision stands on, in their JSON form."""
        found = self._client.reports(revision.target, revision.program, revision.n)
        return tuple(one["report"] for one in found)

    def acceptances(self, program: str, target: str) -> tuple[AcceptanceFacts, ...]:
        """Every acceptance of a hazard of a program."""
        return self._client.acceptances(target, program)

    def let_go(self, by: str, revision: RevisionFacts, reason: str, beside: Sequence[str]) -> Released:
        """Release a cleared revision, and those of the programs beside it."""
        return self._client.release(revision.target, revision.program, revision.n, self._pin(), reason, beside=beside)

    def withdraw(self, login: str, revision: RevisionFacts, reason: str) -> RevisionFacts:
        """Withdraw a revision."""
        return self._client.withdraw(revision.target, revision.program, revision.n, self._pin(), reason)

    def recall(self, login: str, revision: RevisionFacts, reason: str) -> StopNotice:
        """Recall a revision."""
        return self._client.recall(revision.target, revision.program, revision.n, self._pin(), reason)

    def readback(self, login: str, machine: str, revision: RevisionFacts, sent: bytes) -> ReadbackFacts:
        """Compare what a control sent back."""
        return self._client.readback(revision.target, revision.program, revision.n, sent, machine=machine)

    def confirm_by_code(
        self, login: str, pin: str, machine: str, revision: RevisionFacts, code: str, words: tuple[str, ...]
    ) -> ConfirmationFacts:
        """Confirm by check code and two words."""
        at = (revision.target, revision.program, revision.n)
        return self._client.confirm(*at, pin, machine=machine, code=code, words=words)

    def confirm_by_readback(
        self, login: str, pin: str, machine: str, revision: RevisionFacts, readback: int
    ) -> ConfirmationFacts:
        """Confirm by a read-back."""
        at = (revision.target, revision.program, revision.n)
        return self._client.confirm(*at, pin, machine=machine, readback=readback)

    def confirm_prove_out(
        self, login: str, pin: str, machine: str, revision: RevisionFacts,
        *, readings: str | None = None, readback: int | None = None,
    ) -> ConfirmationFacts:  # fmt: skip
        """Confirm a prove-out."""
        at = (revision.target, revision.program, revision.n)
        return self._client.confirm(*at, pin, machine=machine, readings=readings, readback=readback)

    def take_over(self, login: str, machine: str, revision: RevisionFacts) -> tuple[JobResult, ...]:
        """Let a waiting file appear."""
        at = (revision.target, revision.program, revision.n)
        return self._client.take_over(*at, self._pin(), machine=machine)

    def leaving(self, program: str, machine: str) -> None:
        """The service looks itself at what is left."""

    def go_back(self, login: str, program: str, machine: str, leaving: RevisionFacts | None, reason: str) -> Released:
        """Go back to the revision last proven at the machine."""
        return self._client.go_back(machine, program, self._pin(), reason)

    def write_again(self, login: str, program: str, machine: str, reason: str) -> Released:
        """Write the released file again."""
        return self._client.write_again(machine, program, self._pin(), reason)

    def beside_nearest(self, revision: RevisionFacts, everything: bool) -> tuple[Near, str] | None:
        """The nearest program of the library, and the comparison with it in words."""
        found = self._client.nearest(revision.target, revision.program, revision.n)
        if found["near"] is None:
            return None
        return Near(**found["near"]), str(found["text"]["everything" if everything else "text"])

    def at_machine(self, machine: str) -> tuple[ReleaseFacts, ...]:
        """What a machine should hold now."""
        return self._client.at_machine(machine)

    def history(self, program: str, target: str) -> tuple[HistoryEntry, ...]:
        """Every act on a program."""
        return self._client.history(target, program)

    def readbacks(self, program: str, machine: str) -> tuple[ReadbackFacts, ...]:
        """Every read-back of a program at a machine."""
        return self._client.readbacks(machine, program)

    def readback_by_number(self, number: int) -> tuple[ReadbackFacts, bytes]:
        """A read-back, and the bytes that the control sent."""
        return self._client.readback_by_number(number)
