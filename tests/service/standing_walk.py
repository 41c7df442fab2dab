"""A program with a hazard that stands in its first sequence, edited in its second: what the tests of acceptances work with."""

from __future__ import annotations

import json
import re
from typing import Any

from page_walk import newest, released, submit
from service_shop import PIN, Browser, Site

from verifier import records
from verifier.records import RevisionFacts
from verifier.report import acceptable

TWO = """%
O0042 (SPACER)
N1 G00 G21 G40 G54 G97 G99
T0101
G96 S180 M03
G00 X62. Z2. M08
G01 X50. F0.2
Z-30.
X62.
G00 X100. Z50. M09
M05
N2 G00 G40 G54 G97 G99
T0202
G97 S900 M03
G00 X62. Z2. M08
G01 X40. F0.1
Z-10.
X62.
G00 X100. Z50. M09
M05
M30
%
"""
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
