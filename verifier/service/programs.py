"""Pages on programs: all of them, one with its revisions and its history out of the ledger."""

from __future__ import annotations

import json
from collections.abc import Sequence

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.records import HistoryEntry
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, shop
from verifier.service.logs import event

program_pages = Blueprint("programs", __name__, url_prefix="/programs")

_PAGE = 200
_LEFT_OUT = ("sha", "report", "n", "reason", "rows", "key")
"""What the column does not repeat; `rows` binds the tables' rows to the ledger and tells people nothing."""


@program_pages.get("")
@needs()
def all_programs() -> Response:
    """Every program, a page at a time, in the order in which they came."""
    text = request.args.get("after", "0")
    after = int(text) if text.isascii() and text.isdecimal() and len(text) < 15 else 0
    found = records.programs(shop(), after, _PAGE + 1)
    more = found[_PAGE - 1].id if len(found) > _PAGE else None
    return page("programs.html", found=found[:_PAGE], more=more)


@program_pages.get("/<target>/<program>")
@needs()
def one(target: str, program: str) -> Response:
    """One program: its revisions, newest first, the hazards of it that were accepted, and every act on it."""
    return _shown(target, program)


def _shown(
    target: str, program: str, refused: object = None, status: int = 200, form: str = "", reason: str = ""
) -> Response:
    """The page of a program; after a refusal with the reason that was typed into the form of that name."""
    revisions = records.revisions(shop(), program, target)
    acts = [told(entry) for entry in records.history(shop(), program, target)]
    found = records.acceptances(shop(), program, target)
    values = {"name": revisions[0].program, "target": revisions[0].target, "revisions": revisions, "acts": acts}
    return page("program.html", status, **values, acceptances=found, refused=refused, form=form, typed=reason)


@program_pages.post("/<target>/<program>/acceptances/<int:number>/withdraw")
@needs("lead")
def withdraw_acceptance(target: str, program: str, number: int) -> Response:
    """A lead's withdrawal of an acceptance: the hazard is told in full again."""
    done, reason = None, request.form.get("reason", "")
    with act_guard() as outcome:
        done = desk().withdraw_acceptance(current().login, pin_from_form(), program, target, number, reason)
    if done is None:
        return _shown(target, program, outcome.refused, outcome.status, f"acceptance-{number}", reason)
    event("acceptance withdrawn", acceptance=number)
    flash(f"Acceptance {number} is withdrawn: the hazard is told in full again.")
    return redirect(url_for("programs.one", target=target, program=program), 303)


def told(entry: HistoryEntry) -> dict[str, object]:
    """An act of the ledger in words: which revision, why, and what else it noted."""
    noted = json.loads(entry.body)
    facts = noted if isinstance(noted, dict) else {}
    more = [(key.replace("_", " "), _plain(facts[key])) for key in sorted(facts) if key not in _LEFT_OUT]
    return {
        "at_us": entry.at_us,
        "person": entry.person or "the service",
        "act": entry.act,
        "n": facts.get("n"),
        "reason": facts.get("reason", ""),
        "more": [(key, text) for key, text in more if text],
    }


def _plain(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(_plain(one) for one in value)
    return str(value)
