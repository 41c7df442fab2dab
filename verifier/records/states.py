"""The states of a revision and the only ways from one to another; the table's trigger is made from this list."""

from __future__ import annotations

from collections.abc import Iterable

SUBMITTED = "submitted"
HELD = "held"
CLEARED = "cleared"
RELEASED = "released"
RETIRED = "retired"
TURNED_BACK = "turned back"
PROVE_OUT = "prove-out"
WITHDRAWN = "withdrawn"
RECALLED = "recalled"

STATES = (SUBMITTED, HELD, CLEARED, RELEASED, RETIRED, TURNED_BACK, PROVE_OUT, WITHDRAWN, RECALLED)

#: From each state to those that may follow. `held` and `cleared` follow `released` when known bytes are submitted again
#: with other things around them (a called program, say) while the earlier release still stands at the machine; it goes
#: back to `released` or `retired` when that new review comes to nothing.
WAYS: dict[str, tuple[str, ...]] = {
    SUBMITTED: (HELD, CLEARED, WITHDRAWN),
    HELD: (CLEARED, TURNED_BACK, PROVE_OUT, WITHDRAWN, RELEASED, RETIRED, RECALLED),
    CLEARED: (RELEASED, HELD, WITHDRAWN, RETIRED, RECALLED),
    RELEASED: (RETIRED, RECALLED, HELD, CLEARED),
    PROVE_OUT: (CLEARED, RECALLED),
    RETIRED: (RELEASED, HELD, CLEARED, RECALLED),
    TURNED_BACK: (HELD,),
    WITHDRAWN: (HELD, CLEARED),
    RECALLED: (HELD,),
}

#: Bytes in one of these states are always looked at by a lead when they are handed in once more.
NEVER_CLEARED_BY_ITSELF = (TURNED_BACK, RECALLED)

ROLES = ("programmer", "lead", "operator", "administrator")


def a_role(roles: Iterable[str]) -> str:
    """Roles in a sentence: a lead or an operator."""
    return " or ".join(("an " if role[:1] in "aeiou" else "a ") + role for role in roles)


def sql_list(words: tuple[str, ...]) -> str:
    """Words as an SQL list of literals; only for constants of this package."""
    return ", ".join("'" + word.replace("'", "''") + "'" for word in words)


def sql_ways() -> str:
    """The allowed changes of state as an SQL list of `old>new` literals."""
    return sql_list(tuple(f"{old}>{new}" for old, following in WAYS.items() for new in following))
