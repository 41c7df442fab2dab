"""Pages of tokens: a person's own, made with their PIN and shown once; those of others, for an administrator to end."""

from __future__ import annotations

import secrets
from dataclasses import dataclass

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.records import SCOPES, PersonFacts, TokenFacts
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, service, shop
from verifier.service.logs import event
from verifier.source import ActRefused

token_pages = Blueprint("tokens", __name__, url_prefix="/tokens")

SCOPE_WORDS = {
    "read": "read: programs, reports, history, machines",
    "submit": "hand in programs in your name; withdraw them or have them checked again, with your PIN each time",
    "decide": "sign decisions, accept hazards, with your PIN each time",
    "release": "release, recall and order files again, with your PIN each time",
    "confirm": "hand in read-backs; confirm, take over and go back, with your PIN each time",
    "administer": "nothing yet",
}
OFFERED = tuple(scope for scope in SCOPES if scope != "administer")


@dataclass(frozen=True, slots=True)
class Line:
    """A token in a list; `state` says why it does not count, where it does not."""

    token: TokenFacts
    words: tuple[str, ...]
    counts: bool
    state: str


def _lines(found: tuple[TokenFacts, ...]) -> list[Line]:
    now = service().clock()
    lines = []
    for one in reversed(found):
        state = "ended" if one.ended_us is not None else "over" if one.ends_us <= now else ""
        counts = not state and one.person.active
        lines.append(Line(one, tuple(SCOPE_WORDS[s] for s in one.scopes), counts, state or "its person has left"))
    return lines


def _not_at_a_screen() -> None:
    if current().terminal:
        raise ActRefused("wrong_role", "this is not done at a machine's screen", "sign in with your password elsewhere")


@token_pages.get("")
@needs()
def own() -> Response:
    """One's own tokens, and the form for one more."""
    return _own(None)


def _own(refused: object, status: int = 200) -> Response:
    found = _lines(records.tokens_of(shop(), current().person.id))
    given = {"name": request.form.get("name", ""), "days": request.form.get("days", "90")}
    ticked = request.form.getlist("scope")
    values = {"offered": [(scope, SCOPE_WORDS[scope]) for scope in OFFERED], "given": given, "ticked": ticked}
    return page("tokens.html", status, lines=found, person=None, refused=refused, **values)


@token_pages.post("")
@needs()
def make() -> Response:
    """Make a token for oneself; its secret is on the page that answers, this once, and nowhere else."""
    with act_guard() as outcome:
        _not_at_a_screen()
        secret, login, text = secrets.token_urlsafe(32), current().login, request.form.get("days", "").strip()
        days = int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else 0
        scopes = request.form.getlist("scope")
        made = desk().make_token(login, pin_from_form(), login, request.form.get("name", ""), secret, scopes, days)
        event("token made", token=made.id, scopes=list(made.scopes))
        return page("token.html", token=made, secret=secret, words=[SCOPE_WORDS[s] for s in made.scopes])
    return _own(outcome.refused, outcome.status)


@token_pages.post("/<int:number>/end")
@needs()
def end(number: int) -> Response:
    """End a token: one's own, or as an administrator anybody's."""
    owner: PersonFacts = current().person
    with act_guard() as outcome:
        _not_at_a_screen()
        mine = {one.id for one in records.tokens_of(shop(), owner.id)}
        if number not in mine and current().has("administrator"):
            owner = next((one.person for one in records.all_tokens(shop()) if one.id == number), owner)
        by = desk().proven(current().login, pin_from_form())
        records.end_token(shop(), by.id, number)
        event("token ended", token=number)
    others = owner.id != current().person.id
    if outcome.refused:
        return _of(owner, outcome.refused, outcome.status) if others else _own(outcome.refused, outcome.status)
    flash("The token is ended: it counts no longer.")
    return redirect(url_for("tokens.of", person=owner.id) if others else url_for("tokens.own"), 303)


@token_pages.get("/of/<int:person>")
@needs("administrator")
def of(person: int) -> Response:
    """Somebody's tokens, for an administrator to end; making one that acts is that person's alone."""
    return _of(records.person_by_id(shop(), person), None)


def _of(person: PersonFacts, refused: object, status: int = 200) -> Response:
    found = _lines(records.tokens_of(shop(), person.id))
    return page("tokens.html", status, lines=found, person=person, refused=refused, offered=[], given={}, ticked=[])
