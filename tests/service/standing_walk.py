"""A program with a hazard that stands in its first sequence, edited in its second: what the tests of acceptances work with."""

from __future__ import annotations

import json
import re
from typing import Any

from page_walk import newest, released, submit
from service_shop import PIN, Browser, Site

from tests.findings.test_standing import BASE
from verifier import records
from verifier.records import RevisionFacts
from verifier.report import acceptable

TWO = "%\n" + BASE.replace("O1000", "O0042") + "%\n"
"""Constant surface speed without a clamp in N1: its cuts never get the spindle too fast on paper, but nothing holds it back."""
RULE = "speed-clamp-missing"
EDITED = TWO.replace("Z-10.", "Z-10.2")
FURTHER = TWO.replace("Z-10.", "Z-10.4")
WHY = "short bar, held in a collet"


def waiting(site: Site) -> RevisionFacts:
    """The program released, and an edit of its second sequence submitted."""
    released(site, TWO)
    assert submit(site.client("pia"), EDITED).status_code == 303
    return newest(site)


def key_of(site: Site, found: RevisionFacts) -> str:
    """The key of the missing clamp in the report that a revision stands on."""
    (report,) = records.reports(site.shop, found.id)
    return next(one.key for one in acceptable(json.loads(report.json)) if one.rule == RULE)


def accept(browser: Browser, found: RevisionFacts, key: str, **more: Any) -> Any:
    """Read the page of a revision and send the form of one of its hazards."""
    text = browser.get(f"/revisions/{found.id}").text
    seen = re.search(r'name="seen" value="([0-9a-f]*)"', text)
    given = {"hazard": key, "seen": seen.group(1) if seen else "", "reason": WHY, "pin": PIN, **more}
    return browser.post(f"/revisions/{found.id}/accept", given)
