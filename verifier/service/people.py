"""Pages for administrators: who belongs to the shop, in which roles, and one-time codes for a first password."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, service, shop
from verifier.service.entering import CODE_LASTS_S, code_hash, new_code
from verifier.service.logs import event
from verifier.source import ActRefused

people_pages = Blueprint("people", __name__, url_prefix="/people")

_PLACE = {"leave": False, "back": True}


@people_pages.get("")
@needs("administrator")
def everybody() -> Response:
    """Everybody of the shop, and the form for one more."""
    return _everybody(None, {})


def _everybody(outcome_refused: object, given: dict[str, object], status: int = 200) -> Response:
    known = records.people(shop())
    ready = {person.id: all(records.secret_hashes(shop(), person.id)) for person in known}
    return page(
        "people.html", status, people=known, ready=ready, roles=records.ROLES, refused=outcome_refused, given=given
    )


@people_pages.post("")
@needs("administrator")
def add() -> Response:
    """Add a person and give them a one-time code."""
    given = {"login": request.form.get("login", "").strip().lower(), "full_name": request.form.get("full_name", "")}
    roles = request.form.getlist("role")
    with act_guard() as outcome:
        by = desk().proven(current().login, pin_from_form())
        person = records.add_person(shop(), by.id, given["login"], given["full_name"], roles)
        return _code_for(by.id, person.id)
    return _everybody(outcome.refused, {**given, "roles": roles}, outcome.status)


def _code_for(by: int, person: int) -> Response:
    """Give a code and show it: this once, to the administrator, and nowhere else."""
    code = new_code()
    ends = records.give_code(shop(), by, person, code_hash(service(), code), CODE_LASTS_S)
    facts = records.person_by_id(shop(), person)
    event("code given", login_of=facts.login)
    return page("code.html", person=facts, code=code, ends=ends)


@people_pages.get("/<int:number>")
@needs("administrator")
def one(number: int) -> Response:
    """One person, with the forms that change their roles or their place."""
    return page("person.html", person=records.person_by_id(shop(), number), roles=records.ROLES, refused=None)


@people_pages.post("/<int:number>")
@needs("administrator")
def change(number: int) -> Response:
    """Change roles, let somebody leave or come back, or give a new code; all their sessions end with the first two."""
    person = records.person_by_id(shop(), number)
    what, reason = request.form.get("what", ""), request.form.get("reason", "")
    with act_guard() as outcome:
        by = desk().proven(current().login, pin_from_form())
        if what == "code":
            return _code_for(by.id, number)
        if what == "roles":
            changed = records.change_person(shop(), by.id, number, roles=request.form.getlist("role"), reason=reason)
        elif what in _PLACE:
            changed = records.change_person(shop(), by.id, number, active=_PLACE[what], reason=reason)
        else:
            raise ActRefused("bad_form", "choose what is to be changed")
        event("person changed", login_of=changed.login, what=what)
    if outcome.refused:
        return page("person.html", outcome.status, person=person, roles=records.ROLES, refused=outcome.refused)
    flash(f"{changed.full_name} is changed.")
    return redirect(url_for("people.everybody"), 303)
