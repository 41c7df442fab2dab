"""Tokens by which a program acts for a person over the API: 256 random bits, of which the SHA-256 is kept, with scopes and an end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from verifier.records.act import acting
from verifier.records.database import Row
from verifier.records.facts import PersonFacts
from verifier.records.names import check_text
from verifier.records.people import person_facts
from verifier.records.sessions import name_hash
from verifier.records.shop import Shop
from verifier.source import ActRefused

#: What a token may be used for.
SCOPES = ("read", "submit", "decide", "release", "confirm", "administer")

READS = ("read",)

_DAY = 86_400_000_000


@dataclass(frozen=True, slots=True)
class TokenFacts:
    """A token as its owner sees it: never the token itself."""

    id: int
    person: PersonFacts
    name: str
    scopes: tuple[str, ...]
    created_us: int
    ends_us: int
    ended_us: int | None


def make_token(
    shop: Shop, person: int, name: str, token: str, scopes: Sequence[str], days: int, *, by: int | None = None
) -> TokenFacts:
    """Make a token of one's own, or as an administrator (`by`) one for somebody else, that lasts so many days.

    What acts in a person's name only that person makes: for others an administrator makes tokens that read, and no more
    (ActRefused `reads_only`). `token` is the secret; only its hash is kept. That its maker has proved again who they are
    is the caller's to see to.
    """
    label, wanted = check_text("name", name, 60), tuple(scope for scope in SCOPES if scope in scopes)
    if not wanted or set(scopes) - set(SCOPES):
        raise ActRefused("bad_scope", "a token needs scopes, and only known ones", "one of: " + ", ".join(SCOPES))
    if not 1 <= days <= 366:
        raise ActRefused("bad_days", "a token lasts 1 to 366 days")
    maker = person if by is None else by
    if maker != person and wanted != READS:
        raise ActRefused(
            "reads_only",
            "for somebody else a token is made that reads, and no more",
            "what acts in a person's name, that person makes, with their PIN",
        )
    with acting(shop, maker, () if maker == person else ("administrator",)) as act:
        if not person_facts(act.database, person).active:
            raise ActRefused("unknown_person", "whoever has left gets no token")
        values = {"person": person, "name": label, "hash": name_hash(token), "scopes": " ".join(wanted)}
        key = act.insert("token", **values, created_us=act.now, ends_us=act.now + days * _DAY, ended_us=None)
        act.record("token made", person_facts(act.database, person).login, name=label, scopes=list(wanted), days=days)
    return next(found for found in tokens_of(shop, person) if found.id == key)


def find_token(shop: Shop, token: str) -> TokenFacts | None:
    """The token if it still counts and its person is still here."""
    row = shop.database.row("SELECT * FROM token WHERE hash=? AND ended_us IS NULL", name_hash(token))
    if row is None or row["ends_us"] <= shop.clock():
        return None
    facts = _facts(shop, row)
    return facts if facts.person.active else None


def tokens_of(shop: Shop, person: int) -> tuple[TokenFacts, ...]:
    """Every token that a person made, by number."""
    rows = shop.database.rows("SELECT * FROM token WHERE person=? ORDER BY id", person)
    return tuple(_facts(shop, row) for row in rows)


def all_tokens(shop: Shop) -> tuple[TokenFacts, ...]:
    """Every token of the shop, by number."""
    return tuple(_facts(shop, row) for row in shop.database.rows("SELECT * FROM token ORDER BY id"))


def end_token(shop: Shop, by: int, token: int) -> None:
    """Take a token away; by its person or an administrator."""
    with acting(shop, by) as act:
        row = act.database.row("SELECT * FROM token WHERE id=? AND ended_us IS NULL", token)
        if row is None or (row["person"] != by and "administrator" not in act.roles):
            raise ActRefused("unknown_token", "there is no such token of yours")
        act.update("token", token, ended_us=act.now)
        act.record("token ended", person_facts(act.database, int(row["person"])).login, name=str(row["name"]))


def _facts(shop: Shop, row: Row) -> TokenFacts:
    person = person_facts(shop.database, int(row["person"]))
    scopes = tuple(str(row["scopes"]).split(" "))
    times = (int(row["created_us"]), int(row["ends_us"]), row["ended_us"])
    return TokenFacts(int(row["id"]), person, str(row["name"]), scopes, *times)
