"""The table of what each report tells the total change since, as the fifth step of a shop's records.

A table of its own, because the ledger holds a digest over all columns of a report's row.
"""

from __future__ import annotations

TABLES = (
    """CREATE TABLE report_proven(
        id INTEGER PRIMARY KEY, report INTEGER NOT NULL UNIQUE REFERENCES report,
        proven_sha TEXT NOT NULL REFERENCES body) STRICT""",
)

#: Rows of it are history like the report's own.
FOREVER = ("report_proven",)
