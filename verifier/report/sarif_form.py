"""The report as SARIF 2.1.0 (OASIS Standard, Errata 01), for tools that show findings beside the text.

Rules with their levels, results with the status they have against the base, places counted in characters, sequences as logical locations.
Paths are those that were given, relative or none: no folder of this computer is told. What was not checked is a notification, so that a run
that could not look everywhere says so (3.58). Where another revision than the base was last proven at the machine, a second run has what is new since
that one, with it as its base.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import PurePath, PureWindowsPath
from typing import Any
from urllib.parse import quote

from verifier.findings import Finding, Place, Status, Weight, all_rules
from verifier.report.accepted import Acceptance
from verifier.report.accepted_text import moment_of
from verifier.report.change_report import ChangeReport, NotChecked, ProgramFacts, SignOffNeed, Total
from verifier.report.json_form import CAUTION

SARIF_VERSION = "2.1.0"
SARIF_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"

LEVELS = {Weight.CRITICAL: "error", Weight.MAJOR: "warning", Weight.MINOR: "note"}
"""3.27.10: a note is "a minor problem or an opportunity to improve the code"."""
STATES = {Status.CHANGE: "new", Status.NEW: "new", Status.STANDING: "unchanged", Status.GONE: "absent"}
"""3.27.24: against the base that the revision is compared with."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What one run tells: the revision against one base, with the words for that base."""

    report: ChangeReport
    sides: Mapping[str, ProgramFacts]
    base: str
    findings: tuple[Finding, ...]
    unchecked: tuple[NotChecked, ...]
    accepted: Mapping[int, Acceptance]
    properties: Mapping[str, Any]


def to_sarif(report: ChangeReport) -> dict[str, Any]:
    """The report as one SARIF log: one run, and a second one where the total change since the revision last proven there is another."""
    runs = [_run(_told(report))]
    if report.total is not None:
        runs.append(_run(_told_since(report, report.total)))
        for run, (name, text) in zip(runs, _RUNS.items(), strict=True):
            run["automationDetails"] = {"id": name, "description": {"text": text}}
    return {"$schema": SARIF_SCHEMA, "version": SARIF_VERSION, "runs": runs}


_RUNS = {
    "since-base": "The revision against its base, the one last released to the machine.",
    "since-proven": "The total change: the revision against the one last proven at the machine.",
}
"""The two runs of a log, where there are two (3.17)."""


def _told(report: ChangeReport) -> _Told:
    sides = {side: facts for side, facts in (("old", report.old), ("new", report.new)) if facts is not None}
    accepted = {row.finding: row.accepted for row in report.standing if row.accepted is not None}
    return _Told(report, sides, "the base", report.findings, report.unchecked, accepted, _properties(report))


def _told_since(report: ChangeReport, total: Total) -> _Told:
    """The total has what is new since then; what could not be checked is told with the base."""
    sides = {"old": total.proven, "new": report.new}
    properties = {**_properties(report), **_verdict(total.verdict, total.sign_off), "digest": total.digest}
    for name in ("touched", "total"):
        del properties[name]
    return _Told(report, sides, "the revision last proven at the machine", total.findings, (), {}, properties)


def _run(told: _Told) -> dict[str, Any]:
    artifacts, report = _Artifacts(told), told.report
    rules = sorted({finding.rule for finding in told.findings})
    return {
        "tool": {
            "driver": {
                "name": "verifier",
                "version": report.tool_version,
                "shortDescription": {"text": "Compares revisions of CNC programs as the machine runs them."},
                "fullDescription": {"text": CAUTION},
                "rules": _rules(rules),
                "notifications": [
                    {
                        "id": "not-checked",
                        "shortDescription": {"text": "Something could not be computed or rests on an assumption."},
                        "defaultConfiguration": {"level": "warning"},
                    }
                ],
            }
        },
        "columnKind": "unicodeCodePoints",
        "newlineSequences": ["\r\r\n", "\n\r\r", "\r\n", "\n\r", "\n", "\r"],
        "invocations": [
            {
                # The run did what it was asked to; what it could not look at is told one by one.
                "executionSuccessful": True,
                "toolExecutionNotifications": [_notification(entry, artifacts) for entry in told.unchecked],
            }
        ],
        "artifacts": artifacts.listed(),
        "logicalLocations": artifacts.sequences(),
        "results": _results(told, rules, artifacts),
        "properties": dict(told.properties),
    }


def _rules(rules: Iterable[str]) -> list[dict[str, Any]]:
    known = {rule.id: rule for rule in all_rules()}
    found = []
    for name in rules:
        rule = known.get(name)
        if rule is None:  # a rule that broke off has no page of its own
            text = {"text": "A rule could not be computed."}
            found.append(
                {"id": name, "shortDescription": text, "defaultConfiguration": {"level": LEVELS[Weight.CRITICAL]}}
            )
            continue
        found.append(
            {
                "id": rule.id,
                "shortDescription": {"text": rule.title},
                "fullDescription": {"text": rule.why()},
                "help": {"text": f"At the machine: {rule.watch}"},
                "defaultConfiguration": {"level": LEVELS[rule.weight]},
                "properties": {"revision": rule.revision, "weight": str(rule.weight)},
            }
        )
    return found


class _Artifacts:
    """The programs of a run as its files, and their sequences as logical locations."""

    def __init__(self, told: _Told) -> None:
        self._sides, self._base = told.sides, told.base
        self._index = {side: index for index, side in enumerate(self._sides)}
        self._names = _names(self._sides)
        places = [p for f in told.findings for p in (*f.causes, *f.effects)]
        places += [entry.place for entry in told.unchecked if entry.place is not None]
        self._sequences = {
            key: index for index, key in enumerate(dict.fromkeys((p.side, p.label) for p in places if p.label))
        }

    def listed(self) -> list[dict[str, Any]]:
        """The programs, in the order of their indices."""
        return [
            {
                "location": {"uri": self._names[side]},
                "hashes": {"sha-256": facts.sha256},
                "roles": ["analysisTarget"] if side == "new" else ["referencedOnCommandLine"],
                "description": {"text": self._base if side == "old" else "the revision"},
            }
            for side, facts in self._sides.items()
        ]

    def sequences(self) -> list[dict[str, Any]]:
        """The sequences that something is told of, each with the program it is in."""
        return [
            {"name": label, "fullyQualifiedName": f"{side}/{label}", "kind": "sequence"}
            for side, label in self._sequences
        ]

    def location(self, place: Place) -> dict[str, Any]:
        """A place: one point in a program, and the sequence that it is in."""
        found: dict[str, Any] = {
            "physicalLocation": {
                "artifactLocation": {"uri": self._names[place.side], "index": self._index[place.side]},
                "region": {"startLine": place.line, "startColumn": place.column},
            }
        }
        if place.label:
            found["logicalLocations"] = [{"index": self._sequences[place.side, place.label], "name": place.label}]
        return found


def _names(sides: Mapping[str, ProgramFacts]) -> dict[str, str]:
    """A relative URI for each program: the path as given where it is relative and stays inside, else its last part; never twice the same."""
    found: dict[str, str] = {}
    for side, facts in sides.items():
        given = facts.name
        windows = PureWindowsPath(given)
        pure = windows if windows.drive or "\\" in given else PurePath(given)
        outside = pure.is_absolute() or bool(windows.drive) or ".." in pure.parts
        parts = pure.parts[-1:] if outside else pure.parts
        name = quote("/".join(parts), safe="/") or side
        found[side] = name if name not in found.values() else f"{side}/{name}"
    return found


def _results(told: _Told, rules: Sequence[str], artifacts: _Artifacts) -> list[dict[str, Any]]:
    """The findings in their order; an accepted one is told with who accepted it (3.35), and in full like the others."""
    found = []
    for number, (finding, prints) in enumerate(_fingerprinted(told.findings)):
        result = _result(finding, rules, artifacts, prints)
        if number in told.accepted:
            by = told.accepted[number]
            why = f"Accepted by {by.by}, {moment_of(by.at)}: {by.reason}"
            result["suppressions"] = [{"kind": "external", "status": "accepted", "justification": why}]
        found.append(result)
    return found


def _result(finding: Finding, rules: Sequence[str], artifacts: _Artifacts, fingerprint: str) -> dict[str, Any]:
    texts = [finding.title if finding.title.endswith(".") else f"{finding.title}."]
    if finding.extent:
        texts.append(f"{finding.extent}.")
    if finding.position:
        texts.append(f"Only with {finding.position}.")
    found: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": rules.index(finding.rule),
        "kind": "fail",
        "level": LEVELS[finding.weight],
        "message": {"text": " ".join(texts)},
        "baselineState": STATES[finding.status],
        "partialFingerprints": {"finding/v1": fingerprint},
        "locations": [artifacts.location(place) for place in finding.causes],
        "properties": {
            "weight": str(finding.weight),
            "status": str(finding.status),
            "before": finding.before,
            "after": finding.after,
            "watch": finding.watch,
        },
    }
    if finding.effects:
        found["relatedLocations"] = [
            {**artifacts.location(place), "id": index, "message": {"text": "It shows here."}}
            for index, place in enumerate(dict.fromkeys(finding.effects), start=1)
        ]
    return found


def _fingerprinted(findings: Iterable[Finding]) -> Iterable[tuple[Finding, str]]:
    """Each finding with what it is known by from run to run: rule, sequence and title, never a line; told apart by number where all agree."""
    seen: dict[str, int] = {}
    for finding in findings:
        label = finding.causes[0].label if finding.causes else ""
        text = "\n".join((finding.rule, label, finding.title, finding.position))
        seen[text] = seen.get(text, 0) + 1
        yield finding, sha256(f"{text}\n{seen[text]}".encode()).hexdigest()


def _notification(entry: NotChecked, artifacts: _Artifacts) -> dict[str, Any]:
    times = f" ({entry.count} times)" if entry.count > 1 else ""
    found: dict[str, Any] = {
        "descriptor": {"id": "not-checked", "index": 0},
        "level": "warning",
        "message": {"text": f"Not checked: {entry.what}: {entry.reason}{times}"},
    }
    if entry.place is not None:
        found["locations"] = [artifacts.location(entry.place)]
    return found


def _properties(report: ChangeReport) -> dict[str, Any]:
    """What the standard has no field for: the verdict, the sign-off, and the digests that the report stands on."""
    return {
        **_verdict(report.verdict, report.sign_off),
        "total": _total(report.total),
        "machine": report.machine.name,
        "setup": report.setup.name if report.setup else None,
        "policy": report.policy.name,
        "touched": [touch.text for touch in report.touched],
        "digest": report.digest,
        "caution": CAUTION,
    }


def _verdict(verdict: str | None, need: SignOffNeed) -> dict[str, Any]:
    return {"verdict": verdict, "signOff": {"required": need.required, "reasons": list(need.reasons)}}


def _total(total: Total | None) -> dict[str, Any] | None:
    """The total change since the proven revision in short; its findings are the results of the second run."""
    if total is None:
        return None
    proven = {"sha256": total.proven.sha256, "checkCode": total.proven.check_code}
    return {
        "proven": proven,
        **_verdict(total.verdict, total.sign_off),
        "findings": len(total.findings),
        "digest": total.digest,
    }
