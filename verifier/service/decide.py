"""One revision with the change report it stands on, what waits for a lead, and the decision bound to that report."""

from __future__ import annotations

import json
from typing import Any

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.desk import OPEN
from verifier.records import HistoryEntry, RevisionFacts
from verifier.report import beside
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, shop
from verifier.service.logs import event
from verifier.service.reports import stands_on
from verifier.service.standing import amiss
from verifier.source import ActRefused, read_source

decide_pages = Blueprint("decide", __name__, url_prefix="/decide")
revision_pages = Blueprint("revisions", __name__, url_prefix="/revisions")

_SOON = 200_000
"""Programs of up to so many bytes are looked for in the library whenever the page is shown."""
_TYPED = ("verdict", "reason", "machine", "days", "hazard")
_VERDICTS = ("approve", "prove-out", "turn back")
_DECIDED = (
    "approved",
    "let out for prove-out",
    "turned back",
    "recalled",
    "withdrawn",
    "prove-out ended",
    "held again",
    "checked again",
)
"""Acts of the ledger that say why a revision stands as it does."""


@decide_pages.get("")
@needs("lead")
def waiting() -> Response:
    """Every held revision, oldest first."""
    return page("waiting.html", held=records.in_state(shop(), "held"))


@revision_pages.get("/<int:number>")
@needs()
def one(number: int) -> Response:
    """The revision, its change report, and the forms of what may be done with it."""
    return shown(number)


def shown(
    number: int, refused: object = None, status: int = 200, form: str = "", given: dict[str, str] | None = None
) -> Response:
    """The page of a revision; after a refusal with what was typed into the form of that name."""
    found, reports = stands_on(shop(), number)
    who = current()
    mine = who.login in found.authors
    machines = desk().machines_of(found.target)
    standing = [r for m in machines for r in records.at_machine(shop(), m) if r.revision == found.id]
    may = {
        "decide": found.state == "held" and who.has("lead") and not mine,
        "check_again": found.state == "held" and who.has("programmer", "lead"),
        "release": found.state == "cleared" and (who.has("lead") or (mine and who.has("programmer"))),
        "withdraw": mine and found.state in ("submitted", "held", "cleared") and not standing,
        "accept": found.state in records.OPEN_TO_ACCEPT and who.has("lead") and not mine,
        "recall": who.has("lead") and (bool(standing) or found.state in ("released", "prove-out", "retired")),
    }
    typed = {name: (given or {}).get(name, "") for name in _TYPED}
    ticked = request.form.getlist("seen_critical") if form == "decide" else []
    values: dict[str, Any] = {"near": None, "near_unknown": False}
    values |= {"r": found, "reports": reports, "mine": mine, "standing": standing, "may": may, "machines": machines}
    values["why_so"] = _why(found)
    values["held_open"] = {
        one.key: one for one in records.acceptances(shop(), found.program, found.target) if one.ended_us is None
    }
    values["outdated"] = desk().outdated(found) if found.state == "held" else ()
    values |= _near(found) if found.state in OPEN and any(one.facts.base_sha is None for one in reports) else {}
    values["came_back"] = desk().came_back_otherwise(found) if found.state in OPEN else ()
    values["belonging"] = desk().belonging(found) if found.state in OPEN else ()
    floor = amiss(shop(), records.last_look(shop())) if standing else ()
    values["found"] = [one for one in floor if one.program == found.program]
    return page("revision.html", status, **values, refused=refused, form=form, given=typed, ticked=ticked)


def _near(found: RevisionFacts) -> dict[str, object]:
    """The program of the library that a first submission is most like, where that is soon told; a long one is looked for when asked."""
    if len(records.body(shop(), found.sha)) > _SOON:
        return {"near_unknown": True}
    near = desk().near(found, _SOON)
    return {
        "near": near and records.find_revision(shop(), near.program, near.target, near.n),
        "percent": near and near.percent,
    }


def _why(found: RevisionFacts) -> tuple[HistoryEntry, str] | None:
    """The last act that says why the revision stands as it does, with its reason; None before any."""
    for entry in reversed(records.history(shop(), found.program, found.target)):
        noted = json.loads(entry.body)
        if noted.get("n") == found.n and entry.act == "submitted":
            return None
        if noted.get("n") == found.n and entry.act in _DECIDED:
            return entry, noted.get("reason", "")
    return None


def typed() -> dict[str, str]:
    """What was typed into the form that was sent; secrets are never shown again."""
    return {name: request.form.get(name, "") for name in _TYPED}


@revision_pages.post("/<int:number>/decide")
@needs("lead")
def decide(number: int) -> Response:
    """Carry out a lead's decision on exactly the report that was shown."""
    given, done = typed(), None
    with act_guard() as outcome:
        done = _decide(number, given)
    if done is None:
        return shown(number, outcome.refused, outcome.status, "decide", given)
    event("decided", revision=done.id, verdict=given["verdict"])
    flash(f"{done.program} revision {done.n} is {done.state}.")
    return redirect(url_for("revisions.one", number=number), 303)


def _decide(number: int, given: dict[str, str]) -> RevisionFacts:
    found = records.revision(shop(), number)
    seen, verdict, ticked = request.form.get("seen", ""), given["verdict"], request.form.getlist("seen_critical")
    pin = pin_from_form()
    if verdict not in _VERDICTS:
        raise ActRefused("bad_verdict", "choose what is decided")
    place: tuple[str | None, int | None] = (None, None)
    if verdict == "prove-out":
        text = given["days"].strip()
        place = (given["machine"], int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else None)
    login = current().login
    limits = {"machine": place[0], "days": place[1]}
    return desk().decide(login, pin, found, verdict, given["reason"], seen, ticked=ticked, **limits)  # type: ignore[arg-type]


@revision_pages.post("/<int:number>/check-again")
@needs("programmer", "lead")
def check_again(number: int) -> Response:
    """Put a held revision on reports computed now; whoever does so does not become its author."""
    with act_guard() as outcome:
        login = desk().proven(current().login, pin_from_form()).login
        done = desk().check_again(login, records.revision(shop(), number)).revision
        event("checked again", revision=done.id)
        flash(f"{done.program} revision {done.n} is {done.state}, on the report below.")
    if outcome.refused:
        return shown(number, outcome.refused, outcome.status, "check-again")
    return redirect(url_for("revisions.one", number=number), 303)


@revision_pages.post("/<int:number>/accept")
@needs("lead")
def accept(number: int) -> Response:
    """A lead's acceptance of one hazard that stood before, as the report that was shown tells it."""
    given, done = typed(), None
    with act_guard() as outcome:
        pin, found = pin_from_form(), records.revision(shop(), number)
        seen = request.form.get("seen", "")
        done = desk().accept(current().login, pin, found, given["hazard"], given["reason"], seen)
    if done is None:
        return shown(number, outcome.refused, outcome.status, "accept", given)
    event("hazard accepted", revision=number, acceptance=done.id)
    flash(
        f"Accepted, as number {done.id}: from the next report on it is one line of count, for as long as its words stand."
    )
    return redirect(url_for("revisions.one", number=number), 303)


@revision_pages.post("/<int:number>/withdraw")
@needs()
def withdraw(number: int) -> Response:
    """Take back a revision of one's own."""
    given = typed()
    with act_guard() as outcome:
        login = desk().proven(current().login, pin_from_form()).login
        done = desk().withdraw(login, records.revision(shop(), number), given["reason"])
        event("withdrawn", revision=done.id)
    if outcome.refused:
        return shown(number, outcome.refused, outcome.status, "withdraw", given)
    flash("The revision is withdrawn.")
    return redirect(url_for("revisions.one", number=number), 303)


@revision_pages.get("/<int:number>/text")
@needs()
def text(number: int) -> Response:
    """The program's text, line by line."""
    found = records.revision(shop(), number)
    source = read_source(records.body(shop(), found.sha), found.program)
    lines = [source.line_text(number) for number in range(1, source.line_count + 1)]
    return page("program-text.html", r=found, lines=lines)


@revision_pages.get("/<int:number>/blocks")
@needs()
def blocks(number: int) -> Response:
    """The blocks behind the cards of each report, as the report pairs them."""
    found, reports = stands_on(shop(), number)
    new, compared = records.body(shop(), found.sha), []
    for one in reports:
        if one.facts.base_sha:
            pairs = [(row["old"], row["new"], row["kind"]) for row in one.report["blocks"]]
            stretches, left = beside(records.body(shop(), one.facts.base_sha), new, pairs)
            compared.append((stretches, left, _base(found, one.facts.base_sha)))
    return page("blocks.html", r=found, compared=compared)


def _base(found: RevisionFacts, sha: str) -> str:
    """The base of a report, for people."""
    same = [r for r in records.revisions(shop(), found.program, found.target) if r.sha == sha]
    return f"revision {same[-1].n}" if same else f"the program with SHA-256 {sha[:16]}"


@revision_pages.get("/<int:number>/file")
@needs()
def file(number: int) -> Response:
    """The program's own bytes, to be saved."""
    found = records.revision(shop(), number)
    answer = Response(records.body(shop(), found.sha), mimetype="application/octet-stream")
    answer.headers.set("Content-Disposition", "attachment", filename=f"{found.program}-revision-{found.n}.nc")
    return answer
