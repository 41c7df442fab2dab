"""Acts on people: who belongs to the shop, and in which roles."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from verifier.records.act import Act, acting
from verifier.records.database import Database, Row
from verifier.records.facts import PersonFacts
from verifier.records.names import check_login, check_text
from verifier.records.shop import Shop
from verifier.records.states import ROLES
from verifier.source import ActRefused

_ARGON2ID = r"\$argon2id\$v=19\$m=[0-9]+,t=[0-9]+,p=[0-9]+\$[A-Za-z0-9+/]+\$[A-Za-z0-9+/]+"
# A keyed hash names the key that it needs, which lies outside these records.
_STORED = re.compile(rf"(\$hmac-sha256,k=[0-9a-f]{{8}})?{_ARGON2ID}")


def _fold(full_name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", full_name).casefold().split())


def check_roles(roles: Sequence[str]) -> tuple[str, ...]:
    """Order roles and refuse unknown ones (`bad_role`)."""
    unknown = sorted(set(roles) - set(ROLES))
    if unknown or not roles:
        raise ActRefused("bad_role", f"not a role: {', '.join(unknown) or 'none given'}", "one of: " + ", ".join(ROLES))
    return tuple(role for role in ROLES if role in roles)


def write_person(act: Act, login: str, full_name: str, roles: Sequence[str]) -> int:
    """Write a new person's rows inside an act; two people never share a login or a full name."""
    check_login(login)
    name = check_text("full name", full_name, 200)
    held = check_roles(roles)
    if act.database.value("SELECT 1 FROM person WHERE login=?", login):
        raise ActRefused("name_taken", f"the login {login} is taken")
    if act.database.value("SELECT 1 FROM person WHERE folded_name=?", _fold(name)):
        raise ActRefused(
            "name_taken",
            f"{name} is known already",
            "one person has one login; add something that tells two people of one name apart",
        )
    values = {"login": login, "full_name": name, "folded_name": _fold(name), "active": 1, "created_us": act.now}
    person = act.insert("person", **values)
    for role in held:
        act.insert("role", person=person, role=role, held=1)
    return person


def add_person(shop: Shop, by: int, login: str, full_name: str, roles: Sequence[str]) -> PersonFacts:
    """Add a person; for an administrator."""
    with acting(shop, by, ("administrator",)) as act:
        person = write_person(act, login, full_name, roles)
        act.record("person added", login, full_name=full_name, roles=list(check_roles(roles)))
        return person_facts(act.database, person)


def change_person(
    shop: Shop, by: int, person: int, *, roles: Sequence[str] | None = None, active: bool | None = None, reason: str
) -> PersonFacts:
    """Change a person's roles, or let them leave or come back; for an administrator."""
    why = check_text("reason", reason)
    with acting(shop, by, ("administrator",)) as act:
        before = person_facts(act.database, person)
        if roles is not None:
            _set_roles(act, person, check_roles(roles))
        if active is not None:
            act.update("person", person, active=int(active))
        after = person_facts(act.database, person)
        if not act.database.value(
            "SELECT 1 FROM person p JOIN role r ON r.person=p.id"
            " WHERE p.active=1 AND r.role='administrator' AND r.held=1"
        ):
            raise ActRefused("last_administrator", "the shop would be left without an administrator")
        act.record(
            "person changed",
            after.login,
            before=list(before.roles),
            roles=list(after.roles),
            active=after.active,
            reason=why,
        )
        return after


def _set_roles(act: Act, person: int, roles: Sequence[str]) -> None:
    for role in ROLES:
        row = act.database.row("SELECT id, held FROM role WHERE person=? AND role=?", person, role)
        held = int(role in roles)
        if row is None and held:
            act.insert("role", person=person, role=role, held=1)
        elif row is not None and row["held"] != held:
            act.update("role", row["id"], held=held)


def set_secret_hash(shop: Shop, by: int, person: int, *, password: str | None = None, pin: str | None = None) -> None:
    """Store the argon2id hash of a password or PIN, never the secret; by the person or an administrator."""
    hashes = check_hashes(password, pin)
    with acting(shop, by) as act:
        if by != person and "administrator" not in act.roles:
            raise ActRefused("wrong_role", "this is for the person or an administrator")
        facts = person_facts(act.database, person)
        act.update("person", person, **hashes)
        act.record("person changed", facts.login, secrets=sorted(hashes))


def check_hashes(password: str | None, pin: str | None) -> dict[str, str]:
    """The columns to be written; ActRefused `bad_hash` for anything that is not an argon2id hash, keyed or plain."""
    given = {"password_hash": password, "pin_hash": pin}
    hashes = {name: text for name, text in given.items() if text is not None}
    if not hashes or not all(_STORED.fullmatch(text) for text in hashes.values()):
        raise ActRefused("bad_hash", "only an argon2id hash is stored")
    return hashes


def person_facts(database: Database, person: int) -> PersonFacts:
    """Give a person by id; ActRefused `unknown_person`."""
    row = database.row("SELECT * FROM person WHERE id=?", person)
    if row is None:
        raise ActRefused("unknown_person", "nobody of the shop is known by that number")
    return _facts(database, row)


def _facts(database: Database, row: Row) -> PersonFacts:
    held = database.rows("SELECT role FROM role WHERE person=? AND held=1", row["id"])
    roles = {str(one["role"]) for one in held}
    ordered = tuple(role for role in ROLES if role in roles)
    return PersonFacts(row["id"], row["login"], row["full_name"], ordered, bool(row["active"]))


def find_person(shop: Shop, login: str) -> PersonFacts:
    """Give a person by login; ActRefused `unknown_person`."""
    row = shop.database.row("SELECT * FROM person WHERE login=?", login)
    if row is None:
        raise ActRefused("unknown_person", f"nobody of the shop has the login {login!r}")
    return _facts(shop.database, row)


def secret_hashes(shop: Shop, person: int) -> tuple[str | None, str | None]:
    """The stored hashes of a person's password and PIN, for whoever checks a sign-in."""
    row = shop.database.row("SELECT password_hash, pin_hash FROM person WHERE id=?", person)
    return (row["password_hash"], row["pin_hash"]) if row else (None, None)


def person_by_id(shop: Shop, person: int) -> PersonFacts:
    """Give a person by number; ActRefused `unknown_person`."""
    return person_facts(shop.database, person)


def people(shop: Shop) -> tuple[PersonFacts, ...]:
    """Everybody of the shop, by id."""
    return tuple(_facts(shop.database, row) for row in shop.database.rows("SELECT * FROM person ORDER BY id"))
