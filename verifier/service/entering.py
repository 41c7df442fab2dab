"""How a person proves who they are: password, one-time code, or PIN at a machine's screen; every try counted before it is looked at."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass

from verifier import records
from verifier.desk import needs_rehash, password_hash, password_proven, pin_hash
from verifier.records import PersonFacts, TerminalFacts, Tries
from verifier.service.context import Service, address, desk
from verifier.source import ActRefused

_SYMBOLS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_GROUPS, _GROUP = 4, 4
CODE_LASTS_S = 72 * 3600


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed to come in; never printed or logged."""

    login: str
    password: str

    def __repr__(self) -> str:
        """Hide what was typed."""
        return "Entry(...)"


def new_code() -> str:
    """A one-time code to be read out or written down: 16 symbols, some 79 bits."""
    groups = ["".join(secrets.choice(_SYMBOLS) for _ in range(_GROUP)) for _ in range(_GROUPS)]
    return "-".join(groups)


def _plain_code(code: str) -> str:
    return "".join(c for c in code.upper() if c.isalnum())


def code_hash(running: Service, code: str) -> str:
    """What is kept of a code: keyed with the server key, because a code is short."""
    return running.key.keyed("code", _plain_code(code))


def _counted(running: Service, what: str, who: str) -> tuple[Tries, Tries]:
    """The counts of one person and of one address, for one kind of secret."""
    config = running.config
    name = records.name_hash(who)[:32]  # a login that nobody has may be a password typed in the wrong place
    return (
        Tries(f"{what} of {name}", config.tries, config.lock_s),
        Tries(f"{what} from {address()}", config.address_tries, config.lock_s),
    )


def enter(running: Service, entry: Entry) -> PersonFacts:
    """The person, by login and password; one answer and the same work whether the login or the password is wrong."""
    shop = running.shop()
    own, shared = _counted(running, "password", entry.login)
    records.take_try(shop, [own, shared])
    person = _known(running, entry.login)
    stored = records.secret_hashes(shop, person.id)[0] if person else None
    if not password_proven(stored, entry.password) or person is None or stored is None:
        raise ActRefused("sign_in_again", "the login or the password is not right")
    records.give_back(shop, own, [shared])
    if needs_rehash(stored):
        records.set_secret_hash(shop, person.id, person.id, password=password_hash(entry.password))
    return person


def _known(running: Service, login: str) -> PersonFacts | None:
    try:
        person = records.find_person(running.shop(), login)
    except ActRefused:
        return None
    return person if person.active else None


def check_code(running: Service, code: str) -> None:
    """Check the code that the server printed at its start; counted like a password, for all who try together."""
    counted = Tries("first code", running.config.address_tries, running.config.lock_s)
    if running.exists():
        records.take_try(running.shop(), [counted])
    known = running.first_code
    if known is None or not hmac.compare_digest(_plain_code(known).encode(), _plain_code(code).encode()):
        raise ActRefused(
            "bad_code",
            "the code is not the one that was printed",
            "read it where the server was started; started anew it prints another",
        )
    if running.exists():
        records.give_back(running.shop(), counted)


def redeem(running: Service, entry: Entry, code: str, pin: str) -> None:
    """Set a person's first password and PIN by their one-time code."""
    shop = running.shop()
    own, shared = _counted(running, "code", entry.login)
    records.take_try(shop, [own, shared])
    person = _known(running, entry.login)
    if person is None:
        raise records.bad_code()
    password = password_hash(entry.password, person.login, person.full_name)
    records.use_code(shop, person.id, code_hash(running, code), password=password, pin=pin_hash(running.key, pin))
    records.give_back(shop, own, [shared])
    for what in ("password of", "pin of"):  # whoever was locked out got the code for that
        who = str(person.id) if what == "pin of" else records.name_hash(person.login)[:32]
        records.give_back(shop, Tries(f"{what} {who}", 1, 1))


def set_own(running: Service, person: PersonFacts, present: str, *, password: str, pin: str) -> None:
    """Set another password, PIN or both for oneself, with the present password."""
    if not password and not pin:
        raise ActRefused("bad_form", "neither another password nor another PIN was given")
    enter(running, Entry(person.login, present))
    new = password_hash(password, person.login, person.full_name) if password else None
    keyed = pin_hash(running.key, pin) if pin else None
    records.set_secret_hash(running.shop(), person.id, person.id, password=new, pin=keyed)


def open_here(running: Service, terminal: TerminalFacts, login: str, pin: str) -> PersonFacts:
    """The operator who stands at a machine's screen: the screen is one proof, the PIN the other."""
    if _known(running, login) is None:
        records.take_try(running.shop(), list(_counted(running, "password", login)))
        password_proven(None, pin)  # the same work as for a login that is known
        raise ActRefused("sign_in_again", "the login or the PIN is not right")
    person = desk().proven(login, pin)
    if "operator" not in person.roles:
        raise ActRefused("wrong_role", f"the screen at {terminal.machine} is for its operators")
    return person
