"""Acts of entry: one-time codes for a first password, and the first administrator's password."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.records.act import acting
from verifier.records.lookup import find_machine
from verifier.records.names import check_text
from verifier.records.people import check_hashes, person_facts
from verifier.records.sessions import name_hash
from verifier.records.shop import Shop
from verifier.source import ActRefused

_SECOND = 1_000_000


def give_code(shop: Shop, by: int, person: int, code_hash: str, lasts_s: int) -> int:
    """Let a person set their own password and PIN once, with a code; for an administrator. Gives when it ends.

    Earlier codes of the person no longer count.
    """
    with acting(shop, by, ("administrator",)) as act:
        facts = person_facts(act.database, person)
        for row in act.database.rows("SELECT id FROM code WHERE person=? AND used_us IS NULL", person):
            act.update("code", row["id"], used_us=act.now)
        ends = act.now + lasts_s * _SECOND
        act.insert("code", person=person, hash=code_hash, given_by=by, created_us=act.now, ends_us=ends)
        act.record("code given", facts.login)
        return ends


def use_code(shop: Shop, person: int, code_hash: str, *, password: str, pin: str) -> None:
    """Set a person's password and PIN with their code, which is then used up; ActRefused `bad_code`."""
    hashes = check_hashes(password, pin)
    with acting(shop, person) as act:
        row = act.database.row(
            "SELECT id FROM code WHERE person=? AND hash=? AND used_us IS NULL AND ends_us>?",
            person,
            code_hash,
            act.now,
        )
        if row is None:
            raise bad_code()
        facts = person_facts(act.database, person)
        act.update("code", row["id"], used_us=act.now)
        act.update("person", person, **hashes)
        act.record("person changed", facts.login, secrets=sorted(hashes))


def bad_code() -> ActRefused:
    """The one answer to a code that is wrong, used, over, or somebody else's."""
    return ActRefused(
        "bad_code", "the login or the code is not right, or it was used or is over", "ask for another one"
    )


def nobody_can_sign_in(shop: Shop) -> bool:
    """Whether no active administrator has a password yet."""
    return not shop.database.value(
        "SELECT 1 FROM person p JOIN role r ON r.person=p.id WHERE p.active=1 AND p.password_hash IS NOT NULL"
        " AND r.role='administrator' AND r.held=1"
    )


def set_first_password(shop: Shop, person: int, *, password: str, pin: str) -> None:
    """Give an administrator password and PIN while no administrator has a password; ActRefused `not_first`."""
    hashes = check_hashes(password, pin)
    with acting(shop, person, ("administrator",)) as act:
        if not nobody_can_sign_in(shop):
            raise ActRefused("not_first", "an administrator can sign in already", "ask them for a one-time code")
        facts = person_facts(act.database, person)
        act.update("person", person, **hashes)
        act.record("person changed", facts.login, secrets=sorted(hashes))


def add_terminal(shop: Shop, by: int, name: str, machine: str, token_hash: str) -> int:
    """Make a screen at a machine known, so that its operators open short sessions there by PIN; for an administrator."""
    label = check_text("name", name, 60)
    with acting(shop, by, ("administrator",)) as act:
        place = find_machine(act.database, machine)
        key = act.insert("terminal", name=label, machine=place.id, hash=token_hash, created_us=act.now, ended_us=None)
        act.record("terminal added", place.name, name=label)
        return key


def end_terminal(shop: Shop, by: int, terminal: int) -> None:
    """Take a screen's standing away, and with it every session opened there; for an administrator."""
    with acting(shop, by, ("administrator",)) as act:
        row = act.database.row("SELECT * FROM terminal WHERE id=? AND ended_us IS NULL", terminal)
        if row is None:
            raise ActRefused("unknown_terminal", "there is no such terminal")
        act.database.run("DELETE FROM session WHERE terminal=?", terminal)
        act.update("terminal", terminal, ended_us=act.now)
        act.record("terminal ended", str(row["name"]))


@dataclass(frozen=True, slots=True)
class TerminalFacts:
    """A screen that stands at a machine."""

    id: int
    name: str
    machine: str


def find_terminal(shop: Shop, token: str) -> TerminalFacts | None:
    """The terminal that holds this secret, if it still counts."""
    row = shop.database.row(
        "SELECT t.id, t.name, m.name AS place FROM terminal t JOIN machine m ON m.id=t.machine"
        " WHERE t.hash=? AND t.ended_us IS NULL",
        name_hash(token),
    )
    return None if row is None else TerminalFacts(int(row["id"]), str(row["name"]), str(row["place"]))


def terminals(shop: Shop) -> tuple[TerminalFacts, ...]:
    """Every terminal that still counts, by number."""
    rows = shop.database.rows(
        "SELECT t.id, t.name, m.name AS place FROM terminal t JOIN machine m ON m.id=t.machine"
        " WHERE t.ended_us IS NULL ORDER BY t.id"
    )
    return tuple(TerminalFacts(int(row["id"]), str(row["name"]), str(row["place"])) for row in rows)
