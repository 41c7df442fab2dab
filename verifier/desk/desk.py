"""The acts as people make them: the report is computed, the records are written, the machine's folder is published.

The command line and the service make the same calls. Persons are named by login; a decision or a confirmation needs the person's PIN again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from verifier import records
from verifier.desk.companions import callers, companions, open_revision
from verifier.desk.facts import report_facts
from verifier.desk.key import server_key
from verifier.desk.machines import check_equal, check_folder
from verifier.desk.nearest import Near, nearest
from verifier.desk.returned import came_back_otherwise, waiting_beside, who_changed_what
from verifier.desk.reviewing import Place, accepted_before, accepted_now, compared, handed_in, read, reviews
from verifier.desk.secrets import pin_hash, pin_key_name, pin_needs_rehash, pin_proven
from verifier.findings import Policy, default_policy, parse_policy, policy_changes
from verifier.floor import JobResult, make_folders, publish_pending, take_readback
from verifier.machines import Machine, machine_text, parse_machine, parse_setup
from verifier.records import (
    AcceptanceFacts,
    ConfirmationFacts,
    PersonFacts,
    ReadbackFacts,
    ReleaseFacts,
    Releasing,
    ReportFacts,
    RevisionFacts,
    Shop,
    StopNotice,
)
from verifier.report import Acceptance, ChangeReport, Reviewed, ThreeWay
from verifier.source import ActRefused, MachineError
from verifier.syntax import Program
from verifier.version import VERSION

NewId = Callable[[], str]


@dataclass(frozen=True, slots=True)
class Submitted:
    """A submission: the revision as it now stands, and the reports computed on it (one for each base)."""

    revision: RevisionFacts
    reports: tuple[ChangeReport, ...]
    near: Near | None = None
    """For a first submission: the program of the library that is most like it, where one is."""


@dataclass(frozen=True, slots=True)
class Released:
    """A release: what was ordered, and what became of the files."""

    releases: tuple[ReleaseFacts, ...]
    jobs: tuple[JobResult, ...]


@dataclass(frozen=True, slots=True)
class PinLimit:
    """How often a PIN may be wrong, for one person and from one place, before it is locked for a while."""

    tries: int = 5
    place_tries: int = 20
    lock_s: int = 900

    def counted(self, person: int, place: str | None) -> tuple[records.Tries, tuple[records.Tries, ...]]:
        """The person's own count and those shared with others."""
        own = records.Tries(f"pin of {person}", self.tries, self.lock_s)
        return own, () if place is None else (records.Tries(f"pin from {place}", self.place_tries, self.lock_s),)


class Desk:
    """The acts on one open shop."""

    def __init__(
        self,
        shop: Shop,
        new_id: NewId,
        *,
        limit: PinLimit = PinLimit(),
        place: str | None = None,
        publish: Callable[[], tuple[JobResult, ...]] | None = None,
    ) -> None:
        """`place` is where the person stands (an address), for counting wrong PINs; `publish` writes what is ordered."""
        self.shop = shop
        self._new_id = new_id
        self._limit = limit
        self._place = place
        self._publish = publish

    # -- who and what ------------------------------------------------------------------------------------------------

    def person(self, login: str) -> PersonFacts:
        """The person of that login; ActRefused where there is none."""
        return records.find_person(self.shop, login)

    def set_pin(self, by: str, login: str, pin: str) -> None:
        """Give a person a PIN; by that person or an administrator."""
        stored = pin_hash(server_key(self.shop.folder), pin)
        records.set_secret_hash(self.shop, self.person(by).id, self.person(login).id, pin=stored)

    def keys_wanted(self) -> tuple[str, ...]:
        """Names of the server keys that people's PINs were made with: the one beside the records, and no other."""
        stored = [records.secret_hashes(self.shop, person.id)[1] for person in records.people(self.shop)]
        return tuple(sorted({name for name in map(pin_key_name, stored) if name is not None}))

    def proven(self, login: str, pin: str) -> PersonFacts:
        """The person, shown again to stand here; ActRefused where the PIN is not theirs, or was wrong too often."""
        person, key = self.person(login), server_key(self.shop.folder)
        own, shared = self._limit.counted(person.id, self._place)
        records.take_try(self.shop, [own, *shared])
        stored = records.secret_hashes(self.shop, person.id)[1]
        if stored is None or not pin_proven(key, stored, pin):
            raise ActRefused(
                "sign_in_again",
                "the PIN is not right",
                "five wrong ones lock it for a while; without a PIN, ask an administrator for a one-time code",
            )
        records.give_back(self.shop, own, shared)
        if pin_needs_rehash(stored):
            with records.aside():
                records.set_secret_hash(self.shop, person.id, person.id, pin=pin_hash(key, pin))
        return person

    def make_token(
        self, by: str, pin: str, login: str, name: str, token: str, scopes: Sequence[str], days: int
    ) -> records.TokenFacts:
        """Make a token with which a program acts for `login`; `by` has proved again who they are. See records.make_token."""
        maker = self.proven(by, pin)
        return records.make_token(self.shop, self.person(login).id, name, token, scopes, days, by=maker.id)

    def policy(self) -> Policy:
        """The policy in force."""
        data = records.policy_bytes(self.shop)
        return default_policy() if data is None else parse_policy(data, "policy in force")

    def profile(self, machine: str) -> Machine:
        """The profile of a machine as the records hold it."""
        return parse_machine(records.profile_bytes(self.shop, machine), f"profile of {machine}")

    def add_machine(
        self, by: str, profile: Machine, *, name: str, folder: str, group: str | None, extension: str, takeover: bool
    ) -> records.MachineFacts:
        """Add a machine with its profile, resolved so that it stands for itself, and make its folder.

        ActRefused `bad_profile` where the machines of its group have another profile.
        """
        check_equal([profile, *self._profiles_of(group)], group)
        check_folder(self.shop.machine_folder(folder))
        added = records.add_machine(
            self.shop,
            self.person(by).id,
            name,
            profile=machine_text(profile).encode(),
            folder=folder,
            group=group,
            extension=extension,
            takeover=takeover,
        )
        make_folders(self.shop, added.name)
        return added

    def change_folder(self, by: str, machine: str, folder: str, reason: str) -> records.MachineFacts:
        """Move a machine's folder, made where it is missing; the files that lay in the old one stay there."""
        check_folder(self.shop.machine_folder(folder))
        changed = records.change_folder(self.shop, self.person(by).id, machine, folder, reason)
        make_folders(self.shop, changed.name)
        return changed

    def set_policy(self, login: str, data: bytes, label: str, reason: str) -> Policy:
        """Put another policy in force, as a lead; every loosening is named in the ledger. MachineError with every mistake in it."""
        policy = parse_policy(data, label)
        loosened = [change.told for change in policy_changes(self.policy(), policy) if change.may_loosen]
        records.set_policy(self.shop, self.person(login).id, data, reason, loosened=loosened)
        return policy

    def machines_of(self, target: str) -> tuple[str, ...]:
        """The machines that a target (a machine or a group) stands for; ActRefused where it stands for none."""
        wanted = target.upper()
        found = tuple(
            m.name for m in records.machines(self.shop) if wanted in (m.name.upper(), (m.group or "").upper())
        )
        if not wanted or not found:
            raise ActRefused("unknown_machine", f"there is no machine or group {target}")
        return found

    def machine_of(self, target: str) -> Machine:
        """The profile that stands for a target; ActRefused `bad_profile` where its machines differ."""
        found = [self.profile(name) for name in self.machines_of(target)]
        check_equal(found, target)
        return found[0]

    def _profiles_of(self, group: str | None) -> list[Machine]:
        return [
            self.profile(m.name)
            for m in records.machines(self.shop)
            if group and (m.group or "").upper() == group.upper()
        ]

    # -- reports -----------------------------------------------------------------------------------------------------

    def reports_on(
        self, program: str, target: str, body: bytes, setup: bytes | None, beside: Sequence[RevisionFacts] = ()
    ) -> tuple[ChangeReport, ...]:
        """The reports that a submission needs, one for each pair of base and proven revision that its machines hold.

        `beside` are the revisions of called programs that go with it; the base is run with what is released.
        """
        new = handed_in(body, program)
        grounds = records.grounds(self.shop, program, target, new.source.sha256)
        place = self._place_of(program, target, setup, tuple(beside), accepted_now(self.shop, program, target))
        return tuple(one.report for one in reviews(self.shop, new, place, grounds))

    def picture(self, revision: RevisionFacts, facts: ReportFacts) -> str | None:
        """The picture of a report as SVG, drawn anew; None where what the report rests on is no longer in force."""
        new = read(records.body(self.shop, revision.sha), revision.program)
        (found,) = reviews(self.shop, new, self._place_of_revision(revision), [facts.ground])
        return found.picture() if found.report.digest == facts.digest else None

    def near(self, revision: RevisionFacts, most_bytes: int = 4_000_000) -> Near | None:
        """The program of the library that is most like a revision, looked for in so many bytes; nothing is written."""
        read_ = read(records.body(self.shop, revision.sha), revision.program)
        return nearest(self.shop, read_, revision.program, revision.target, writing=False, most_bytes=most_bytes)

    def compared_with(self, revision: RevisionFacts, other: RevisionFacts) -> Reviewed:
        """A revision beside one of another program, for information: no report that anybody signs. Each at its own machine.

        ActRefused `not_comparable` where one of them cannot be run any more as it was handed in.
        """
        before, after = (self._side(one) for one in (other, revision))
        return compared(self.shop, before, after)

    def nearest_to(self, revision: RevisionFacts) -> tuple[Near, ChangeReport] | None:
        """The program of the library that is most like a revision, and the comparison with it, for information."""
        near = self.near(revision)
        if near is None:
            return None
        other = records.find_revision(self.shop, near.program, near.target, near.n)
        return near, self.compared_with(revision, other).report

    def _side(self, one: RevisionFacts) -> tuple[Program, Place]:
        try:
            return read(records.body(self.shop, one.sha), one.program), self._place_of_revision(one)
        except MachineError as error:
            told = "; ".join(error.mistakes)
            raise ActRefused(
                "not_comparable", f"{one.program} revision {one.n} does not fit its machine's profile any more: {told}"
            ) from error

    def current(self, revision: RevisionFacts) -> tuple[ChangeReport, ...]:
        """The reports on a revision, computed again with what is in force and released now."""
        new = read(records.body(self.shop, revision.sha), revision.program)
        grounds = records.grounds(self.shop, revision.program, revision.target, revision.sha)
        return tuple(one.report for one in reviews(self.shop, new, self._place_of_revision(revision), grounds))

    def _place_of(
        self, program: str, target: str, setup: bytes | None, beside: tuple[RevisionFacts, ...],
        accepted: tuple[Acceptance, ...],
    ) -> Place:  # fmt: skip
        machine = self.machine_of(target)
        sheet = parse_setup(setup, "setup sheet", machine) if setup else None
        return Place(program, target, self.machines_of(target)[0], machine, sheet, self.policy(), beside, accepted)

    def _place_of_revision(self, revision: RevisionFacts) -> Place:
        setup = records.setup_bytes(self.shop, revision.id)
        accepted = accepted_before(self.shop, revision)
        return self._place_of(revision.program, revision.target, setup, self.companions(revision), accepted)

    def _facts(self, reports: tuple[ChangeReport, ...], body: bytes, program: str) -> tuple[ReportFacts, ...]:
        return tuple(report_facts(report, read(body, program)) for report in reports)

    def companions(self, revision: RevisionFacts) -> tuple[RevisionFacts, ...]:
        """The open revisions of called programs that its reports rest on: to be released with it."""
        return companions(self.shop, revision, self.machines_of(revision.target)[0])

    def belonging(self, revision: RevisionFacts) -> tuple[RevisionFacts, ...]:
        """The open revisions that may have to be released with this one: what it calls, and what calls it."""
        return (*self.companions(revision), *callers(self.shop, revision))

    def waiting_beside(self, back: ReadbackFacts) -> tuple[RevisionFacts, ...]:
        """The revisions that wait while something else came back from the machine, newest first."""
        return waiting_beside(self.shop, back)

    def came_back_otherwise(self, revision: RevisionFacts) -> tuple[ReadbackFacts, ...]:
        """What was last read back at a revision's machines and is neither the release nor this revision."""
        return came_back_otherwise(self.shop, revision, self.machines_of(revision.target))

    def who_changed_what(self, back: ReadbackFacts, edit: RevisionFacts) -> ThreeWay:
        """The release, a waiting revision and a read-back, block by block; see verifier.desk.returned."""
        return who_changed_what(self.shop, back, edit, self._place_of_revision(edit))

    def open_revision(self, program: str, target: str) -> RevisionFacts:
        """The newest revision of a program that still may go to a machine; ActRefused `not_open`."""
        return open_revision(self.shop, program, target)

    # -- the acts ----------------------------------------------------------------------------------------------------

    def submit(
        self, login: str, program: str, target: str, body: bytes, reason: str,
        *, setup: bytes | None = None, beside: Sequence[str] = (),
    ) -> Submitted:  # fmt: skip
        """Hand in a program: checked, compared with what its machines hold, recorded. SourceRefused: nothing is stored.

        `beside` names called programs whose open revisions go with it: it is checked as it will run with them.
        """
        author = self.person(login)
        records.check_program_name(program)
        reports = self.reports_on(
            program, target, body, setup, [self.open_revision(name, target) for name in dict.fromkeys(beside)]
        )
        facts = self._facts(reports, body, program)
        first = any(report.old is None for report in reports)
        near = nearest(self.shop, read(body, program), program, target) if first else None
        revision = records.submit(self.shop, author.id, program, target, body, reason, facts, setup=setup)
        return Submitted(revision, reports, near)

    def check_again(self, login: str, revision: RevisionFacts) -> Submitted:
        """Put a held revision on reports computed now, where anything that its own rest on has changed; it stays held."""
        person, reports = self.person(login), self.current(revision)
        facts = self._facts(reports, records.body(self.shop, revision.sha), revision.program)
        return Submitted(records.check_again(self.shop, person.id, revision.id, facts), reports)

    def outdated(self, revision: RevisionFacts) -> tuple[str, ...]:
        """What is known to have changed since a revision's reports were made, without computing them again; more may have."""
        older = {one.tool_version for one in records.reports(self.shop, revision.id)} - {VERSION}
        return (*records.outdated(self.shop, revision.id), *(["tool version"] if older else []))

    def decide(
        self,
        login: str,
        pin: str,
        revision: RevisionFacts,
        verdict: str,
        reason: str,
        seen: str,
        *,
        ticked: Sequence[str] = (),
        machine: str | None = None,
        days: int | None = None,
    ) -> RevisionFacts:
        """A lead's decision, bound to the report that was looked at (`seen`: its digest).

        `ticked`: the new critical findings that were read, by name; all of them where it may then go to a machine.
        """
        lead = self.proven(login, pin)
        place = {"machine": machine, "days": days}
        decided = records.decide(
            self.shop,
            lead.id,
            revision.id,
            verdict,
            reason,
            seen,
            reauthenticated=True,
            ticked=ticked,
            **place,  # type: ignore[arg-type]
        )
        self.publish()
        return decided

    def accept(
        self, login: str, pin: str, revision: RevisionFacts, hazard: str, reason: str, seen: str
    ) -> AcceptanceFacts:
        """A lead's acceptance of one standing hazard, by its key in the report that was looked at (`seen`: its digest)."""
        lead = self.proven(login, pin)
        return records.accept(self.shop, lead.id, revision.id, hazard, reason, seen, reauthenticated=True)

    def withdraw_acceptance(
        self, login: str, pin: str, program: str, target: str, number: int, reason: str
    ) -> AcceptanceFacts:
        """A lead's withdrawal of an acceptance of a program; reports that rest on it are out of date with it."""
        if number not in [one.id for one in records.acceptances(self.shop, program, target)]:
            raise ActRefused("unknown_acceptance", f"{program} for {target} has no acceptance {number}")
        lead = self.proven(login, pin)
        return records.withdraw_acceptance(self.shop, lead.id, number, reason, reauthenticated=True)

    def release(
        self, login: str, revision: RevisionFacts, reason: str, beside: Sequence[RevisionFacts] = ()
    ) -> Released:
        """Order the files of a cleared revision, if everything it was signed on still holds, and write them.

        `beside` are released in the same act, or none of them is: what it calls, what calls it, the other channel's program.
        """
        person = self.person(login)
        items = [self._releasing(one) for one in {one.id: one for one in (revision, *beside)}.values()]
        return self._written(records.release_together(self.shop, person.id, items, reason))

    def _releasing(self, revision: RevisionFacts) -> Releasing:
        reports = self.current(revision)
        body = records.body(self.shop, revision.sha)
        return Releasing(revision.id, self._facts(reports, body, revision.program), tuple(_two_words(reports)))

    def _written(self, releases: tuple[ReleaseFacts, ...]) -> Released:
        """What was ordered with what became of it; a publisher that others use too tells of more than that, and maybe twice."""
        jobs = self.publish()
        if self._publish:
            own = {(one.machine, one.program) for one in releases}
            jobs = tuple({(j.machine, j.program): j for j in jobs if (j.machine, j.program) in own}.values())
        return Released(releases, jobs)

    def publish(self) -> tuple[JobResult, ...]:
        """Write every file that is ordered and not yet at its machine."""
        return self._publish() if self._publish else publish_pending(self.shop, self._new_id)

    def recall(self, login: str, revision: RevisionFacts, reason: str) -> StopNotice:
        """Take a revision back at once; its floor copies are taken away."""
        notice = records.recall(self.shop, self.person(login).id, revision.id, reason)
        self.publish()
        return notice

    def withdraw(self, login: str, revision: RevisionFacts, reason: str) -> RevisionFacts:
        """The author takes a revision back before it is released."""
        return records.withdraw(self.shop, self.person(login).id, revision.id, reason)

    def readback(self, login: str, machine: str, revision: RevisionFacts, sent: bytes) -> ReadbackFacts:
        """Compare what a control sent back with a revision, and keep it whatever comes out."""
        return take_readback(self.shop, self.person(login).id, machine, revision.id, sent)

    def confirm_by_code(
        self, login: str, pin: str, machine: str, revision: RevisionFacts, code: str, words: tuple[str, ...]
    ) -> ConfirmationFacts:
        """An operator's confirmation by check code and two words read from the control (weak)."""
        operator = self.proven(login, pin)
        return records.confirm_by_check_code(
            self.shop, operator.id, machine, revision.id, code, words, reauthenticated=True
        )

    def confirm_by_readback(
        self, login: str, pin: str, machine: str, revision: RevisionFacts, readback: int
    ) -> ConfirmationFacts:
        """An operator's confirmation by a read-back that is equal to the release (strong)."""
        operator = self.proven(login, pin)
        return records.confirm_by_readback(self.shop, operator.id, machine, revision.id, readback, reauthenticated=True)

    def confirm_prove_out(
        self,
        login: str,
        pin: str,
        machine: str,
        revision: RevisionFacts,
        *,
        readings: str | None = None,
        readback: int | None = None,
    ) -> ConfirmationFacts:
        """An operator's confirmation of a prove-out, by first-piece readings or a read-back; the revision is then cleared."""
        operator = self.proven(login, pin)
        return records.confirm_prove_out(
            self.shop, operator.id, machine, revision.id, readings=readings, readback=readback, reauthenticated=True
        )

    def take_over(self, login: str, machine: str, revision: RevisionFacts) -> tuple[JobResult, ...]:
        """Let the waiting file of a release appear in the folder of a machine that runs from it."""
        records.take_over(self.shop, self.person(login).id, machine, revision.id)
        return self.publish()

    def go_back(self, login: str, program: str, machine: str, leaving: RevisionFacts | None, reason: str) -> Released:
        """Return one machine at once to the revision last proven there; an operator may do so alone."""
        left = None if leaving is None else leaving.id
        _, found = records.go_back(self.shop, self.person(login).id, program, machine, left, reason)
        return self._written((found,))

    def write_again(self, login: str, program: str, machine: str, reason: str) -> Released:
        """Order a released file that went missing or was edited to be written once more; a lead's act."""
        found = records.write_again(self.shop, self.person(login).id, program, machine, reason)
        return self._written((found,))


def _two_words(reports: tuple[ChangeReport, ...]) -> tuple[tuple[str, str], ...]:
    """Two words of changed blocks, far apart and different if they can be, to be read from the control; none where there are fewer.

    The place names the word's letter, so that a person knows which word of the block is asked for.
    """
    pairs = dict.fromkeys(pair for report in reports for pair in report.challenge)
    found = tuple({f"{place}, word {word[0].upper()}": word for place, word in pairs}.items())
    if len(found) < 2:
        return ()
    others = [pair for pair in found[1:] if pair[1] != found[0][1]] or found[1:]
    return found[0], others[-1]
