"""`review` and `examine`: from bytes to a change report. Pure: the same bytes, profile, setup and policy give the same report."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from verifier.compare import SAME, UNDETERMINED, Comparison, Side, compare, levels_of, side, try_keys
from verifier.control import Library, Trace
from verifier.findings import (
    FAILED,
    ChangeView,
    Finding,
    Judgement,
    Policy,
    ProgramView,
    Status,
    Weight,
    default_policy,
    judge_change,
    judge_program,
    mill_words,
    revisions,
    with_outside,
)
from verifier.findings.touched import Touched, summary, touched
from verifier.machines import Machine, Setup, generic_lathe
from verifier.report.accepted import Acceptance, standing_rows
from verifier.report.cards import cards
from verifier.report.challenge import challenge, first_challenge
from verifier.report.change_report import (
    SINCE_PROVEN,
    BlockRow,
    ChangeReport,
    Named,
    NotChecked,
    ProgramFacts,
    SignOffNeed,
    Total,
)
from verifier.report.choice_gaps import choice_gaps
from verifier.report.clock import time_report
from verifier.report.collecting import no_collection
from verifier.report.json_form import digest_of
from verifier.report.load_report import load_report
from verifier.report.part_added import with_part
from verifier.report.part_gaps import part_gaps
from verifier.report.part_made import part_of_program
from verifier.report.part_report import part_level
from verifier.report.picture import picture_of_change, picture_of_program
from verifier.report.prove_out import first_prove_out
from verifier.report.wording import wording
from verifier.source import Source, read_source
from verifier.syntax import Program, check_code, parse_program
from verifier.version import VERSION


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A report, its picture as SVG, drawn when it is asked for, and the program that it is about, executed."""

    report: ChangeReport
    picture: Callable[[], str]
    side: Side


def review(
    old: bytes | Source | Program,
    new: bytes | Source | Program,
    *,
    machine: Machine | None = None,
    old_machine: Machine | None = None,
    setup: Setup | None = None,
    old_setup: Setup | None = None,
    policy: Policy | None = None,
    library: Library | None = None,
    old_library: Library | None = None,
    proven: bytes | Source | Program | None = None,
    proven_library: Library | None = None,
    accepted: Iterable[Acceptance] = (),
) -> ChangeReport:
    """Compare a revision with its base as the machine runs them.

    `machine` defaults to the generic lathe; `old_machine`, `old_setup`, `old_library` to the same as the new side. `proven` is the revision
    last proven at the machine, `proven_library` what it called then: the report tells the total change since it too, and what that needs.
    `accepted` are the acceptances of hazards that hold: those are counted, not told anew.
    Raises SourceRefused for bytes that are no program and MachineError for a machine that cannot be executed yet.
    """
    return reviewed(
        old, new, machine=machine, old_machine=old_machine, setup=setup, old_setup=old_setup, policy=policy,
        library=library, old_library=old_library, proven=proven, proven_library=proven_library, accepted=accepted,
    ).report  # fmt: skip


@no_collection()
def reviewed(
    old: bytes | Source | Program,
    new: bytes | Source | Program,
    *,
    machine: Machine | None = None,
    old_machine: Machine | None = None,
    setup: Setup | None = None,
    old_setup: Setup | None = None,
    policy: Policy | None = None,
    library: Library | None = None,
    old_library: Library | None = None,
    proven: bytes | Source | Program | None = None,
    proven_library: Library | None = None,
    accepted: Iterable[Acceptance] = (),
) -> Reviewed:
    """As `review`; beside the report what it was made of, for a picture."""
    machine = machine or generic_lathe()
    policy = (policy or default_policy()).at(machine.name)
    before, after = _program(old, "old"), _program(new, "new")
    there = (old_machine or machine, old_setup or setup, old_library or library)
    comparison = compare(*_sides((before, *there), (after, machine, setup, library)))
    change = ChangeView(comparison, policy)
    judgement = judge_change(change)
    tried = try_keys(comparison, library)
    findings = with_outside(judgement.findings, tried, policy)
    touches = touched(change)
    report = ChangeReport(
        verdict=comparison.verdict,
        position=comparison.position,
        levels=_levels(comparison),
        sign_off=_sign_off(findings, touches, policy, comparison),
        findings=findings,
        cards=cards(change, findings, touches),
        touched=touches,
        wording=wording(change, judgement.harmless),
        unchecked=_unchecked(change.views()),
        blocks=tuple(BlockRow(p.old, p.new, p.kind) for p in comparison.edits.pairings),
        part=None,
        time=time_report(comparison.old, comparison.new),
        old=_facts(comparison.old),
        new=_facts(comparison.new),
        machine=Named(machine.name, machine.digest),
        old_machine=Named(old_machine.name, old_machine.digest) if old_machine else None,
        setup=Named(setup.name, setup.digest) if setup else None,
        old_setup=Named(old_setup.name, old_setup.digest) if old_setup else None,
        policy=Named(policy.name, policy.digest),
        rules=revisions(),
        outside=tried.keys,
        total=None,
        alike=_alike(comparison),
        challenge=challenge(change),
        tool_version=VERSION,
        digest="",
        load=load_report(change.old, change.new),
        standing=standing_rows(findings, comparison.verdict, accepted),
    )
    around = {"machine": machine, "setup": setup, "policy": policy, "library": library, "old_library": proven_library}
    report = _with_total(with_part(report, change, judgement.findings), proven, after, **around)
    report = replace(report, digest=digest_of(report))
    return Reviewed(report, lambda: picture_of_change(change, report.cards, report.findings), comparison.new)


Given = tuple[Program, Machine, Setup | None, Library | None]


def _sides(old: Given, new: Given) -> tuple[Side, Side]:
    """Both programs executed, under the skip levels of either."""
    levels = tuple(sorted({*levels_of(old[0]), *levels_of(new[0])}))
    program, machine, setup, library = old
    before = side(program, machine, setup=setup, library=library, levels=levels)
    program, machine, setup, library = new
    alike = all(mine is other for mine, other in zip(old[1:], new[1:], strict=True))
    return before, side(program, machine, setup=setup, library=library, levels=levels, like=before if alike else None)


def _with_total(
    report: ChangeReport, proven: bytes | Source | Program | None, new: Program, **around: Any
) -> ChangeReport:
    """The report with the total change since the proven revision, where that is another one than the base."""
    if proven is None or report.old is None:
        return report
    last = _program(proven, "proven")
    if last.source.sha256 == report.old.sha256:
        return report
    whole = review(last, new, **around)
    assert whole.old is not None and whole.verdict is not None
    fresh = tuple(f for f in whole.findings if f.status in (Status.CHANGE, Status.NEW))
    needed = [f"{SINCE_PROVEN}{reason}" for reason in whole.sign_off.reasons]
    reasons = tuple(dict.fromkeys((*report.sign_off.reasons, *needed)))
    total = Total(whole.old, whole.verdict, whole.sign_off, fresh, whole.digest)
    return replace(report, total=total, sign_off=SignOffNeed(bool(reasons), reasons))


def examine(
    program: bytes | Source | Program,
    *,
    machine: Machine | None = None,
    setup: Setup | None = None,
    policy: Policy | None = None,
    library: Library | None = None,
) -> ChangeReport:
    """Judge one program without a base: a first submission."""
    return examined(program, machine=machine, setup=setup, policy=policy, library=library).report


@no_collection()
def examined(
    program: bytes | Source | Program,
    *,
    machine: Machine | None = None,
    setup: Setup | None = None,
    policy: Policy | None = None,
    library: Library | None = None,
) -> Reviewed:
    """As `examine`; beside the report what it was made of, for a picture."""
    machine = machine or generic_lathe()
    policy = (policy or default_policy()).at(machine.name)
    read = _program(program, "program")
    one = side(read, machine, setup=setup, library=library)
    view = ProgramView(one, "new", policy)
    findings = judge_program(view)
    report = ChangeReport(
        verdict=None,
        position="",
        levels={},
        sign_off=_first_sign_off(findings, policy),
        findings=findings,
        cards=(),
        touched=(),
        wording=(),
        unchecked=_unchecked((view,)),
        blocks=(),
        part=part_of_program(one, view.units),
        time=time_report(None, one),
        old=None,
        new=_facts(one),
        machine=Named(machine.name, machine.digest),
        old_machine=None,
        setup=Named(setup.name, setup.digest) if setup else None,
        old_setup=None,
        policy=Named(policy.name, policy.digest),
        rules=revisions(),
        outside=(),
        total=None,
        alike=None,
        challenge=first_challenge(read),
        tool_version=VERSION,
        digest="",
        prove_out=first_prove_out(view, findings),
        load=load_report(None, view),
    )
    report = replace(report, digest=digest_of(report))
    return Reviewed(report, lambda: picture_of_program(one, view.units), one)


def _program(given: bytes | Source | Program, name: str) -> Program:
    if isinstance(given, Program):
        return given
    return parse_program(given if isinstance(given, Source) else read_source(given, name))


def _facts(one: Side) -> ProgramFacts:
    program = one.program
    traces = (one.trace, *(trace for _, trace in one.switched))
    called = tuple(sorted({entry for trace in traces for entry in trace.called}))
    return ProgramFacts(program.source.name, program.source.sha256, check_code(program), len(program.blocks), called)


def _levels(comparison: Comparison) -> dict[str, str]:
    """The four questions, each answered for itself."""
    same_bytes = comparison.old.program.source.sha256 == comparison.new.program.source.sha256
    behaviour = {SAME: "same", UNDETERMINED: "undetermined"}.get(comparison.verdict, "changed")
    return {
        "wording": "same" if same_bytes else "changed",
        "words": "changed" if comparison.edits.edits else "same",
        "behaviour": behaviour,
        "part": part_level(comparison),
    }


def _sign_off(
    findings: Iterable[Finding], touches: tuple[Touched, ...], policy: Policy, comparison: Comparison
) -> SignOffNeed:
    """A lead for heavy findings that are new, for touched words, and for what could not be determined."""
    switches = policy.sign_off
    heavy = {Weight.CRITICAL: switches.critical, Weight.MAJOR: switches.major, Weight.MINOR: switches.minor}
    reasons = [
        f.rule
        for f in findings
        if f.rule == FAILED
        or (f.status in (Status.CHANGE, Status.NEW) and (heavy[f.weight] or f.rule in switches.rules))
    ]
    if switches.touched_words:
        reasons += summary(t for t in touches if t.kind not in switches.words_left_out)
    if switches.undetermined and comparison.verdict == UNDETERMINED:
        reasons.append("undetermined")
    return SignOffNeed(bool(reasons), tuple(dict.fromkeys(reasons)))


def _first_sign_off(findings: Iterable[Finding], policy: Policy) -> SignOffNeed:
    reasons = ["first submission"] if policy.sign_off.first_submission else []
    reasons += [f.rule for f in findings if f.weight is not Weight.MINOR or f.rule in policy.sign_off.rules]
    return SignOffNeed(bool(reasons), tuple(dict.fromkeys(reasons)))


def _unchecked(views: Sequence[ProgramView]) -> tuple[NotChecked, ...]:
    """What neither side could compute, each thing once with how often, the new side's place where it has one."""
    found: dict[tuple[str, str], NotChecked] = {}
    for view in views:
        for trace in _traces(view):
            for entry in trace.unchecked:
                place = view.place(entry.block) if entry.block is not None else None
                key = (entry.what, entry.reason)
                known = found.get(key)
                if known is None or (view.name == "new" and known.place is not None and known.place.side == "old"):
                    found[key] = NotChecked(entry.what, entry.reason, place)
                elif known.place is not None and place is not None and known.place.side == place.side:
                    found[key] = replace(known, count=known.count + 1)
    general = [*_milled(views), *part_gaps(views), *choice_gaps(views)]
    if len({view.machine.digest for view in views}) > 1:
        reason = "what only the machine knows (reference points, tool and work offsets, kept values) is taken to be the same on both"
        general.append(NotChecked("two machines", reason, None))
    return (*general, *found.values())


def _milled(views: Sequence[ProgramView]) -> list[NotChecked]:
    view, found = next(((v, found) for v in reversed(views) if (found := mill_words(v))), (views[-1], {}))
    reason = "the profile of a lathe without a Y axis reads a program that has one: where Y goes, and what is milled, are not computed"
    return [NotChecked("milled material", reason, view.place(min(found.values())))] if found else []


def _traces(view: ProgramView) -> tuple[Trace, ...]:
    return tuple(trace for _, trace in view.traces)


def _alike(comparison: Comparison) -> float:
    pairs = sum(1 for p in comparison.edits.pairings if p.kind in ("same", "wording", "moved", "changed"))
    return pairs / max(len(comparison.old.program.blocks), len(comparison.new.program.blocks), 1)


__all__ = ["Comparison", "Judgement", "Side", "examine", "review"]
