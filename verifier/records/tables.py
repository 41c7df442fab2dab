"""The tables, indexes and guards of a shop's records, as the steps that lead from an empty file to today's shape.

A step is never edited once it has been released; a new shape is a new step. Tables with guards are never rebuilt by
library helpers, because those drop the guards without a word. Times are microseconds since 1970 in UTC.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from verifier.records.accepted_tables import FOREVER as ACCEPTED_FOREVER
from verifier.records.accepted_tables import REFUSED as ACCEPTED_REFUSED
from verifier.records.accepted_tables import TABLES as ACCEPTED_TABLES
from verifier.records.answer_tables import TABLES as ANSWER_TABLES
from verifier.records.entry_tables import FIXED, ONCE, TABLES
from verifier.records.likeness_tables import TABLES as LIKENESS_TABLES
from verifier.records.proven_tables import FOREVER as PROVEN_FOREVER
from verifier.records.proven_tables import TABLES as PROVEN_TABLES
from verifier.records.states import ROLES, STATES, sql_list, sql_ways


def _sha(column: str, null: bool = False) -> str:
    """Give a column that holds a SHA-256 in lower-case hexadecimal."""
    return f"{column} TEXT {'' if null else 'NOT NULL '}CHECK(length({column})=64 AND {column} NOT GLOB '*[^0-9a-f]*')"


_TABLES = (
    f"CREATE TABLE body({_sha('sha')} PRIMARY KEY, bytes BLOB NOT NULL) STRICT",
    """CREATE TABLE shop(
        id INTEGER PRIMARY KEY CHECK(id=1), uid TEXT NOT NULL, name TEXT NOT NULL,
        created_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE person(
        id INTEGER PRIMARY KEY, login TEXT NOT NULL UNIQUE, full_name TEXT NOT NULL, folded_name TEXT NOT NULL UNIQUE,
        active INTEGER NOT NULL CHECK(active IN (0,1)), password_hash TEXT, pin_hash TEXT,
        created_us INTEGER NOT NULL) STRICT""",
    f"""CREATE TABLE role(
        id INTEGER PRIMARY KEY, person INTEGER NOT NULL REFERENCES person,
        role TEXT NOT NULL CHECK(role IN ({sql_list(ROLES)})), held INTEGER NOT NULL CHECK(held IN (0,1)),
        UNIQUE(person, role)) STRICT""",
    """CREATE TABLE machine(
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, folded TEXT NOT NULL UNIQUE, machine_group TEXT, folded_group TEXT,
        folder TEXT NOT NULL UNIQUE, extension TEXT NOT NULL, takeover INTEGER NOT NULL CHECK(takeover IN (0,1)),
        profile_sha TEXT NOT NULL REFERENCES body, created_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE policy(
        id INTEGER PRIMARY KEY, sha TEXT NOT NULL REFERENCES body, lead INTEGER NOT NULL REFERENCES person,
        full_name TEXT NOT NULL, reason TEXT NOT NULL, at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE program(
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, folded TEXT NOT NULL, machine INTEGER REFERENCES machine,
        folded_group TEXT, created_us INTEGER NOT NULL, CHECK((machine IS NULL) <> (folded_group IS NULL))) STRICT""",
    f"""CREATE TABLE revision(
        id INTEGER PRIMARY KEY, program INTEGER NOT NULL REFERENCES program, n INTEGER NOT NULL CHECK(n>0),
        sha TEXT NOT NULL REFERENCES body, state TEXT NOT NULL CHECK(state IN ({sql_list(STATES)})),
        held_because TEXT NOT NULL, review INTEGER, created_us INTEGER NOT NULL,
        UNIQUE(program, n), UNIQUE(program, sha)) STRICT""",
    f"""CREATE TABLE review(
        id INTEGER PRIMARY KEY, revision INTEGER NOT NULL REFERENCES revision,
        cause TEXT NOT NULL CHECK(cause IN ('submitted','submitted again','checked again')),
        author INTEGER REFERENCES person, reason TEXT NOT NULL, {_sha("digest")},
        setup_sha TEXT REFERENCES body, policy_sha TEXT REFERENCES body, profiles TEXT NOT NULL,
        clear INTEGER NOT NULL CHECK(clear IN (0,1)), at_us INTEGER NOT NULL) STRICT""",
    f"""CREATE TABLE report(
        id INTEGER PRIMARY KEY, review INTEGER NOT NULL REFERENCES review, {_sha("digest")},
        base_sha TEXT REFERENCES body, verdict TEXT NOT NULL, sign_off_required INTEGER NOT NULL,
        sign_off_reasons TEXT NOT NULL, has_critical INTEGER NOT NULL, {_sha("machine_digest")},
        {_sha("setup_digest", null=True)}, {_sha("policy_digest")}, {_sha("rules_digest")}, tool_version TEXT NOT NULL,
        check_code TEXT NOT NULL, called TEXT NOT NULL, program_number INTEGER,
        json_sha TEXT NOT NULL REFERENCES body, created_us INTEGER NOT NULL) STRICT""",
    f"""CREATE TABLE decision(
        id INTEGER PRIMARY KEY, revision INTEGER NOT NULL REFERENCES revision,
        review INTEGER NOT NULL UNIQUE REFERENCES review, verdict TEXT NOT NULL
        CHECK(verdict IN ('approve','prove-out','turn back')), lead INTEGER NOT NULL REFERENCES person,
        full_name TEXT NOT NULL, meaning TEXT NOT NULL, reason TEXT NOT NULL, {_sha("digest_seen")},
        bound TEXT NOT NULL, machine INTEGER REFERENCES machine, days INTEGER, at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE release(
        id INTEGER PRIMARY KEY, revision INTEGER NOT NULL REFERENCES revision,
        review INTEGER NOT NULL REFERENCES review, machine INTEGER NOT NULL REFERENCES machine,
        program INTEGER NOT NULL REFERENCES program,
        kind TEXT NOT NULL CHECK(kind IN ('full','prove-out','return')), origin INTEGER NOT NULL,
        person INTEGER NOT NULL REFERENCES person, reason TEXT NOT NULL, challenge TEXT NOT NULL,
        at_us INTEGER NOT NULL, ends_us INTEGER, ended_us INTEGER, ended_because TEXT
        CHECK(ended_because IN ('replaced','set aside','went back','recalled')),
        CHECK((ended_us IS NULL) = (ended_because IS NULL))) STRICT""",
    """CREATE TABLE recall(
        id INTEGER PRIMARY KEY, revision INTEGER NOT NULL REFERENCES revision, person INTEGER REFERENCES person,
        reason TEXT NOT NULL, last_release INTEGER NOT NULL, machines TEXT NOT NULL, at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE job(
        id INTEGER PRIMARY KEY, release INTEGER NOT NULL REFERENCES release,
        machine INTEGER NOT NULL REFERENCES machine, program INTEGER NOT NULL REFERENCES program,
        kind TEXT NOT NULL CHECK(kind IN ('write','remove')),
        file TEXT NOT NULL, sha TEXT NOT NULL REFERENCES body,
        state TEXT NOT NULL CHECK(state IN ('waiting','pending','done','overtaken')), trouble TEXT,
        created_us INTEGER NOT NULL, finished_us INTEGER) STRICT""",
    """CREATE TABLE readback(
        id INTEGER PRIMARY KEY, machine INTEGER NOT NULL REFERENCES machine,
        program INTEGER NOT NULL REFERENCES program, revision INTEGER NOT NULL REFERENCES revision,
        operator INTEGER NOT NULL REFERENCES person,
        sha TEXT NOT NULL REFERENCES body, equal INTEGER NOT NULL CHECK(equal IN (0,1)), differences TEXT NOT NULL,
        at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE confirmation(
        id INTEGER PRIMARY KEY, release INTEGER NOT NULL REFERENCES release,
        revision INTEGER NOT NULL REFERENCES revision, machine INTEGER NOT NULL REFERENCES machine,
        operator INTEGER NOT NULL REFERENCES person, full_name TEXT NOT NULL,
        what TEXT NOT NULL CHECK(what IN ('loaded','prove-out')),
        how TEXT NOT NULL CHECK(how IN ('check code','read-back','first piece')),
        strength TEXT NOT NULL CHECK(strength IN ('weak','strong')), readback INTEGER UNIQUE REFERENCES readback,
        readings TEXT, held_before TEXT NOT NULL, at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE ledger(
        seq INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, person INTEGER, act TEXT NOT NULL, subject TEXT NOT NULL,
        body TEXT NOT NULL, leaf BLOB NOT NULL CHECK(length(leaf)=32), prev BLOB NOT NULL CHECK(length(prev)=32),
        hash BLOB NOT NULL CHECK(length(hash)=32)) STRICT""",
)

_INDEXES = (
    "CREATE UNIQUE INDEX program_on_machine ON program(folded, machine) WHERE machine IS NOT NULL",
    "CREATE UNIQUE INDEX program_in_group ON program(folded, folded_group) WHERE folded_group IS NOT NULL",
    "CREATE UNIQUE INDEX release_current ON release(machine, program) WHERE ended_us IS NULL",
    "CREATE INDEX job_of_release ON job(release, kind, id)",
    "CREATE INDEX revision_state ON revision(state)",
    "CREATE INDEX review_revision ON review(revision)",
    "CREATE INDEX report_review ON report(review)",
    "CREATE INDEX report_digest ON report(digest)",
    "CREATE INDEX release_revision ON release(revision)",
    "CREATE INDEX release_place ON release(machine, program, id)",
    "CREATE INDEX release_standing ON release(program) WHERE ended_us IS NULL",
    "CREATE INDEX job_open ON job(state) WHERE state IN ('waiting','pending')",
    "CREATE INDEX readback_place ON readback(machine, program, id)",
    "CREATE INDEX confirmation_place ON confirmation(machine, revision)",
    "CREATE INDEX ledger_subject ON ledger(subject, seq)",
)

#: Rows that are history: written once, never changed, never taken away.
_FOREVER = ("body", "shop", "policy", "review", "report", "decision", "recall", "readback", "confirmation", "ledger")
#: Rows that move on in the columns named, never elsewhere, and are never taken away.
_MOVING = {
    "person": ("login", "created_us"),
    "role": ("person", "role"),
    "machine": ("name", "folded", "created_us"),
    "program": ("name", "folded", "machine", "folded_group", "created_us"),
    "revision": ("program", "n", "sha", "created_us"),
    "release": ("revision", "review", "machine", "program", "kind", "origin", "person", "reason", "challenge", "at_us"),
    "job": ("release", "machine", "program", "kind", "file", "sha", "created_us"),
}


def _guard(name: str, event: str, table: str, when: str, message: str) -> str:
    condition = f" WHEN {when}" if when else ""
    return f"CREATE TRIGGER {name} BEFORE {event} ON {table}{condition} BEGIN SELECT RAISE(ABORT,'{message}'); END"


def _keep_guards(forever: Sequence[str], moving: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    guards = [_guard(f"{t}_stays", "DELETE", t, "", f"{t}: rows are never deleted") for t in (*forever, *moving)]
    guards += [_guard(f"{t}_fixed", "UPDATE", t, "", f"{t}: rows are never changed") for t in forever]
    for table, columns in moving.items():
        changed = " OR ".join(f"NEW.{c} IS NOT OLD.{c}" for c in ("id", *columns))
        guards.append(_guard(f"{table}_fixed", "UPDATE", table, changed, f"{table}: these columns never change"))
    return tuple(guards)


def _once_guards() -> tuple[str, ...]:
    return tuple(
        _guard(f"{t}_once", "UPDATE", t, f"OLD.{column} IS NOT NULL", f"{t}: is over") for t, column in ONCE.items()
    )


_SELF = "EXISTS(SELECT 1 FROM review WHERE revision=NEW.revision AND author=NEW.lead)"
_SIGNED = (
    "EXISTS(SELECT 1 FROM review v JOIN revision r ON r.review=v.id WHERE v.id=NEW.review AND r.id=NEW.revision AND"
    " (v.clear=1 OR EXISTS(SELECT 1 FROM decision d WHERE d.review=v.id AND (d.verdict='approve' OR"
    " (d.verdict='prove-out' AND EXISTS(SELECT 1 FROM confirmation c JOIN release p ON p.id=c.release"
    " WHERE p.review=v.id AND c.what='prove-out'))))))"
)
_FOR_PROVE_OUT = (
    "NEW.ends_us > NEW.at_us AND EXISTS(SELECT 1 FROM decision WHERE review=NEW.review AND revision=NEW.revision"
    " AND verdict='prove-out' AND machine=NEW.machine)"
)
_PROVEN = "EXISTS(SELECT 1 FROM confirmation WHERE machine=NEW.machine AND revision=NEW.revision)"
_NEXT = "NEW.seq IS NOT (SELECT coalesce(max(seq),0)+1 FROM ledger)"
_LINKED = "NEW.prev IS NOT coalesce((SELECT hash FROM ledger ORDER BY seq DESC LIMIT 1), zeroblob(32))"

_RULE_GUARDS = (
    _guard("ledger_linked", "INSERT", "ledger", f"{_NEXT} OR {_LINKED}", "ledger: not the next entry"),
    _guard(
        "ledger_time", "INSERT", "ledger", "NEW.at_us < (SELECT max(at_us) FROM ledger)", "ledger: time runs backwards"
    ),
    _guard(
        "revision_way",
        "UPDATE OF state",
        "revision",
        f"NEW.state<>OLD.state AND (OLD.state||'>'||NEW.state) NOT IN ({sql_ways()})",
        "revision: no way from this state to that one",
    ),
    _guard("revision_start", "INSERT", "revision", "NEW.state<>'submitted'", "revision: begins as submitted"),
    _guard("decision_not_own", "INSERT", "decision", _SELF, "decision: nobody signs off their own revision"),
    _guard(
        "decision_by_lead",
        "INSERT",
        "decision",
        "NOT EXISTS(SELECT 1 FROM role WHERE person=NEW.lead AND role='lead' AND held=1)",
        "decision: only a lead decides",
    ),
    _guard(
        "decision_current",
        "INSERT",
        "decision",
        "NOT EXISTS(SELECT 1 FROM revision r JOIN review v ON v.id=r.review WHERE r.id=NEW.revision AND v.id=NEW.review"
        " AND r.state='held' AND v.digest=NEW.digest_seen)",
        "decision: not on the report that is held",
    ),
    _guard("release_signed", "INSERT", "release", f"NEW.kind='full' AND NOT {_SIGNED}", "release: not signed off"),
    _guard(
        "release_prove_out",
        "INSERT",
        "release",
        f"NEW.kind='prove-out' AND NOT ({_FOR_PROVE_OUT})",
        "release: no such prove-out was signed",
    ),
    _guard(
        "release_return", "INSERT", "release", f"NEW.kind='return' AND NOT {_PROVEN}", "release: never proven there"
    ),
    _guard("release_ends_once", "UPDATE", "release", "OLD.ended_us IS NOT NULL", "release: has ended"),
    _guard(
        "job_final", "UPDATE", "job", "OLD.state IN ('done','overtaken') OR NEW.state='waiting'", "job: is finished"
    ),
    _guard(
        "readback_equal",
        "INSERT",
        "confirmation",
        "NEW.strength='strong' AND NOT EXISTS(SELECT 1 FROM readback WHERE id=NEW.readback AND equal=1"
        " AND machine=NEW.machine AND revision=NEW.revision)",
        "confirmation: strong only by an equal read-back",
    ),
)

#: What makes a file a shop's records and nothing else: "VRec" as a number, kept in the file's header.
APPLICATION_ID = 0x56526563

#: One tuple of statements per version; the version of a file is the number of steps it has been through.
STEPS: tuple[tuple[str, ...], ...] = (
    (*_TABLES, *_INDEXES, *_keep_guards(_FOREVER, _MOVING), *_RULE_GUARDS),
    (*TABLES, *_keep_guards((), FIXED), *_once_guards()),
    ANSWER_TABLES,
    LIKENESS_TABLES,
    (*PROVEN_TABLES, *_keep_guards(PROVEN_FOREVER, {})),
    (
        *ACCEPTED_TABLES,
        *_keep_guards(ACCEPTED_FOREVER, {}),
        *(_guard(name, "INSERT", table, when, said) for name, table, when, said in ACCEPTED_REFUSED),
    ),
)
