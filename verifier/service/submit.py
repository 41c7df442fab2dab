"""The page on which a program is handed in: a file or pasted text, for a machine or a group, with the reason."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.desk import Submitted
from verifier.service.context import act_guard, current, desk, needs, page, shop
from verifier.service.logs import event
from verifier.service.uploads import optional_upload
from verifier.source import ActRefused

submit_pages = Blueprint("submit", __name__, url_prefix="/submit")

_TYPED = ("program", "target", "beside", "reason", "text")


@submit_pages.get("")
@needs("programmer", "lead")
def form() -> Response:
    """The form, filled in as far as the link to it says."""
    return _form({name: request.args.get(name, "") for name in ("program", "target")}, None)


def _form(given: dict[str, str], refused: object, status: int = 200) -> Response:
    known = records.machines(shop())
    groups = tuple(dict.fromkeys(m.group for m in known if m.group))
    typed = {name: given.get(name, "") for name in _TYPED}
    names = tuple(m.name for m in known)
    return page("submit.html", status, given=typed, machines=names, groups=groups, refused=refused)


@submit_pages.post("")
@needs("programmer", "lead")
def take() -> Response:
    """Check, compare and record what was handed in; the next page is its change report."""
    given = {name: request.form.get(name, "") for name in _TYPED}
    done: Submitted | None = None
    with act_guard() as outcome:
        data, setup = given_bytes("program_file", "text"), optional_upload("setup")
        program, target = given["program"].strip(), given["target"].strip()
        sheet = setup[1] if setup else None
        done = desk().submit(
            current().login, program, target, data, given["reason"], setup=sheet, beside=given["beside"].split()
        )
    if done is None:
        return _form(given, outcome.refused, outcome.status)
    return handed_in(done)


def handed_in(done: Submitted) -> Response:
    """Say what became of a submission, and go on to its report."""
    found = done.revision
    event("submitted", revision=found.id, state=found.state)
    flash(f"{found.program} revision {found.n} is submitted; it is {found.state}.")
    return redirect(url_for("revisions.one", number=found.id), 303)


def given_bytes(file: str, text: str) -> bytes:
    """What was handed in: the bytes of the file, or the text that was pasted; ActRefused for neither or both.

    A form sends every line end as CR LF, whatever it was; pasted text is kept with LF alone.
    """
    chosen, pasted = optional_upload(file), request.form.get(text, "")
    if chosen and pasted.strip():
        raise ActRefused("bad_form", "there are a file and a pasted text", "leave one of them out")
    if chosen:
        return chosen[1]
    if not pasted.strip():
        raise ActRefused("bad_form", "there is no program", "choose a file, or paste the program's text")
    return pasted.replace("\r\n", "\n").encode("utf-8")
