"""Pages for administrators: machines with their profiles and folders, and the screens that stand at them."""

from __future__ import annotations

from flask import Blueprint, current_app, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.machines import machine_text, parse_machine
from verifier.report import picture_of_machine
from verifier.service import cookies
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, shop
from verifier.service.logs import event
from verifier.service.uploads import upload
from verifier.source import ActRefused

machinery = Blueprint("machinery", __name__, url_prefix="/machine-files")

_FIELDS = ("name", "folder", "group", "extension", "takeover")


@machinery.get("")
@needs("administrator")
def all_machines() -> Response:
    """Every machine, and the form for one more."""
    return _all(None, {"extension": ".NC"})


def _all(refused: object, given: dict[str, str], status: int = 200) -> Response:
    known = records.machines(shop())
    screens = records.terminals(shop())
    return page("machine-files.html", status, machines=known, screens=screens, refused=refused, given=given)


@machinery.post("")
@needs("administrator")
def add() -> Response:
    """Add a machine with its profile; every mistake of the profile is told at once."""
    given = {name: request.form.get(name, "").strip() for name in _FIELDS}
    with act_guard() as outcome:
        name, data = upload("profile")
        desk().proven(current().login, pin_from_form())
        profile = parse_machine(data, name)
        added = desk().add_machine(
            current().login,
            profile,
            name=given["name"] or profile.name,
            folder=given["folder"],
            group=given["group"] or None,
            extension=given["extension"],
            takeover=given["takeover"] == "yes",
        )
    if outcome.refused:
        return _all(outcome.refused, given, outcome.status)
    event("machine added", machine=added.name)
    flash(f"{added.name} is added; its floor copies lie in {added.folder}.")
    return redirect(url_for("machinery.all_machines"), 303)


@machinery.get("/<name>")
@needs("administrator")
def one(name: str) -> Response:
    """One machine: its profile as it stands, and the forms that change profile, folder or screens."""
    return _one(name, None)


def _one(name: str, refused: object, status: int = 200) -> Response:
    facts = records.machine(shop(), name)
    screens = [screen for screen in records.terminals(shop()) if screen.machine == facts.name]
    profile = machine_text(desk().profile(facts.name))
    return page("machine-file.html", status, machine=facts, profile=profile, screens=screens, refused=refused)


@machinery.get("/<name>/picture.svg")
@needs("administrator")
def picture(name: str) -> Response:
    """The profile as it is understood, drawn."""
    drawn = picture_of_machine(desk().profile(records.machine(shop(), name).name))
    return current_app.response_class(drawn, mimetype="image/svg+xml")


@machinery.post("/<name>")
@needs("administrator")
def change(name: str) -> Response:
    """Give a machine another profile or folder, or make this browser a screen that stands at it."""
    what, reason = request.form.get("what", ""), request.form.get("reason", "")
    made: str | None = None
    with act_guard() as outcome:
        by = desk().proven(current().login, pin_from_form())
        facts = records.machine(shop(), name)
        if what == "profile":
            label, data = upload("profile")
            text = machine_text(parse_machine(data, label)).encode()
            records.change_profile(shop(), by.id, facts.name, text, reason)
        elif what == "folder":
            desk().change_folder(by.login, facts.name, request.form.get("folder", "").strip(), reason)
        elif what == "screen":
            made = cookies.new_name()
            label = request.form.get("screen", "")
            records.add_terminal(shop(), by.id, label, facts.name, records.name_hash(made))
        elif what == "end":
            records.end_terminal(shop(), by.id, _number(request.form.get("screen", "")))
        else:
            raise ActRefused("bad_form", "choose what is to be changed")
        event("machine changed", machine=facts.name, what=what)
    if outcome.refused:
        return _one(name, outcome.refused, outcome.status)
    flash(
        "This browser is now the screen at the machine; sign out before you leave it."
        if made
        else f"{name} is changed."
    )
    response = redirect(url_for("machinery.one", name=name), 303)
    if made:
        cookies.set_terminal(response, made)
    return response


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else 0
