"""Programs of the tests of the pages, and the steps that people take on them."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

from service_shop import PIN, Browser, Site

from verifier import records
from verifier.records import RevisionFacts

BASE = """%
O0042 (BUSHING)
N10 G21 G40 G99
N20 G28 U0 W0
N30 T0101
N40 G50 S1800
N50 G96 S160 M03
N60 G00 X54. Z3. M08
N70 G01 X48. F0.25
N80 Z-31.
N90 X52.
N100 Z-44.5
N110 G00 X56. Z3.
N120 M09
N130 G28 U0 W0
N140 M30
%
"""
SMALLER = BASE.replace("X48.", "X47.6").replace("Z-44.5", "Z-44.2")
RENUMBERED = BASE.replace("N60 ", "N65 ")
NO_CLAMP = BASE.replace("N40 G50 S1800\n", "")
_SEEN = re.compile(r'name="seen" value="([0-9a-f]*)"')
_TICKS = re.compile(r'name="seen_critical" value="([0-9a-f]{8}(?:-[0-9]+)?)"')


def submit(browser: Browser, text: str, program: str = "O42", **more: Any) -> Any:
    """Submit a program as a file."""
    browser.get("/submit")
    given = {"program": program, "target": "L1", "reason": "as the drawing asks", **more}
    return browser.post("/submit", {"program_file": (BytesIO(text.encode()), "o42.nc"), **given})


def newest(site: Site, program: str = "O42") -> RevisionFacts:
    return records.revisions(site.shop, program, "L1")[-1]


def decide(browser: Browser, number: int, verdict: str = "approve", **more: Any) -> Any:
    """Read the page of a revision, tick all that is to be ticked, and decide."""
    text = browser.get(f"/revisions/{number}").text
    seen = _SEEN.search(text)
    given = {"seen": seen.group(1) if seen else "", "seen_critical": _TICKS.findall(text), "verdict": verdict}
    return browser.post(f"/revisions/{number}/decide", {**given, "reason": "looked at", "pin": PIN, **more})


def act(browser: Browser, url: str, **given: Any) -> Any:
    """Send a form with a reason and the PIN."""
    return browser.post(url, {"reason": "it has to be", "pin": PIN, **given})


def released(site: Site, text: str = BASE) -> RevisionFacts:
    """Submit, approve and release by the pages; gives the revision."""
    assert submit(site.client("pia"), text).status_code == 303
    found = newest(site)
    if found.state == "held":
        assert decide(site.client("leo"), found.id).status_code == 303
    answer = act(site.client("pia"), f"/revisions/{found.id}/release")
    assert answer.status_code == 303, answer.text
    return newest(site)


def file_of(text: str) -> tuple[BytesIO, str]:
    return BytesIO(text.encode()), "sent.nc"


def sent_back(browser: Browser, revision: int, text: str) -> Any:
    """Hand in what the control at L1 holds; gives the page that tells how it compares."""
    answer = browser.post("/at/L1/O42/readback", {"revision": revision, "sent": file_of(text)})
    assert answer.status_code == 303, answer.text
    return browser.get(answer.location)
