"""What goes into the records and what comes out of them: plain frozen values, no connection behind any of them."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

from verifier.report import accepted_numbers, to_be_seen
from verifier.source import ActRefused

_DIGEST = re.compile(r"[0-9a-f]{64}")
_CHECK_CODE = re.compile(r"[2-9A-HJKMNP-Z]{8}")
VERDICTS = ("same behaviour", "changed behaviour", "undetermined")


@dataclass(frozen=True, slots=True)
class Called:
    """A program that a revision calls, by the exact content that was looked at."""

    name: str
    sha: str


@dataclass(frozen=True, slots=True)
class Ground:
    """What a report compares a revision with: the base, and the revision last proven there where that is another one."""

    base_sha: str | None
    proven_sha: str | None = None

    def order(self) -> tuple[str, str]:
        """The order of the reports on one revision: without a base first, then by digest."""
        return (self.base_sha or "", self.proven_sha or "")


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """What the records keep of one change report; the caller fills it in from the report.

    `base_sha` is None for a first submission, `proven_sha` where nothing else than the base was last proven there.
    `machine_digest` is that of the profile as it was used, `setup_digest` None without a setup sheet, `json` the bytes
    of the report's JSON form.
    """

    digest: str
    verdict: str
    sign_off_required: bool
    sign_off_reasons: tuple[str, ...]
    has_critical: bool
    base_sha: str | None
    machine_digest: str
    setup_digest: str | None
    policy_digest: str
    rules_digest: str
    tool_version: str
    check_code: str
    json: bytes
    called: tuple[Called, ...] = ()
    program_number: int | None = None
    proven_sha: str | None = None
    accepted: tuple[int, ...] = ()
    """Numbers of the acceptances that it rests on, in order."""

    @property
    def ground(self) -> Ground:
        """What the revision was compared with."""
        return Ground(self.base_sha, self.proven_sha)


#: What a sign-off is bound to besides the revision's own bytes, in the words that a person is told when it changed.
BOUND = (
    ("base", "base_sha"),
    ("proven revision", "proven_sha"),
    ("machine profile", "machine_digest"),
    ("setup sheet", "setup_digest"),
    ("policy", "policy_digest"),
    ("rules", "rules_digest"),
    ("tool version", "tool_version"),
    ("called programs", "called"),
    ("accepted hazards", "accepted"),
    ("change report", "digest"),
)


def check_reports(reports: Sequence[ReportFacts]) -> tuple[ReportFacts, ...]:
    """Order reports by base and refuse what cannot be a set of reports on one revision (`bad_report`)."""
    if not reports:
        raise ActRefused("bad_report", "there is no change report")
    for report in reports:
        digests = [report.digest, report.machine_digest, report.policy_digest, report.rules_digest]
        digests += [d for d in (report.base_sha, report.proven_sha, report.setup_digest) if d is not None]
        digests += [called.sha for called in report.called]
        if not all(_DIGEST.fullmatch(d) for d in digests):
            raise ActRefused("bad_report", "a digest in the change report is not 64 hexadecimal digits")
        if report.verdict not in VERDICTS:
            raise ActRefused("bad_report", f"{report.verdict!r} is not a verdict", "one of: " + ", ".join(VERDICTS))
        if not _CHECK_CODE.fullmatch(report.check_code) or not report.tool_version or not report.json:
            raise ActRefused("bad_report", "the change report lacks its check code, its tool version or its content")
        if report.has_critical != _has_critical(report.json):
            raise ActRefused("bad_report", "the change report says otherwise than its content what is critical")
        if report.accepted != _accepted(report.json):
            raise ActRefused("bad_report", "the change report says otherwise than its content what is accepted")
        if report.proven_sha is not None and report.base_sha in (None, report.proven_sha):
            raise ActRefused("bad_report", "a total is told beside a base, and since another revision than that")
    if len({r.check_code for r in reports}) != 1 or len({r.ground for r in reports}) != len(reports):
        raise ActRefused("bad_report", "the change reports are not about one revision, each with a base of its own")
    return tuple(sorted(reports, key=lambda r: r.ground.order()))


def _has_critical(content: bytes) -> bool:
    """Whether a report's JSON holds a new critical finding."""
    try:
        return bool(to_be_seen(json.loads(content)))
    except (ValueError, AttributeError, KeyError, TypeError) as error:
        raise ActRefused("bad_report", "the change report's content is not a report") from error


def _accepted(content: bytes) -> tuple[int, ...]:
    """The acceptances that a report's JSON rests on."""
    try:
        return accepted_numbers(json.loads(content))
    except (ValueError, AttributeError, KeyError, TypeError) as error:
        raise ActRefused("bad_report", "the change report's content is not a report") from error


def reports_digest(reports: Sequence[ReportFacts]) -> str:
    """What a lead has to have seen: the report's own digest, or one over all when machines hold several bases."""
    digests = [r.digest for r in sorted(reports, key=lambda r: r.ground.order())]
    if len(digests) == 1:
        return digests[0]
    return sha256(b"reports\0" + "\n".join(digests).encode("ascii")).hexdigest()


@dataclass(frozen=True, slots=True)
class ChallengeWord:
    """One word that an operator reads from the control: where it stands, as told to them, and what it must be."""

    place: str
    word: str


@dataclass(frozen=True, slots=True)
class PersonFacts:
    """A person of the shop."""

    id: int
    login: str
    full_name: str
    roles: tuple[str, ...]
    active: bool


@dataclass(frozen=True, slots=True)
class MachineFacts:
    """A machine; its folder is absolute or relative to the shop's folder, `profile_sha` is of the profile's bytes."""

    id: int
    name: str
    group: str | None
    folder: str
    extension: str
    takeover: bool
    profile_sha: str


@dataclass(frozen=True, slots=True)
class RevisionFacts:
    """One revision and where it stands; a decision must name `report_digest`, and `held_because` says why it waits."""

    id: int
    program: str
    target: str
    n: int
    sha: str
    state: str
    held_because: tuple[str, ...]
    authors: tuple[str, ...]
    reason: str
    report_digest: str
    base_shas: tuple[str | None, ...]
    has_critical: bool
    check_code: str
    submitted_us: int


@dataclass(frozen=True, slots=True)
class ProgramFacts:
    """A program: what it is for, how many revisions it has, and which one stands at which machine (machine, n)."""

    id: int
    name: str
    target: str
    revisions: int
    standing: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class ReleaseFacts:
    """One release to one machine. `at_machine` is True once the floor copy's digest has been read back."""

    id: int
    revision: int
    program: str
    n: int
    sha: str
    machine: str
    kind: str
    at_us: int
    ends_us: int | None
    at_machine: bool
    trouble: str | None
    check_code: str
    challenge: tuple[ChallengeWord, ...]
    confirmed: str | None


@dataclass(frozen=True, slots=True)
class StopNotice:
    """The answer to a recall: every machine believed to hold the revision, for people to be told at once."""

    program: str
    n: int
    sha: str
    machines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReadbackFacts:
    """One program as a control sent it, and how it compares with the revision that the machine should hold.

    `n` is that revision's number; `confirmed`: it has confirmed what is loaded; `again`: it was there already.
    """

    id: int
    machine: str
    program: str
    revision: int
    n: int
    sha: str
    equal: bool
    differences: tuple[str, ...]
    operator: str
    confirmed: bool
    at_us: int
    again: bool = False


@dataclass(frozen=True, slots=True)
class ConfirmationFacts:
    """One operator's statement at one machine: how it was made, how strong it is, what is known of what was there."""

    id: int
    release: int
    revision: int
    machine: str
    operator: str
    what: str
    how: str
    strength: str
    held_before: str
    at_us: int


@dataclass(frozen=True, slots=True)
class AcceptanceFacts:
    """A lead's acceptance of one standing hazard: `n` is the revision on whose report it was accepted, `words` what it points at.

    `ended_us`, `ended_by`, `ended_reason` are of its withdrawal, None while it holds.
    """

    id: int
    program: str
    target: str
    revision: int
    n: int
    key: str
    rule: str
    rule_revision: int
    weight: str
    title: str
    words: tuple[str, ...]
    by: str
    reason: str
    at_us: int
    ended_us: int | None
    ended_by: str | None
    ended_reason: str | None


@dataclass(frozen=True, slots=True)
class JobFacts:
    """One floor copy to be written or taken away."""

    id: int
    machine: MachineFacts
    program: str
    kind: str
    file: str
    sha: str
    release: int
    trouble: str | None


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One act as the ledger has it; `body` is its JSON text."""

    seq: int
    at_us: int
    person: str
    act: str
    subject: str
    body: str
