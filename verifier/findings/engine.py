"""Runs the rules over a comparison, or over one program, and gives findings in the order in which a lead should read them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from verifier.compare import CHANGED, WORDING, Comparison, Edit, Effect, Side
from verifier.findings.model import Finding, Status, Weight
from verifier.findings.policy import Policy
from verifier.findings.registry import change_rules, program_rules
from verifier.findings.rule import ChangeRule, ProgramRule, Rule
from verifier.findings.standing import Bindings, evidence
from verifier.findings.undone import with_undone
from verifier.findings.view import ChangeView, Drawn, Hazard, ProgramView

FAILED = "rule-failed"


@dataclass(frozen=True, slots=True)
class Judgement:
    """Findings in reading order, and the edits that were shown to change nothing."""

    findings: tuple[Finding, ...]
    harmless: tuple[Edit, ...]


def judge(
    comparison: Comparison,
    policy: Policy,
    *,
    change: Sequence[ChangeRule] | None = None,
    program: Sequence[ProgramRule] | None = None,
) -> Judgement:
    """Everything worth saying about a change. Pure: the same comparison and policy give the same findings in any order of rules."""
    return judge_change(ChangeView(comparison, policy), change=change, program=program)


def judge_change(
    view: ChangeView,
    *,
    change: Sequence[ChangeRule] | None = None,
    program: Sequence[ProgramRule] | None = None,
) -> Judgement:
    """As `judge`, of a change as rules see it."""
    policy = view.policy
    numbers = {id(effect): k for k, effect in enumerate(view.comparison.effects)}
    bindings = Bindings(view)
    found: list[Finding] = []
    for rule in change if change is not None else change_rules():
        left = view if not rule.catch_all else replace_covered(view, found)
        found += _run_change(rule, left, policy, numbers)
    for hazard_rule in program if program is not None else program_rules():
        found += _run_program(hazard_rule, bindings, policy)
    found = with_undone(view, _one_story(found))
    return Judgement(_ordered(found), _harmless(view, found))


def _one_story(found: list[Finding]) -> list[Finding]:
    """The findings without hazards that came or went by the very edits that a change of theirs is told of, no lighter than they."""
    hazards = {rule.id: rule.hazard for rule in change_rules() if rule.hazard}
    changes = [finding for finding in found if finding.rule in hazards]

    def told(hazard: Finding) -> bool:
        edits = {
            edit
            for change in changes
            if hazards[change.rule] == hazard.rule
            and (hazard.status is Status.GONE or change.weight.rank <= hazard.weight.rank)
            for edit in change.edits
        }
        return bool(hazard.edits) and edits.issuperset(hazard.edits)

    return [f for f in found if f.status not in (Status.NEW, Status.GONE) or not told(f)]


def judge_one(side: Side, policy: Policy) -> tuple[Finding, ...]:
    """The hazards in one program without a base; all of them are new."""
    return judge_program(ProgramView(side, "new", policy))


def judge_program(whole: ProgramView) -> tuple[Finding, ...]:
    """As `judge_one`, of a program as rules see it."""
    found, policy = list[Finding](), whole.policy
    for rule in program_rules():
        try:
            hazards = hazards_of(rule, whole, policy)
        except Exception as error:
            found.append(_failed(rule, error))
            continue
        found += [
            _of_hazard(rule, view, hazard, Status.NEW, policy, position)
            for (view, hazard, position), _ in gathered((entry, Status.NEW) for entry in hazards)
        ]
    return _ordered(found)


@dataclass(frozen=True)
class CoveredView(ChangeView):
    """A change as a catch-all rule sees it: with what other rules have accounted for already."""

    covered_effects: frozenset[int] = frozenset()
    covered_edits: frozenset[int] = frozenset()

    def uncovered(self) -> Iterable[Effect]:
        """Effects that no finding accounts for."""
        return (e for k, e in enumerate(self.comparison.effects) if k not in self.covered_effects)


def replace_covered(view: ChangeView, found: Iterable[Finding]) -> CoveredView:
    """The view with what these findings cover."""
    findings = list(found)
    return CoveredView(
        view.comparison,
        view.policy,
        frozenset(k for f in findings for k in f.covers),
        frozenset(k for f in findings for k in f.edits),
    )


def _run_change(rule: ChangeRule, view: ChangeView, policy: Policy, numbers: dict[int, int]) -> list[Finding]:
    try:
        return [_of_drawn(rule, view, drawn, policy, numbers) for drawn in rule.check(view)]
    except Exception as error:
        return [_failed(rule, error)]


def _of_drawn(rule: ChangeRule, view: ChangeView, drawn: Drawn, policy: Policy, numbers: dict[int, int]) -> Finding:
    edits = drawn.edits or tuple(sorted({k for effect in drawn.covers for k in effect.causes}))
    effects = drawn.effects or tuple(p for effect in drawn.covers for p in view.places(effect))
    positions = {effect.position for effect in drawn.covers}
    return Finding(
        rule.id,
        rule.revision,
        _weight(rule, drawn.weight, policy),
        Status.CHANGE,
        drawn.title,
        rule.why(),
        rule.watch,
        drawn.before,
        drawn.after,
        drawn.at or view.cause_places(edits),
        tuple(dict.fromkeys(effects))[:24],
        tuple(k for k in edits if k >= 0),
        tuple(numbers[id(effect)] for effect in drawn.covers),
        rule.people,
        drawn.extent or view.extent(drawn.covers),
        positions.pop() if len(positions) == 1 else "",
    )


def _weight(rule: Rule, given: Weight | None, policy: Policy) -> Weight:
    return Weight(policy.weight(rule.id, str(given or rule.weight)))


def _failed(rule: Rule, error: Exception) -> Finding:
    """A rule that breaks is a finding that holds the release, never a line in a log."""
    return Finding(
        FAILED, 1, Weight.CRITICAL, Status.CHANGE, f"The rule {rule.id} could not be computed: {error!r}",
        "What this rule looks for was not looked for.", "Treat the change as not checked for this.",
        None, None, (), (),
    )  # fmt: skip


# -- hazards: what one program holds ------------------------------------------------------------------------------------


Found = tuple[ProgramView, Hazard, str]


def hazards_of(rule: ProgramRule, view: ProgramView, policy: Policy) -> list[Found]:
    """The hazards of one side: those with the skips off, then those that only another switch position has."""
    if rule.house and rule.house not in policy.house:
        return []
    found: list[Found] = [(view, hazard, "") for hazard in _once(rule.check(view))]
    seen = {(h.block, h.same_as) for _, h, _ in found}
    for position, other in view.others:
        for hazard in _once(rule.check(other)):
            if (hazard.block, hazard.same_as) not in seen:
                seen.add((hazard.block, hazard.same_as))
                found.append((other, hazard, position))
    return found


def _once(hazards: Iterable[Hazard]) -> Iterable[Hazard]:
    seen = set()
    for hazard in hazards:
        key = (hazard.block, hazard.same_as)
        if key not in seen:
            seen.add(key)
            yield hazard


def _run_program(rule: ProgramRule, bindings: Bindings, policy: Policy) -> list[Finding]:
    view = bindings.change
    try:
        old = hazards_of(rule, view.old, policy)
        new = hazards_of(rule, view.new, policy)
    except Exception as error:
        return [_failed(rule, error)]
    pairs, gone, come = _matched(old, new, view.comparison.edits.alignment.old_to_new.tolist())
    told = [(entry, Status.STANDING) for entry in pairs] + [(entry, Status.NEW) for entry in come]
    told += [(entry, Status.GONE) for entry in gone]
    one_each = gathered(told)
    findings = [
        _of_hazard(rule, program, hazard, status, policy, position, view)
        for (program, hazard, position), status in one_each
    ]
    hazards = [hazard for (_, hazard, _), _ in one_each]
    return bindings.bound(rule, hazards, findings)


_HABIT = 3
"""So many hazards that are the same are the habit of a program, and one finding."""


def gathered(told: Iterable[tuple[Found, Status]]) -> list[tuple[Found, Status]]:
    """Hazards with their statuses; those of one habit and one status are one, at the first place, and show at the others."""
    groups: dict[tuple[object, ...], list[tuple[Found, Status]]] = {}
    for entry, status in told:
        _, hazard, position = entry
        key = (status, position, hazard.same_as) if hazard.habit else ("alone", len(groups))
        groups.setdefault(key, []).append((entry, status))
    found: list[tuple[Found, Status]] = []
    for group in groups.values():
        if len(group) < _HABIT:
            found += group
            continue
        ((view, first, position), status), *others = group
        title = first.habit.replace("{n}", str(len(others)))
        members = [hazard for (_, hazard, _), _ in group]
        whole = replace(
            first,
            title=title,
            effects=tuple(hazard.block for hazard in members[1:]),
            was=tuple(dict.fromkeys(block for hazard in members for block in hazard.was)),
            rests_on=tuple(dict.fromkeys(block for hazard in members for block in evidence(view, hazard))),
        )
        found.append(((view, whole, position), status))
    return found


def _matched(old: list[Found], new: list[Found], partner: list[int]) -> tuple[list[Found], list[Found], list[Found]]:
    """Hazards of both sides: those that stand (as the new side has them), those that went, those that came.

    The same hazard is one that says the same at paired blocks; of the rest, one that says the same at a block that was rewritten, in order.
    The other way round the outcome is mirrored.
    """
    places = {(h.block, h.same_as): k for k, (_, h, _) in enumerate(new)}
    taken: dict[int, int] = {}
    for k, (_, hazard, _) in enumerate(old):
        block = partner[hazard.block] if 0 <= hazard.block < len(partner) else -1
        match = places.get((block, hazard.same_as))
        if match is not None and match not in taken:
            taken[match] = k
    used = set(taken.values())
    left: dict[str, list[int]] = {}
    for k, (_, hazard, _) in enumerate(old):
        if k not in used:
            left.setdefault(hazard.same_as or hazard.title, []).append(k)
    for k, (_, hazard, _) in enumerate(new):
        waiting = left.get(hazard.same_as or hazard.title) if k not in taken else None
        if waiting:
            taken[k] = waiting.pop(0)
    used = set(taken.values())
    stand = [
        (view, replace(hazard, was=evidence(*old[taken[k]][:2])), position)
        for k, (view, hazard, position) in enumerate(new)
        if k in taken
    ]
    gone = [entry for k, entry in enumerate(old) if k not in used]
    return stand, gone, [entry for k, entry in enumerate(new) if k not in taken]


def _of_hazard(
    rule: ProgramRule,
    view: ProgramView,
    hazard: Hazard,
    status: Status,
    policy: Policy,
    position: str,
    change: ChangeView | None = None,
) -> Finding:
    edits = () if change is None or status is Status.STANDING else _brought_by(change, view, hazard)
    before, after, beside = _amounts(rule, view, hazard, position, change)
    title = hazard.title if status is Status.STANDING else hazard.title + beside
    return Finding(
        rule.id,
        rule.revision,
        _weight(rule, hazard.weight, policy),
        status,
        title,
        rule.why(),
        rule.watch,
        before,
        after,
        (view.place(hazard.block, hazard.column),),
        tuple(view.place(block) for block in hazard.effects[:24]),
        edits,
        (),
        rule.people,
        "",
        position,
        box=hazard.box,
    )


def _amounts(
    rule: ProgramRule, view: ProgramView, hazard: Hazard, position: str, change: ChangeView | None
) -> tuple[str | None, str | None, str]:
    """What a hazard measures, before and after, as far as its rule can tell what the other side has there, and that in words where it differs."""
    other = None if change is None or position else change.old if view.name == "new" else change.new
    there = rule.elsewhere(other, hazard) if other is not None else None
    if there is None:
        return hazard.before, hazard.after, ""
    if view.name == "new":
        return there, hazard.after, f" (before: {there})" if there != hazard.after else ""
    return hazard.after, there, f" (now: {there})" if there != hazard.after else ""


def _brought_by(change: ChangeView, view: ProgramView, hazard: Hazard) -> tuple[int, ...]:
    """The edits that brought a hazard, or took it away.

    Those on its own block; else those that stand on, or have an effect at, the most of the blocks where it shows; else the nearest one.
    """
    owner = change.comparison.edits.of_old if view.name == "old" else change.comparison.edits.of_new
    blocks = [block for block in dict.fromkeys((hazard.block, *hazard.effects)) if 0 <= block < len(owner)]
    if 0 <= hazard.block < len(owner) and owner[hazard.block] >= 0:
        return (int(owner[hazard.block]),)
    reach: dict[int, int] = {}
    for block in blocks:
        there = dict.fromkeys(change.reaching(view.name).get(block, ()))
        if owner[block] >= 0:
            there[int(owner[block])] = None
        for edit in there:
            reach[edit] = reach.get(edit, 0) + 1
    found = [edit for edit, count in sorted(reach.items()) if count == max(reach.values())]
    if not found and change.edits:
        found = [change.comparison.edits.nearest([(0 if view.name == "old" else 1, hazard.block)])]
    return tuple(found)


# -- order ----------------------------------------------------------------------------------------------------------------

_STATUS_ORDER = {Status.CHANGE: 0, Status.NEW: 0, Status.STANDING: 1, Status.GONE: 2}


_THE_REST = frozenset(("variable-changed", "sequence-start-incomplete", "state-left-changed"))
"""Rules about what is left, or what another start would lack: behind those of the same weight about what the tool does."""


_PART = frozenset(
    (
        "position-changed",
        "curve-changed",
        "moves-added",
        "moves-removed",
        "thread-depth-changed",
        "sign-lost",
        "decimal-point-lost",
    )
)
"""Rules about what is cut: before the others of the same weight at the same block, feeds and dwells among them."""


_ABOVE_ALL = frozenset(("written-for-a-mill",))
"""Rules that say that the others cannot be relied on."""


def _ordered(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Changes and new hazards before standing ones, heavy before light, people and machine, tool and part, the rest; then program order."""

    def key(finding: Finding) -> tuple[object, ...]:
        first = finding.causes[0] if finding.causes else None
        return (
            _STATUS_ORDER[finding.status],
            finding.weight.rank,
            finding.rule not in _ABOVE_ALL,
            finding.rule in _THE_REST,
            not finding.people,
            first.block if first else -1,
            finding.rule not in _PART,
            finding.rule,
            finding.title,
        )

    return tuple(sorted(found, key=key))


def _harmless(view: ChangeView, found: Iterable[Finding]) -> tuple[Edit, ...]:
    """Edits that no effect names as a cause and no finding speaks of: shown to change nothing, and listed as wording."""
    told = {k for effect in view.comparison.effects for k in effect.causes}
    told |= {k for finding in found for k in finding.edits}
    return tuple(edit for edit in view.edits if edit.index not in told)


__all__ = [
    "CHANGED",
    "FAILED",
    "WORDING",
    "CoveredView",
    "Judgement",
    "hazards_of",
    "judge",
    "judge_change",
    "judge_one",
    "judge_program",
]
