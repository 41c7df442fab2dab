"""Which findings a lead has to name as read before a revision may go to a machine, and by which name each is called.

Taken from a report's JSON form, so that a stored report and one just computed give the same names.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from verifier.findings import Status, Weight

_NEW = (Status.CHANGE, Status.NEW)
_LENGTH = 8


@dataclass(frozen=True, slots=True)
class ToBeSeen:
    """One new critical finding: `name` is what it is ticked by, `line` where its first cause stands (None: nowhere).

    `since_proven`: it is new since the revision last proven there, and the change from the base alone does not have it.
    """

    name: str
    rule: str
    line: int | None
    title: str
    since_proven: bool = False

    def told(self) -> str:
        """Name, place and title in one line."""
        place = f"line {self.line}: " if self.line is not None else ""
        since = "since the proven revision, " if self.since_proven else ""
        return f"{self.name}  {since}{place}{self.title}"


def to_be_seen(report: Mapping[str, Any]) -> tuple[ToBeSeen, ...]:
    """The new critical findings of a report (its JSON form), in its order; each has a name that no other has there.

    Behind those against the base come those that only the total change since the proven revision has: small steps that add up.

    A name is the beginning of the digest of the whole finding: the same finding against two bases has one name.
    """
    found: dict[str, ToBeSeen] = {}
    own = report.get("findings", ())
    told = [(finding, False) for finding in own] + [(finding, True) for finding in more_since_proven(report)]
    for finding, since in told:
        if finding["weight"] == Weight.CRITICAL and finding["status"] in _NEW:
            name = _free(_name(finding), found)
            causes = finding["causes"]
            line = causes[0]["line"] if causes else None
            found[name] = ToBeSeen(name, finding["rule"], line, finding["title"], since)
    return tuple(found.values())


def more_since_proven(report: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """What the total change since the proven revision has new and the change from the base alone has not, as JSON values."""
    total = report.get("total")
    if total is None:
        return ()
    here = {(one["rule"], one["title"]) for one in report["findings"] if one["status"] != Status.STANDING}
    return tuple(one for one in total["findings"] if (one["rule"], one["title"]) not in here)


def _name(finding: Mapping[str, Any]) -> str:
    # Names stay as they were before a report could say "outside", where there is nothing of it to say.
    told = {key: value for key, value in finding.items() if key != "outside" or value}
    text = json.dumps(told, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()[:_LENGTH]


def _free(name: str, taken: Mapping[str, ToBeSeen]) -> str:
    """The name, or with a number behind it where another finding of the report has it."""
    n, free = 1, name
    while free in taken:
        n += 1
        free = f"{name}-{n}"
    return free
