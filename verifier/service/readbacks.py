"""Pages of what was read back from controls: all of a program at a machine, and one with its differences and bytes.

One that differs while another revision waits also tells who changed what: the office, the machine, or both.
"""

from __future__ import annotations

from collections.abc import Sequence

from flask import Blueprint, request
from werkzeug.wrappers import Response

from verifier import records
from verifier.records import ReadbackFacts, RevisionFacts
from verifier.report import three_way_parts
from verifier.service.context import desk, needs, page, shop
from verifier.service.problems import refusal
from verifier.source import SourceRefused, VerifierError

readback_pages = Blueprint("readbacks", __name__, url_prefix="/readbacks")

_AT_ONCE = 200_000
"""Up to so many bytes of the waiting revision and what came back, the comparison stands on the page at once; else it is asked for."""


@readback_pages.get("/<machine>/<program>")
@needs()
def all_of(machine: str, program: str) -> Response:
    """Every read-back of a program at a machine, newest first."""
    found = records.readbacks_at(shop(), program, machine)
    name = records.revisions(shop(), program, machine)[0].program
    return page("readbacks.html", machine=records.machine(shop(), machine), name=name, found=found[::-1])


@readback_pages.get("/<int:number>")
@needs()
def one(number: int) -> Response:
    """One read-back: with what it was compared, how it differs, and its text."""
    found = records.readback(shop(), number)
    text = records.body(shop(), found.sha).decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.removesuffix("\n").split("\n")
    who = _who(found, desk().waiting_beside(found))
    return page("readback.html", 200, b=found, lines=lines, **who)


def _who(back: ReadbackFacts, waiting: Sequence[RevisionFacts]) -> dict[str, object]:
    """Who changed what, beside the revision that the address names, else the newest that waits if it is soon told."""
    asked = request.args.get("beside", "")
    edit = next((one for one in waiting if str(one.id) == asked), None)
    gone = bool(asked) and edit is None
    if not asked and waiting and _soon(back, waiting[0]):
        edit = waiting[0]
    told: dict[str, object] = {"waiting": waiting, "edit": edit, "gone": gone, "not_told": None, "beside": ()}
    return told if edit is None else {**told, **_compared(back, edit)}


def _soon(back: ReadbackFacts, edit: RevisionFacts) -> bool:
    return len(records.body(shop(), back.sha)) + len(records.body(shop(), edit.sha)) <= _AT_ONCE


def _compared(back: ReadbackFacts, edit: RevisionFacts) -> dict[str, object]:
    """The comparison; where there is none, why, in a sentence and lines."""
    try:
        return {**three_way_parts(desk().who_changed_what(back, edit)), "beside": desk().companions(edit)}
    except SourceRefused as error:
        lines = tuple(f"line {one.span.line}: {one.message}" for one in error.problems)
        return {"not_told": ("What came back is no program: who changed what cannot be told.", lines)}
    except VerifierError as error:
        found = refusal(error)
        if found is None or found.status >= 500:
            raise
        lines = tuple(str(one.get("message", "")) for one in found.details)
        return {"not_told": (f"Who changed what cannot be told: {found.message}.", lines)}


@readback_pages.get("/<int:number>/file")
@needs()
def file(number: int) -> Response:
    """The very bytes that the control sent, to be saved."""
    found = records.readback(shop(), number)
    answer = Response(records.body(shop(), found.sha), mimetype="application/octet-stream")
    answer.headers.set("Content-Disposition", "attachment", filename=f"{found.program}-read-back-{found.id}.nc")
    return answer
