"""A lead's or author's release of a cleared revision, and a lead's recall; both at the page of the revision."""

from __future__ import annotations

from flask import flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import act_guard, current, desk, needs, pin_from_form, shop
from verifier.service.decide import revision_pages as revision_pages
from verifier.service.decide import shown, typed
from verifier.service.logs import event


@revision_pages.post("/<int:number>/release")
@needs("programmer", "lead")
def release(number: int) -> Response:
    """Order the files of a cleared revision; the page then says at which machine they lie already."""
    given = typed()
    with act_guard() as outcome:
        beside = [
            records.revision(shop(), int(one))
            for one in request.form.getlist("beside")
            if one.isascii() and one.isdecimal() and len(one) < 10
        ]
        login = desk().proven(current().login, pin_from_form()).login
        desk().release(login, records.revision(shop(), number), given["reason"], beside)
        event("released", revision=number)
    if outcome.refused:
        return shown(number, outcome.refused, outcome.status, "release", given)
    flash("The revision is released; the lines below say whether its file is at the machine.")
    return redirect(url_for("revisions.one", number=number), 303)


@revision_pages.post("/<int:number>/recall")
@needs("lead")
def recall(number: int) -> Response:
    """Take a revision back, and name every machine that is believed to hold it."""
    given = typed()
    with act_guard() as outcome:
        login = desk().proven(current().login, pin_from_form()).login
        notice = desk().recall(login, records.revision(shop(), number), given["reason"])
        event("recalled", revision=number, machines=list(notice.machines))
        where = ", ".join(notice.machines) or "no machine"
        flash(
            f"Stop: {notice.program} revision {notice.n} is recalled. Believed to hold it: {where}. Tell them now.",
            "stop",
        )
    if outcome.refused:
        return shown(number, outcome.refused, outcome.status, "recall", given)
    return redirect(url_for("revisions.one", number=number), 303)
