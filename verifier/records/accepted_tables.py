"""The tables of accepted hazards, as the sixth step of a shop's records: acceptances, their ends, and the reports that rest on them.

All three are history: an acceptance that ends is not changed, its end is a row of its own.
"""

from __future__ import annotations

TABLES = (
    """CREATE TABLE acceptance(
        id INTEGER PRIMARY KEY, program INTEGER NOT NULL REFERENCES program,
        revision INTEGER NOT NULL REFERENCES revision, review INTEGER NOT NULL REFERENCES review,
        key TEXT NOT NULL CHECK(length(key)=64 AND key NOT GLOB '*[^0-9a-f]*'), rule TEXT NOT NULL,
        rule_revision INTEGER NOT NULL, weight TEXT NOT NULL, title TEXT NOT NULL, words TEXT NOT NULL,
        lead INTEGER NOT NULL REFERENCES person, full_name TEXT NOT NULL, meaning TEXT NOT NULL,
        reason TEXT NOT NULL, at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE acceptance_end(
        id INTEGER PRIMARY KEY, acceptance INTEGER NOT NULL UNIQUE REFERENCES acceptance,
        lead INTEGER NOT NULL REFERENCES person, full_name TEXT NOT NULL, reason TEXT NOT NULL,
        at_us INTEGER NOT NULL) STRICT""",
    """CREATE TABLE report_accepted(
        id INTEGER PRIMARY KEY, report INTEGER NOT NULL REFERENCES report,
        acceptance INTEGER NOT NULL REFERENCES acceptance, UNIQUE(report, acceptance)) STRICT""",
    "CREATE INDEX acceptance_program ON acceptance(program, key)",
)

FOREVER = ("acceptance", "acceptance_end", "report_accepted")
"""Rows that are written once, never changed, never taken away."""

_HOLDS = "NOT EXISTS(SELECT 1 FROM acceptance_end e WHERE e.acceptance=a.id)"
_LEAD = "NOT EXISTS(SELECT 1 FROM role WHERE person=NEW.lead AND role='lead' AND held=1)"

#: Guards: name, table, when an insert is refused, and what is said then.
REFUSED = (
    ("acceptance_by_lead", "acceptance", _LEAD, "acceptance: only a lead accepts"),
    (
        "acceptance_not_own",
        "acceptance",
        "EXISTS(SELECT 1 FROM review WHERE revision=NEW.revision AND author=NEW.lead)",
        "acceptance: nobody accepts a hazard of their own revision",
    ),
    (
        "acceptance_current",
        "acceptance",
        "NOT EXISTS(SELECT 1 FROM revision WHERE id=NEW.revision AND review=NEW.review AND program=NEW.program)",
        "acceptance: not on the report that the revision stands on",
    ),
    (
        "acceptance_once",
        "acceptance",
        f"EXISTS(SELECT 1 FROM acceptance a WHERE a.program=NEW.program AND a.key=NEW.key AND {_HOLDS})",
        "acceptance: this hazard is accepted already",
    ),
    ("acceptance_end_by_lead", "acceptance_end", _LEAD, "acceptance: only a lead withdraws one"),
    (
        "report_accepted_holds",
        "report_accepted",
        "NOT EXISTS(SELECT 1 FROM acceptance a JOIN report p ON p.id=NEW.report JOIN review v ON v.id=p.review"
        f" JOIN revision r ON r.id=v.revision WHERE a.id=NEW.acceptance AND a.program=r.program AND {_HOLDS})",
        "report: it rests on an acceptance that does not hold",
    ),
    (
        "decision_accepted",
        "decision",
        "EXISTS(SELECT 1 FROM report p JOIN report_accepted x ON x.report=p.id"
        " JOIN acceptance_end e ON e.acceptance=x.acceptance WHERE p.review=NEW.review)",
        "decision: an acceptance that the report rests on was withdrawn",
    ),
)
