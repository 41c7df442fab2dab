"""The report as one HTML page that needs nothing else: readable on screen, in print, and by a screen reader."""

from __future__ import annotations

from verifier.findings import Finding, Status, Weight
from verifier.report.change_report import ChangeReport
from verifier.report.json_form import CAUTION
from verifier.report.part_text import sizes_of
from verifier.report.picture import views_of
from verifier.report.text import also_of, keys_told, outside_of, total_told, where_told
from verifier.report.web import environment, web_file
from verifier.report.wording import wording_counts


def to_html(report: ChangeReport, picture: str = "") -> str:
    """The whole report as a page, with its picture (SVG) where one is given. Everything from programs is escaped; no script, nothing from outside."""
    gone = [f for f in report.findings if f.status is Status.GONE and not f.edits]
    views = views_of(picture)
    return (
        environment()
        .get_template("report.html")
        .render(
            report=report,
            picture=picture,
            style=web_file("static/report.css") + web_file("static/cards.css"),
            cards=[
                {
                    "where": where_told(report, card),
                    "card": card,
                    "also": also_of(report, card),
                    "keys": keys_told(report, card),
                    "findings": [report.findings[k] for k in card.findings],
                    "weight": report.findings[card.findings[0]].weight if card.findings else None,
                    "sizes": sizes_of(report, card),
                    "view": views.get(number),
                }
                for number, card in enumerate(report.cards, 1)
            ],
            hazards=list(report.findings if report.verdict is None else report.told_in_full),
            accepted=report.accepted,
            gone=gone,
            outside=outside_of(report),
            total=total_told(report),
            wording=wording_counts(entry.kind for entry in report.wording),
            watch=_watch(report),
            caution=CAUTION,
            marks=MARKS,
        )
    )


MARKS = {Weight.CRITICAL: "▲", Weight.MAJOR: "◆", Weight.MINOR: "○"}
"""A shape for each weight, so that it is never told by colour alone."""


def _watch(report: ChangeReport) -> list[tuple[str, list[str]]]:
    """What to watch at the machine, each text once with the places it is about."""
    wanted = [f for f in report.findings if _to_watch(f)]
    found: dict[str, dict[str, None]] = {}
    for finding in wanted:
        places = found.setdefault(finding.watch, {})
        for place in finding.causes[:1]:
            places[f"{place.label} line {place.line}".strip()] = None
    return [(text, list(places)) for text, places in found.items()]


def _to_watch(finding: Finding) -> bool:
    return finding.status in (Status.CHANGE, Status.NEW) and finding.weight is not Weight.MINOR
