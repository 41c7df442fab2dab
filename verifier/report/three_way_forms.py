"""The forms of a three-way comparison: text, JSON, SARIF and HTML. Each leads with what a release of the edit would take away."""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256
from textwrap import wrap
from typing import Any

import rfc8785

from verifier.report.change_report import ChangeReport
from verifier.report.json_form import CAUTION, place, to_json
from verifier.report.sarif_form import to_sarif
from verifier.report.text import WIDTH, to_text
from verifier.report.three_way import ALIKE, COLLIDE, EDIT, MACHINE, Changed, ThreeWay
from verifier.report.web import environment, web_file
from verifier.source import visible

THREE_WAY = "three-way/1"

HEADS = {
    COLLIDE: "Both changed it, each otherwise: one of the two is lost",
    MACHINE: "Changed at the machine and not in the edit: a release of the edit takes it away",
    ALIKE: "Both changed it alike",
    EDIT: "Changed in the edit alone",
}
"""What each kind of place is called, in the order in which they are told."""


def three_way_json(found: ThreeWay) -> dict[str, Any]:
    """The comparison as plain JSON values, with the three reports it rests on."""
    body = {"changed": [_changed(one) for one in found.changed]}
    reports = {"edit": to_json(found.edit), "back": to_json(found.back), "between": to_json(found.between)}
    bound = {**body, **{name: report["digest"] for name, report in reports.items()}}
    digest = sha256(rfc8785.dumps(bound)).hexdigest()
    return {"schema": THREE_WAY, **body, **reports, "caution": CAUTION, "digest": digest}


def _changed(one: Changed) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "place": place(one.place),
        "base": list(one.base),
        "edit": list(one.edit),
        "machine": list(one.machine),
        "edit_does": list(one.edit_does),
        "machine_does": list(one.machine_does),
    }


def three_way_sarif(found: ThreeWay) -> dict[str, Any]:
    """One log with a run for the edit and one for what came back, both against the base."""
    log = to_sarif(found.edit)
    log["runs"] += to_sarif(found.back)["runs"]
    for run, name in zip(log["runs"], ("edit", "came-back"), strict=True):
        run["automationDetails"] = {"id": f"three-way/{name}"}
    return log


def summary(found: ThreeWay) -> str:
    """The whole in one sentence."""
    if not found.changed:
        return "Neither the edit nor what came back differs from the base in its words."
    counts = {kind: len(found.of(kind)) for kind in HEADS}
    return (
        f"Places changed in the edit alone: {counts[EDIT]}; at the machine alone: {counts[MACHINE]}; by both alike: {counts[ALIKE]}; "
        f"by both, each otherwise: {counts[COLLIDE]}."
    )


def verdicts(found: ThreeWay) -> tuple[tuple[str, str], ...]:
    """What each pair comes to at the machine."""
    return (
        ("edit against base", _told(found.edit)),
        ("came back against base", _told(found.back)),
        ("edit against what came back", _told(found.between)),
    )


def _told(report: ChangeReport) -> str:
    return (
        f"{report.verdict}, {'a lead must sign' if report.sign_off.required else 'no sign-off needed by this policy'}"
    )


def three_way_text(found: ThreeWay, *, everything: bool = False) -> str:
    """The comparison for a terminal, then the change report of the edit."""
    lines = ["WHO CHANGED WHAT", *_wrapped(summary(found), "  ")]
    lines += [f"  {name:28} {verdict}" for name, verdict in verdicts(found)]
    for kind, head in HEADS.items():
        places = found.of(kind)
        if places:
            lines += ["", f"{head.upper()} ({len(places)})"]
            for one in places:
                lines += _place_lines(one)
    lines += ["", "-" * WIDTH, "THE EDIT AGAINST ITS BASE", ""]
    digest = f"Comparison {three_way_json(found)['digest']}\n"
    return "\n".join(lines) + "\n" + to_text(found.edit, everything=everything) + digest


def where(one: Changed) -> str:
    """Where in the base a place is."""
    if one.place is None:
        return "in an empty base"
    label = f"{one.place.label}, " if one.place.label else ""
    return visible(f"{label}{'line' if one.base else 'at line'} {one.place.line} of the base")


def _place_lines(one: Changed) -> Iterator[str]:
    yield f"  {where(one)}"
    shown = [("base", one.base)]
    if one.kind != MACHINE:
        shown.append(("edit", one.edit))
    if one.kind != EDIT:
        shown.append(("machine", one.machine))
    for name, texts in shown:
        for text in texts or ("(nothing)",):
            yield f"    {name:8} {visible(text)}"
    for name, does, told in (
        ("edit", one.edit_does, one.kind != MACHINE),
        ("machine", one.machine_does, one.kind != EDIT),
    ):
        if told:
            yield from _wrapped(
                f"what the {name} does: {visible('; '.join(does)) or 'the same as the base'}", "      ", "        "
            )


def _wrapped(text: str, first: str, rest: str | None = None) -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=first if rest is None else rest)


def unchecked(found: ThreeWay) -> list[str]:
    """What none of the three reports could look at, each thing once."""
    return list(
        dict.fromkeys(f"{entry.what}: {entry.reason}" for report in found.reports for entry in report.unchecked)
    )


def three_way_parts(found: ThreeWay) -> dict[str, Any]:
    """What three-way-body.html shows of a comparison, on a page that stands alone or on one of the service."""
    kinds = [
        (head, [{"where": where(one), "one": one} for one in found.of(kind)], kind) for kind, head in HEADS.items()
    ]
    return {
        "found": found,
        "summary": summary(found),
        "verdicts": verdicts(found),
        "kinds": [entry for entry in kinds if entry[1]],
        "own": {"edit": EDIT, "machine": MACHINE},
        "digest": three_way_json(found)["digest"],
        "unchecked": unchecked(found),
    }


def three_way_html(found: ThreeWay) -> str:
    """The comparison as one page that needs nothing else."""
    style = web_file("static/report.css") + web_file("static/cards.css")
    return environment().get_template("three-way.html").render(style=style, caution=CAUTION, **three_way_parts(found))
