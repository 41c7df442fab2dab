"""The ways from each page, by role: rows of label, end point and roles; a page that is not there yet is left out."""

from __future__ import annotations

from dataclasses import dataclass

from flask import current_app, request, url_for

from verifier.records import ROLES
from verifier.service.context import signed

WAYS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("Home", "home.home", ()),
    ("Programs", "programs.all_programs", ()),
    ("Submit", "submit.form", ("programmer", "lead")),
    ("To decide", "decide.waiting", ("lead",)),
    ("Machines", "floor.machines", ()),
    ("Rules", "rules.all_rules", ()),
    ("People", "people.everybody", ("administrator",)),
    ("Machine files", "machinery.all_machines", ("administrator",)),
    ("Policy", "policy.show", ("lead", "administrator")),
)

_BELOW = {"revisions": "programs", "readbacks": "floor"}
"""Pages that stand below another way than their own blueprint's."""


@dataclass(frozen=True, slots=True)
class Way:
    """One entry of the navigation."""

    label: str
    address: str
    here: bool


def ways() -> list[Way]:
    """The entries that the signed-in person has; none for nobody."""
    who = signed()
    if who is None:
        return []
    found = []
    for label, endpoint, roles in WAYS:
        if endpoint in current_app.view_functions and (not roles or who.has(*roles)):
            blueprint = request.blueprint or ""
            here = _BELOW.get(blueprint, blueprint) == endpoint.split(".")[0]
            found.append(Way(label, url_for(endpoint), here))
    return found


def role_words(roles: tuple[str, ...]) -> str:
    """Roles in their fixed order, for people."""
    return ", ".join(role for role in ROLES if role in roles)
