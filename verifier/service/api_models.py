"""What the API takes and gives, as models: nothing unknown, nothing turned into another type, every length bounded."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Text = Annotated[str, Field(min_length=1, max_length=4000)]
Name = Annotated[str, Field(min_length=1, max_length=64)]
Pin = Annotated[str, Field(min_length=1, max_length=256)]
Number = Annotated[int, Field(ge=1, le=2**53 - 1)]
Micros = Annotated[int, Field(description="microseconds since 1970, UTC")]


class Given(BaseModel):
    """Base of what is sent in."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, hide_input_in_errors=True)


class Answer(BaseModel):
    """Base of what is given back."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, from_attributes=True)


class Because(Given):
    """An act with its reason."""

    reason: Text


class SignedBecause(Because):
    """An act with its reason, for which the person proves again who they are."""

    pin: Pin


class Signed(Given):
    """An act that says for itself why, for which the person proves again who they are."""

    pin: Pin


Beside = Annotated[list[Name], Field(max_length=50)]


class Submission(Because):
    """A program to be taken in; `program` and `setup` are bytes as base64.

    `beside` names called programs whose open revisions go with it.
    """

    program: Annotated[str, Field(min_length=1, json_schema_extra={"contentEncoding": "base64"})]
    setup: Annotated[str | None, Field(json_schema_extra={"contentEncoding": "base64"})] = None
    beside: Beside = []


class Releasing(SignedBecause):
    """A release; `beside` names programs of the same machine or group whose open revisions are released in the same act, or none is."""

    beside: Beside = []


class Decision(SignedBecause):
    """A lead's decision on the report whose whole digest is named, with the new critical findings that were read."""

    verdict: Literal["approve", "prove-out", "turn back"]
    report: Name
    ticked: Annotated[list[Name], Field(max_length=10_000)] = []
    machine: Name | None = None
    days: Annotated[int, Field(ge=1, le=366)] | None = None


class Accepting(SignedBecause):
    """A lead's acceptance of a standing hazard: its key in the report whose whole digest is named."""

    hazard: Name
    report: Name


class SentBack(Given):
    """What a control sent back; `program` is bytes as base64, `machine` is needed where the program is for a group."""

    program: Annotated[str, Field(min_length=1, json_schema_extra={"contentEncoding": "base64"})]
    machine: Name | None = None


class Confirmation(Given):
    """One of: a read-back's number; a check code with two words; a prove-out's readings."""

    pin: Pin
    machine: Name | None = None
    readback: Number | None = None
    code: Name | None = None
    words: Annotated[list[Annotated[str, Field(max_length=200)]], Field(max_length=4)] = []
    readings: Text | None = None


class AtMachine(Given):
    """An act at one machine; `machine` is needed where the program is for a group."""

    pin: Pin
    machine: Name | None = None


class AtMachineBecause(AtMachine):
    """An act at one machine with its reason."""

    reason: Text


class Paging(BaseModel):
    """Which part of a list."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)
    after: Annotated[int, Field(ge=0, le=2**53 - 1)] = 0
    most: Annotated[int, Field(ge=1, le=500)] = 100


class InState(BaseModel):
    """Which state."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)
    state: Literal[
        "submitted", "held", "cleared", "released", "retired", "turned back", "prove-out", "withdrawn", "recalled"
    ] = "held"


class Me(Answer):
    """The person a token acts for; `scopes` is null for a session at a screen."""

    login: str
    full_name: str
    roles: tuple[str, ...]
    scopes: tuple[str, ...] | None


class Program(Answer):
    """A program, and which revision stands at which machine."""

    id: int
    name: str
    target: str
    revisions: int
    standing: tuple[tuple[str, int], ...]


class Programs(Answer):
    """Some programs by id; `after` of the next part is the last one's id."""

    programs: tuple[Program, ...]


class Revision(Answer):
    """A revision and where it stands."""

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
    submitted_us: Micros


class Revisions(Answer):
    """Revisions, oldest first."""

    revisions: tuple[Revision, ...]


class ToBeTicked(Answer):
    """A new critical finding: a decision that lets the revision go to a machine names it in `ticked`.

    `since_proven`: the total change since the revision last proven there has it, and the change from the base has not.
    """

    name: str
    rule: str
    line: int | None
    title: str
    since_proven: bool


class Report(Answer):
    """A stored change report; `report` is its JSON form as it was signed.

    `proven_sha` is the revision last proven there, where that is not the base: the report tells the total change since it, too.
    """

    digest: str
    verdict: str
    sign_off_required: bool
    sign_off_reasons: tuple[str, ...]
    has_critical: bool
    base_sha: str | None
    proven_sha: str | None
    to_be_ticked: tuple[ToBeTicked, ...]
    report: dict[str, Any]


class RevisionWithReports(Answer):
    """One revision with the reports it stands on."""

    revision: Revision
    reports: tuple[Report, ...]


class ReportText(Answer):
    """A report in words, for a terminal: as told at first, and with everything."""

    text: str
    everything: str


class Near(Answer):
    """For a first submission: the revision of another program that shares the most of its blocks, to compare with."""

    program: str
    target: str
    n: int
    percent: int


class Compared(Answer):
    """A revision beside the nearest program of the library, for information: no report that is signed. All null where none is near."""

    near: Near | None
    text: ReportText | None
    report: dict[str, Any] | None


class Submitted(Answer):
    """What came of a submission."""

    revision: Revision
    reports: tuple[ReportText, ...]
    near: Near | None


class CheckedAgain(Answer):
    """A held revision on its new reports."""

    revision: Revision
    reports: tuple[ReportText, ...]


class Acceptance(Answer):
    """A standing hazard that a lead accepted, on the report of revision `n`; withdrawn where `ended_us` is not null.

    It holds for as long as a report has the hazard under the same `key`: any edit of its words, or of what the machine does there, ends it.
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
    at_us: Micros
    ended_us: Micros | None
    ended_by: str | None
    ended_reason: str | None


class Acceptances(Answer):
    """Acceptances, oldest first."""

    acceptances: tuple[Acceptance, ...]


class Place(Answer):
    """Where on the control a word is to be read; the word itself is the operator's to say."""

    place: str


class Release(Answer):
    """One release to one machine."""

    id: int
    revision: int
    program: str
    n: int
    sha: str
    machine: str
    kind: str
    at_us: Micros
    ends_us: Micros | None
    at_machine: bool
    trouble: str | None
    check_code: str
    challenge: tuple[Place, ...]
    confirmed: str | None


class Job(Answer):
    """What became of one file."""

    machine: str
    program: str
    kind: str
    file: str
    state: str
    trouble: str | None


class Jobs(Answer):
    """What became of files."""

    jobs: tuple[Job, ...]


class Released(Answer):
    """What was ordered, and what became of the files."""

    releases: tuple[Release, ...]
    jobs: tuple[Job, ...]


class Stop(Answer):
    """A recall: machines believed to hold the revision, to be told at once."""

    program: str
    n: int
    sha: str
    machines: tuple[str, ...]


class Readback(Answer):
    """A read-back and how it compares; `n`: with which revision, `again`: it was there already, and is given again."""

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
    at_us: Micros
    again: bool


class Readbacks(Answer):
    """Read-backs, oldest first."""

    readbacks: tuple[Readback, ...]


class ReadbackWithBytes(Answer):
    """A read-back with what the control sent, as base64."""

    readback: Readback
    sent: str


class Confirmed(Answer):
    """An operator's confirmation."""

    id: int
    release: int
    revision: int
    machine: str
    operator: str
    what: str
    how: str
    strength: str
    held_before: str
    at_us: Micros


class Entry(Answer):
    """One act as the ledger has it."""

    seq: int
    at_us: Micros
    person: str
    act: str
    subject: str
    body: dict[str, Any]


class History(Answer):
    """Acts, oldest first."""

    entries: tuple[Entry, ...]


class Machine(Answer):
    """A machine of the shop."""

    id: int
    name: str
    group: str | None
    folder: str
    extension: str
    takeover: bool
    profile_sha: str


class Machines(Answer):
    """Every machine."""

    machines: tuple[Machine, ...]


class Standing(Answer):
    """A machine and what it should hold now."""

    machine: Machine
    releases: tuple[Release, ...]


class Rule(Answer):
    """A rule: what it finds, why that matters, what to watch at the machine."""

    id: str
    revision: int
    weight: str
    kind: Literal["hazard", "change"]
    title: str
    why: str
    watch: str


class Rules(Answer):
    """Every rule, by id."""

    rules: tuple[Rule, ...]


class Problem(Answer):
    """Problem details (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    code: str
    id: str | None
    hint: str = ""
    problems: list[dict[str, Any]] = []
