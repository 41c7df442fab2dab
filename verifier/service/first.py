"""The first administrator: whoever holds the code that the server printed when nobody could sign in."""

from __future__ import annotations

from typing import Any

from verifier import records
from verifier.desk import password_hash, pin_hash
from verifier.records import PersonFacts
from verifier.service.context import Service
from verifier.source import ActRefused


def first_needed(running: Service) -> bool:
    """Whether no administrator can sign in yet."""
    return not running.exists() or records.nobody_can_sign_in(running.shop())


def start_facts(running: Service) -> dict[str, Any]:
    """What the form asks: a new shop and its first person, or which of the administrators there are already."""
    people = records.people(running.shop()) if running.exists() else ()
    known = [p for p in people if p.active and "administrator" in p.roles]
    return {"new": not people, "administrators": known, "printed": running.first_code is not None}


def make_first(running: Service, *, shop_name: str, login: str, full_name: str, password: str, pin: str) -> PersonFacts:
    """Make the shop where there is none, and give its administrator password and PIN."""
    name = login.strip().lower()
    hashes = {
        "password": password_hash(password, name, full_name, shop_name),
        "pin": pin_hash(running.key, pin),
    }
    if start_facts(running)["new"]:
        folder, who = running.config.shop, (name, full_name)
        records.init_shop(folder, shop_name, who, clock=running.clock, new_id=running.new_id).close_thread()
    person = records.find_person(running.shop(), name)
    if "administrator" not in person.roles or not person.active:
        raise ActRefused("wrong_role", f"{name} is not an administrator of this shop")
    records.set_first_password(running.shop(), person.id, **hashes)
    return person
