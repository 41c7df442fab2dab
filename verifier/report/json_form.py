"""The JSON form of a report, and its digest: SHA-256 of the RFC 8785 form without digest, names of files and clock."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

import rfc8785

from verifier.findings import Finding, Place
from verifier.report.accepted import StandingRow
from verifier.report.change_report import (
    SCHEMA,
    Card,
    ChangeReport,
    Named,
    NotChecked,
    ProgramFacts,
    ProveOut,
    Share,
    TimeReport,
    Total,
    WordingChange,
)
from verifier.report.load_report import LoadReport
from verifier.report.part_report import PartReport
from verifier.source import Problem

CAUTION = (
    "This is an aid. It replaces neither the control's own manual, a dry run, the prove-out at the machine, guards, nor the judgement of a "
    "qualified person. Local rules and the machine builder's instructions come first."
)


def to_json(report: ChangeReport) -> dict[str, Any]:
    """The report as plain JSON values, in the order of its contract."""
    return {"schema": SCHEMA, **_body(report), "caution": CAUTION, "digest": report.digest}


def _body(report: ChangeReport) -> dict[str, Any]:
    return {
        "verdict": report.verdict,
        "position": report.position,
        "levels": dict(report.levels),
        "sign_off": {"required": report.sign_off.required, "reasons": list(report.sign_off.reasons)},
        "findings": [_finding(finding) for finding in report.findings],
        "standing": [_standing(row) for row in report.standing],
        "cards": [_card(card) for card in report.cards],
        "touched": [{"kind": t.kind, "old": t.old, "new": t.new, "place": place(t.place)} for t in report.touched],
        "wording": [_wording(entry) for entry in report.wording],
        "unchecked": [_unchecked(entry) for entry in report.unchecked],
        "blocks": [{"old": row.old, "new": row.new, "kind": row.kind} for row in report.blocks],
        "part": _part(report.part),
        "load": _load(report.load),
        "time": _time(report.time),
        "old": _program(report.old),
        "new": _program(report.new),
        "machine": _named(report.machine),
        "old_machine": _named(report.old_machine),
        "setup": _named(report.setup),
        "old_setup": _named(report.old_setup),
        "policy": _named(report.policy),
        "rules": {"digest": rules_digest(report), "revisions": dict(report.rules)},
        "outside": [{"what": k.what, "key": k.key, "before": k.before, "after": k.after} for k in report.outside],
        "total": _total(report.total),
        "alike": None if report.alike is None else f"{report.alike:.3f}",
        "prove_out": [_prove_out(entry) for entry in report.prove_out],
        "challenge": [{"place": place_, "word": word} for place_, word in report.challenge],
        "tool_version": report.tool_version,
    }


def _time(time: TimeReport) -> dict[str, Any]:
    return {
        "before_s": time.before_s,
        "after_s": time.after_s,
        "saved_s": time.saved_s,
        "shares": _shares(time.shares),
        "sequences": [
            {
                "label": row.label,
                "before_s": row.before_s,
                "after_s": row.after_s,
                "saved_s": row.saved_s,
                "shares": _shares(row.shares),
            }
            for row in time.sequences
        ],
        "assumptions": list(time.assumptions),
    }


def _shares(shares: tuple[Share, ...]) -> list[dict[str, Any]]:
    return [{"name": share.name, "before_s": share.before_s, "after_s": share.after_s} for share in shares]


def place(found: Place | None) -> dict[str, Any] | None:
    """A place of the contract."""
    if found is None:
        return None
    return {
        "side": found.side,
        "block": found.block,
        "line": found.line,
        "column": found.column,
        "sequence": found.sequence,
        "label": found.label,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "revision": finding.revision,
        "weight": str(finding.weight),
        "status": str(finding.status),
        "title": finding.title,
        "why": finding.why,
        "watch": finding.watch,
        "before": finding.before,
        "after": finding.after,
        "causes": [place(p) for p in finding.causes],
        "effects": [place(p) for p in finding.effects],
        "extent": finding.extent,
        "position": finding.position,
        "outside": list(finding.outside),
    }


def _standing(row: StandingRow) -> dict[str, Any]:
    accepted = row.accepted
    return {
        "finding": row.finding,
        "key": row.key,
        "words": list(row.words),
        "told": row.told,
        "accepted": None
        if accepted is None
        else {"number": accepted.number, "by": accepted.by, "at": accepted.at, "reason": accepted.reason},
    }


def _total(total: Total | None) -> dict[str, Any] | None:
    if total is None:
        return None
    return {
        "proven": _program(total.proven),
        "verdict": total.verdict,
        "sign_off": {"required": total.sign_off.required, "reasons": list(total.sign_off.reasons)},
        "findings": [_finding(finding) for finding in total.findings],
        "digest": total.digest,
    }


def _card(card: Card) -> dict[str, Any]:
    return {
        "findings": list(card.findings),
        "places": [place(p) for p in card.places],
        "old": list(card.old),
        "new": list(card.new),
        "words": [{"old": w.old, "new": w.new} for w in card.words],
        "count": card.count,
        "touched": list(card.touched),
        "outside": list(card.outside),
        "features": list(card.features),
        "around": None if card.around is None else _around(card.around),
    }


def _around(box: tuple[float, float, float, float]) -> dict[str, str]:
    """A box in the plane, in mm: X is a diameter."""
    z_from, z_to, r_from, r_to = box
    named = {"z_from": z_from, "z_to": z_to, "x_from": 2 * r_from, "x_to": 2 * r_to}
    return {name: f"{value + 0.0:.3f}" for name, value in named.items()}


def _prove_out(entry: ProveOut) -> dict[str, Any]:
    return {
        "start": entry.start,
        "restart": place(entry.restart),
        "alone": bool(entry.block),
        "why": list(entry.why),
        "slow": list(entry.slow),
        "distance": entry.distance,
        "reads": list(entry.reads),
        "measure": list(entry.measure),
    }


def _wording(entry: WordingChange) -> dict[str, Any]:
    return {
        "old": place(entry.old),
        "new": place(entry.new),
        "kind": entry.kind,
        "before": entry.before,
        "after": entry.after,
    }


def _unchecked(entry: NotChecked) -> dict[str, Any]:
    return {"what": entry.what, "reason": entry.reason, "place": place(entry.place), "count": entry.count}


def _part(part: PartReport | None) -> dict[str, Any] | None:
    if part is None:
        return None
    return {
        "certain": {"before": part.certain_before, "after": part.certain_after},
        "removed_mm3": {"before": part.removed_before, "after": part.removed_after},
        "features": [
            {
                "feature": row.feature,
                "kind": row.kind,
                "where": row.where,
                "dimension": row.dimension,
                "before": row.before,
                "after": row.after,
                "difference": row.difference,
                "place": row.place,
                "limit": row.limit,
                "judgement": row.judgement,
                "weight": row.weight,
            }
            for row in part.features
        ],
        "measure": [
            {
                "name": one.name,
                "sizes": one.sizes,
                "place": one.place,
                "limit": one.limit,
                "sequences": list(one.sequences),
                "why": one.why,
            }
            for one in part.measure
        ],
    }


def _load(load: LoadReport | None) -> dict[str, Any] | None:
    if load is None:
        return None
    return {
        "material": load.material,
        "spindle": load.spindle,
        "sequences": [
            {
                "label": row.label,
                "tool": row.tool,
                "amounts": [
                    {"name": a.name, "before": a.before, "after": a.after, "place": place(a.place)} for a in row.amounts
                ],
            }
            for row in load.sequences
        ],
        "assumptions": list(load.assumptions),
    }


def _program(facts: ProgramFacts | None) -> dict[str, Any] | None:
    if facts is None:
        return None
    return {
        "name": facts.name,
        "sha256": facts.sha256,
        "check_code": facts.check_code,
        "blocks": facts.blocks,
        "called": [{"number": number, "sha256": digest} for number, digest in facts.called],
    }


def _named(found: Named | None) -> dict[str, str] | None:
    return None if found is None else {"name": found.name, "digest": found.digest}


def rules_digest(report: ChangeReport) -> str:
    """SHA-256 over the ids and revisions of the rules that judged, in hexadecimal."""
    return sha256(rfc8785.dumps(dict(report.rules))).hexdigest()


def digest_of(report: ChangeReport) -> str:
    """SHA-256 over everything computed, in hexadecimal. Names of files take no part: the bytes' own digests stand for them."""
    body = _body(report)
    for side in ("old", "new"):
        if body[side] is not None:
            del body[side]["name"]
    if body["total"] is not None:
        del body["total"]["proven"]["name"]
    return sha256(rfc8785.dumps(body)).hexdigest()


def error_json(problems: list[Problem]) -> dict[str, Any]:
    """The JSON form of a refusal."""
    return {
        "schema": "error/1",
        "problems": [
            {
                "code": p.code,
                "line": p.span.line,
                "column": p.span.column,
                "message": p.message,
                "text": p.text,
                "expected": p.expected,
                "hint": p.hint,
            }
            for p in problems
        ],
    }
