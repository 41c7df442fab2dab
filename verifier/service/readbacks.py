"""Pages of what was read back from controls: all of a program at a machine, and one with its differences and bytes."""

from __future__ import annotations

from flask import Blueprint
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import needs, page, shop

readback_pages = Blueprint("readbacks", __name__, url_prefix="/readbacks")


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
    return page("readback.html", b=found, lines=text.removesuffix("\n").split("\n"))


@readback_pages.get("/<int:number>/file")
@needs()
def file(number: int) -> Response:
    """The very bytes that the control sent, to be saved."""
    found = records.readback(shop(), number)
    answer = Response(records.body(shop(), found.sha), mimetype="application/octet-stream")
    answer.headers.set("Content-Disposition", "attachment", filename=f"{found.program}-read-back-{found.id}.nc")
    return answer
