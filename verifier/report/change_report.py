"""The change report: everything computed about base -> revision, as one frozen value. Deterministic, with a digest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from verifier.compare import Outside
from verifier.findings import Finding, Place
from verifier.findings.touched import Touched
from verifier.report.accepted import Acceptance, StandingRow
from verifier.report.load_report import LoadReport
from verifier.report.part_report import PartReport

SCHEMA = "change-report/1"
SINCE_PROVEN = "since the proven revision: "
"""So begins a reason for a sign-off that only the total change has."""
ALIKE_LEAST = 0.3
"""Two programs with a smaller share of like blocks may not belong together."""


@dataclass(frozen=True, slots=True)
class WordingChange:
    """A text difference that was shown to leave behaviour as it was. `kind`: "spelling", "block number", "note", "layout", "line ends",
    or "no effect" (words differ, and the machine does the same): `before` and `after` are then the blocks, None where there is none.
    """

    old: Place | None
    new: Place | None
    kind: str
    before: str | None = None
    after: str | None = None


@dataclass(frozen=True, slots=True)
class NotChecked:
    """Something that was not computed or rests on something nobody verified: `count` times, first at `place`."""

    what: str
    reason: str
    place: Place | None
    count: int = 1


@dataclass(frozen=True, slots=True)
class BlockRow:
    """How one block of either side is paired: block indices or None, and "same", "wording", "changed", "added", "removed", "moved"."""

    old: int | None
    new: int | None
    kind: str


@dataclass(frozen=True, slots=True)
class WordRow:
    """One word of an edit as it was and as it is (None: not there)."""

    old: str | None
    new: str | None


@dataclass(frozen=True, slots=True)
class Card:
    """One edit as a lead reads it: its words and blocks, what it does, heaviest first.

    `findings` are indices into the report's findings; `places` where the edit stands; `old`, `new` its blocks as text (a few, with how many
    there are); `extent` how far its effects reach.
    """

    findings: tuple[int, ...]
    places: tuple[Place, ...]
    old: tuple[str, ...]
    new: tuple[str, ...]
    words: tuple[WordRow, ...]
    count: int
    touched: tuple[str, ...]
    outside: tuple[int, ...] = ()
    """Indices of the keys of profile and setup sheet, where no edit is behind it."""
    features: tuple[int, ...] = ()
    """Indices of the sizes of the finished part that it moves."""
    around: tuple[float, float, float, float] | None = None
    """What its small picture shows: Z from and to, radius from and to, mm; None where it has no place in the path."""


@dataclass(frozen=True, slots=True)
class ProveOut:
    """One sequence of the prove-out list.

    `restart` is the block to start from, `block` its text ("" where the sequence cannot be started alone: start from the top); `why` it is on the
    list; `slow` where to go slowly; `distance` what to check before the first cut; `reads` what the control shows there; `measure` on the first part.
    """

    restart: Place
    block: str
    why: tuple[str, ...]
    slow: tuple[str, ...]
    distance: str
    reads: tuple[str, ...]
    measure: tuple[str, ...]

    @property
    def start(self) -> str:
        """Where to start, in words."""
        if not self.block:
            return f"{self.restart.label}: not alone; start from the top of the program"
        return f"{self.restart.label}: restart at line {self.restart.line}, {self.block}"


@dataclass(frozen=True, slots=True)
class Share:
    """What a part of the time is spent on, before and after: "cutting", "air", "standing"; without a swept part "feed", "rapid", "other"."""

    name: str
    before_s: str | None
    after_s: str | None


@dataclass(frozen=True, slots=True)
class SequenceTime:
    """Seconds of one sequence before and after (None: not there), how many the change saves (below zero: costs), and its three shares.

    Shares make up the whole to the last digit. `saved_s` is None without a base.
    """

    label: str
    before_s: str | None
    after_s: str | None
    saved_s: str | None
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class TimeReport:
    """Seconds of the whole program before and after, by sequence, with what the estimate assumes and lacks. See `SequenceTime`."""

    before_s: str | None
    after_s: str
    saved_s: str | None
    shares: tuple[Share, ...]
    sequences: tuple[SequenceTime, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SignOffNeed:
    """Whether a lead must sign, and why: rule ids, touched words, "undetermined", "first submission"."""

    required: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProgramFacts:
    """One side's program: name as given, SHA-256 of its bytes, check code, blocks, digests of called programs of the library."""

    name: str
    sha256: str
    check_code: str
    blocks: int
    called: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Named:
    """A profile, setup sheet or policy: its name and digest."""

    name: str
    digest: str


@dataclass(frozen=True, slots=True)
class Total:
    """What changed since the revision last proven at the machine: its verdict, what needs a lead, what is new since then, its own digest."""

    proven: ProgramFacts
    verdict: str
    sign_off: SignOffNeed
    findings: tuple[Finding, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class ChangeReport:
    """Everything that was computed. `verdict` and `old` are None for a program without a base."""

    verdict: str | None
    position: str
    levels: Mapping[str, str]
    sign_off: SignOffNeed
    findings: tuple[Finding, ...]
    cards: tuple[Card, ...]
    touched: tuple[Touched, ...]
    wording: tuple[WordingChange, ...]
    unchecked: tuple[NotChecked, ...]
    blocks: tuple[BlockRow, ...]
    part: PartReport | None
    time: TimeReport
    old: ProgramFacts | None
    new: ProgramFacts
    machine: Named
    old_machine: Named | None
    setup: Named | None
    old_setup: Named | None
    """The base's own setup sheet; None where it is that of the new side."""
    policy: Named
    rules: Mapping[str, int]
    outside: tuple[Outside, ...]
    """The keys in which the profiles and the setup sheets of both sides differ."""
    total: Total | None
    """The total change since the revision last proven there; None where it is the base, or none is known."""
    alike: float | None
    """Share of the larger program's blocks that have a like partner; None without a base."""
    challenge: tuple[tuple[str, str], ...]
    """Places and words of changed blocks, to be read from the control when confirming by check code."""
    tool_version: str
    digest: str
    prove_out: tuple[ProveOut, ...] = ()
    """The sequences to prove out, in the order of the cards."""
    load: LoadReport | None = None
    """What the cuts ask of tool and spindle, and the surface they leave; None where a side has no part."""
    standing: tuple[StandingRow, ...] = ()
    """The hazards that stood before, and which of them are accepted."""

    @property
    def accepted(self) -> tuple[tuple[Finding, Acceptance], ...]:
        """The accepted hazards, each with its acceptance."""
        return tuple((self.findings[row.finding], row.accepted) for row in self.standing if row.accepted is not None)

    @property
    def told_in_full(self) -> tuple[Finding, ...]:
        """The hazards that stood before and are not accepted."""
        return tuple(self.findings[row.finding] for row in self.standing if row.accepted is None)
