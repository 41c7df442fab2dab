"""The policy in force, and the form by which a lead puts another one in force."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier.findings import policy_text, policy_words
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form
from verifier.service.logs import event
from verifier.service.uploads import upload

policy_pages = Blueprint("policy", __name__, url_prefix="/policy")


@policy_pages.get("")
@needs("lead", "administrator")
def show() -> Response:
    """The policy as it is understood, nothing left to defaults."""
    return _shown(None)


def _shown(refused: object, status: int = 200) -> Response:
    found = desk().policy()
    return page(
        "policy.html", status, policy=found, text=policy_text(found), words=policy_words(found), refused=refused
    )


@policy_pages.post("")
@needs("lead")
def put() -> Response:
    """Put another policy in force; sign-offs under the one before no longer count."""
    with act_guard() as outcome:
        name, data = upload("policy")
        desk().proven(current().login, pin_from_form())
        policy = desk().set_policy(current().login, data, name, request.form.get("reason", ""))
    if outcome.refused:
        return _shown(outcome.refused, outcome.status)
    event("policy set", digest=policy.digest[:16])
    flash(f"Policy {policy.name} version {policy.version} is in force.")
    return redirect(url_for("policy.show"), 303)
