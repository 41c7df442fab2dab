"""The first page: what waits for the person who signed in, and what is not as it should be on the floor."""

from __future__ import annotations

from flask import Blueprint, redirect, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import needs, page, service, shop, signed

home_pages = Blueprint("home", __name__)


@home_pages.get("/")
def home() -> Response:
    """The first page, or the way in."""
    if signed() is None:
        return redirect(url_for("signin.form"), 303)
    return _shown()


@needs()
def _shown() -> Response:
    opened = shop()
    held = records.in_state(opened, "held")
    cleared = records.in_state(opened, "cleared")
    look = records.last_look(opened)
    stale = look is None or service().clock() - look.at_us > 3_000_000 * service().config.watch_s
    return page("home.html", held=held, cleared=cleared, look=look, stale=stale, machines=records.machines(opened))
