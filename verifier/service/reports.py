"""The change reports that a revision stands on, as pages show them: taken from what is stored, so that the digest fits."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from verifier import records
from verifier.findings import Status, Weight
from verifier.records import Ground, ReportFacts, RevisionFacts, Shop
from verifier.report import ToBeSeen, more_since_proven, to_be_seen, wording_counts
from verifier.source import StoreError

Json = dict[str, Any]
_TRIES = 5
KEYS = 3
"""So many keys of profile or setup sheet stand at the head of a card."""
_NEW = (Status.CHANGE, Status.NEW)


@dataclass(frozen=True, slots=True)
class Shown:
    """One report as report-body.html wants it; `ticks` are its new critical findings.

    `base`, `proven` name the revisions it compares with ("" where there is none), `machines` those that hold exactly these now.
    """

    facts: ReportFacts
    report: Json
    cards: tuple[Json, ...]
    hazards: tuple[Json, ...]
    accepted: tuple[tuple[Json, Json], ...]
    gone: tuple[Json, ...]
    outside: tuple[tuple[str, ...], tuple[str, ...]]
    wording: tuple[tuple[str, int], ...]
    watch: tuple[tuple[str, tuple[str, ...]], ...]
    ticks: tuple[ToBeSeen, ...]
    total: tuple[str, tuple[Mapping[str, Any], ...]]
    base: str
    proven: str
    machines: tuple[str, ...]


def stands_on(shop: Shop, number: int) -> tuple[RevisionFacts, tuple[Shown, ...]]:
    """A revision and its reports, both of one moment: the digest of the one is that of the others."""
    for _ in range(_TRIES):
        before = records.revision(shop, number)
        found = records.reports(shop, number)
        after = records.revision(shop, number)
        if before.report_digest == after.report_digest:
            names, now = _names(shop, after), records.grounds_by_machine(shop, after.program, after.target, after.sha)
            return after, tuple(_shown(facts, names, now) for facts in found)
    raise StoreError("this revision is being worked on", "try again")


def for_information(facts: ReportFacts) -> Shown:
    """A comparison that no revision stands on, as pages show it."""
    return _shown(facts, {}, ())


def _names(shop: Shop, found: RevisionFacts) -> Mapping[str, str]:
    """The revisions of a program by their digests, as people name them."""
    return {one.sha: f"revision {one.n}" for one in records.revisions(shop, found.program, found.target)}


def _shown(facts: ReportFacts, names: Mapping[str, str], now: Sequence[tuple[str, Ground]]) -> Shown:
    report: Json = json.loads(facts.json)
    findings: list[Json] = report["findings"]
    first = report["verdict"] is None
    carded = {index for card in report["cards"] for index in card["findings"]}
    gone = tuple(f for k, f in enumerate(findings) if f["status"] == Status.GONE and k not in carded)
    return Shown(
        facts,
        report,
        tuple(_card(card, findings, report.get("outside", [])) | _sizes(card, report) for card in report["cards"]),
        tuple(findings) if first else told_in_full(report),
        accepted_in(report),
        gone,
        _outsides(report),
        wording_counts(entry["kind"] for entry in report["wording"]),
        _watch(findings),
        to_be_seen(report),
        _total(report, names),
        names.get(facts.base_sha or "", ""),
        names.get(facts.proven_sha or "", ""),
        tuple(machine for machine, ground in now if ground == facts.ground),
    )


def told_in_full(report: Json) -> tuple[Json, ...]:
    """The hazards that stood before and are told in full, each with its row as `stand`; reports of earlier versions have none."""
    rows = {row["finding"]: row for row in report.get("standing", ())}
    return tuple(
        finding | {"stand": rows.get(k)}
        for k, finding in enumerate(report["findings"])
        if finding["status"] == Status.STANDING and not (k in rows and rows[k]["accepted"])
    )


def accepted_in(report: Json) -> tuple[tuple[Json, Json], ...]:
    """The hazards of a report that were accepted when it was made, each with its acceptance."""
    findings = report["findings"]
    return tuple((findings[row["finding"]], row["accepted"]) for row in report.get("standing", ()) if row["accepted"])


def _total(report: Json, names: Mapping[str, str]) -> tuple[str, tuple[Mapping[str, Any], ...]]:
    """The total change since the proven revision in a sentence, and what of it is new beside the change from the base."""
    total = report.get("total")
    if total is None:
        return "", ()
    proven = total["proven"]
    name = names.get(proven["sha256"], f"{proven['name']} {proven['sha256'][:12]}")
    sign = "a lead must sign for it" if total["sign_off"]["required"] else "no sign-off needed for it by this policy"
    told = f"Against {name} (check code {proven['check_code']}): {total['verdict']}; {sign}"
    return told, more_since_proven(report)


def _card(card: Json, findings: list[Json], outside: list[Json]) -> Json:
    members = [findings[index] for index in card["findings"]]
    where = _outside(card, outside) or _where(card["places"], card["count"])
    keys = {k for finding in members for k in finding.get("outside", ())} - {*card.get("outside", ())}
    also = " · ".join(_key_told(outside[k]) for k in sorted(keys))
    return {
        "card": card,
        "findings": members,
        "where": where,
        "also": also,
        "keys": [_key_told(outside[k]) for k in card.get("outside", ())][: 2 * KEYS],
        "weight": members[0]["weight"] if members else None,
    }


def _sizes(card: Json, report: Json) -> Json:
    """The sizes of the finished part that a card moves, the heaviest first; reports of earlier versions know none."""
    rows = [report["part"]["features"][k] for k in card.get("features", ())] if report["part"] else []
    return {"sizes": sorted(rows, key=lambda row: str(row["weight"]))}


def _outside(card: Json, outside: list[Json]) -> str:
    """The keys of the profile or the setup sheet that a card is about, by name; reports of earlier versions know none."""
    keys = [outside[k] for k in card.get("outside", ())]
    told = [f"{key['what']}: {key['key']}" for key in keys[:KEYS]]
    return ", ".join(told) + (f" or one of {len(keys) - KEYS} more keys" if len(keys) > KEYS else "")


def _key_told(key: Json) -> str:
    return f"{key['what']}, {key['key']}: was {key['before'] or 'not there'}; now {key['after'] or 'not there'}"


def _outsides(report: Json) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The keys that differ outside the texts, in words: those that something is told of, and the others."""
    used = {k for finding in report["findings"] for k in finding.get("outside", ())}
    told = [_key_told(key) for key in report.get("outside", ())]
    return tuple(t for k, t in enumerate(told) if k in used), tuple(t for k, t in enumerate(told) if k not in used)


def _where(places: list[Json], count: int) -> str:
    """Where an edit stands, in words."""
    if not places:
        return "no single edit"
    first, last = places[0], places[-1]
    sequence = f"{first['label']}, " if first["label"] else ""
    side = " of the base" if first["side"] == "old" else ""
    if count > 1:
        lines = ", ".join(str(p["line"]) for p in places[:6]) + (" ..." if count > 6 else "")
        labels = ", ".join(dict.fromkeys(p["label"] for p in places if p["label"]))
        return f"{labels + ', ' if labels else ''}changed alike in {count} places, lines {lines}{side}"
    lines = f"line {first['line']}" + (f" to {last['line']}" if last["line"] != first["line"] else "")
    return f"{sequence}{lines}{side}"


def _watch(findings: list[Json]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What to watch at the machine, each text once with the places it is about."""
    found: dict[str, dict[str, None]] = {}
    for finding in findings:
        if finding["status"] not in _NEW or finding["weight"] == Weight.MINOR:
            continue
        places = found.setdefault(finding["watch"], {})
        for place in finding["causes"][:1]:
            places[f"{place['label']} line {place['line']}".strip()] = None
    return tuple((text, tuple(places)) for text, places in found.items())
