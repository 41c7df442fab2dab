"""The first page: what waits for the person who signed in, and what is not as it should be on the floor."""

from __future__ import annotations

from flask import Blueprint, redirect, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.records import ReleaseFacts, RevisionFacts, Shop
from verifier.service.context import current, needs, page, service, shop, signed
from verifier.service.standing import amiss

home_pages = Blueprint("home", __name__)

_MINE = ("submitted", "held", "cleared", "prove-out", "turned back")
"""States in which a revision still asks something of its author."""


@home_pages.get("/")
def home() -> Response:
    """The first page, or the way in."""
    if signed() is None:
        return redirect(url_for("signin.form"), 303)
    return _shown()


@needs()
def _shown() -> Response:
    opened, who = shop(), current()
    held = records.in_state(opened, "held")
    look = records.last_look(opened)
    stale = look is None or service().clock() - look.at_us > 3_000_000 * service().config.watch_s
    floor = _standing(opened, who.terminal)
    return page(
        "home.html",
        held=[r for r in held if who.login not in r.authors],
        mine=_mine(opened, who.login) if who.has("programmer", "lead") else [],
        cleared=records.in_state(opened, "cleared"),
        not_there=[r for r in floor if not r.at_machine],
        to_confirm=[r for r in floor if r.at_machine and r.confirmed is None] if who.has("operator") else [],
        look=look,
        stale=stale,
        found=amiss(opened, look),
        machines=records.machines(opened),
        setting_up=_setting_up(opened) if who.has("administrator") else (),
    )


def _setting_up(opened: Shop) -> tuple[tuple[str, str, bool], ...]:
    """What a new shop still needs: (what, where to do it, whether it is done); nothing once all of it is done."""
    held = {role for person in records.people(opened) if person.active for role in person.roles}
    steps = (
        ("A programmer, a lead and an operator", "people.everybody", {"programmer", "lead", "operator"} <= held),
        (
            "The first machine, with its profile and its folder",
            "machinery.all_machines",
            bool(records.machines(opened)),
        ),
    )
    return () if all(done for _, _, done in steps) else steps


def _mine(opened: Shop, login: str) -> list[RevisionFacts]:
    """What somebody handed in and what is not through or given up, newest first."""
    found = [r for state in _MINE for r in records.in_state(opened, state) if login in r.authors]
    return sorted(found, key=lambda r: -r.id)


def _standing(opened: Shop, terminal: str | None) -> list[ReleaseFacts]:
    """Every standing release; at a machine's own screen those of that machine."""
    names = [machine.name for machine in records.machines(opened) if terminal in (None, machine.name)]
    return [release for name in names for release in records.at_machine(opened, name)]
