"""The session cookie and the forms' guard: who a browser is, and that a form was ours and came from our own page."""

from __future__ import annotations

import hmac
import secrets
from urllib.parse import urlsplit

from flask import g, request
from werkzeug.wrappers import Response

from verifier import records
from verifier.records import SessionLimits
from verifier.service.context import METRICS, PLAIN, Signed, service, signed
from verifier.source import ActRefused

SAFE = ("GET", "HEAD", "OPTIONS")
_LONGEST = 200


def new_name() -> str:
    """A name for a session, terminal or token that nobody can guess: 256 random bits."""
    return secrets.token_urlsafe(32)


def session_name() -> str | None:
    """The name that the browser sent, if it can be one at all."""
    name = request.cookies.get(service().config.cookie)
    return name if name and len(name) <= _LONGEST else None


def terminal_name() -> str | None:
    """The secret of the screen that sent the request, if it is one at a machine."""
    name = request.cookies.get(service().config.cookie + "-terminal")
    return name if name and len(name) <= _LONGEST else None


def identify() -> None:
    """Find out who the request acts for: by token for programs, else by session. Tokens and cookies are never mixed."""
    running = service()
    if request.endpoint in PLAIN:
        return
    header = request.headers.get("Authorization")
    if header is not None:
        g.signed = _by_token(header)
        return
    name = session_name()
    if name is None or not running.exists():
        return
    found = records.find_session(running.shop(), name, running.config.session)
    if found is not None:
        place = None if found.terminal is None else _place_of(found.terminal)
        g.signed = Signed(found.person, terminal=place)


def _place_of(terminal: int) -> str:
    known = {one.id: one.machine for one in records.terminals(service().shop())}
    return known.get(terminal, "")


def _by_token(header: str) -> Signed:
    kind, _, token = header.partition(" ")
    if (
        (request.path.startswith("/api/") or request.path == METRICS)
        and kind.lower() == "bearer"
        and 0 < len(token.strip()) <= _LONGEST
    ):
        found = records.find_token(service().shop(), token.strip()) if service().exists() else None
        if found is not None:
            return Signed(found.person, scopes=found.scopes)
    raise BadToken


class BadToken(ActRefused):
    """The request carries a token that does not count."""

    def __init__(self) -> None:
        super().__init__("bad_token", "this token does not count here", "it may be over, or taken away")


def begin(person: int, *, terminal: int | None = None) -> None:
    """Sign a person in under a new name; whatever name the browser had before counts no longer."""
    running = service()
    limits = running.config.session
    if terminal is not None:
        limits = SessionLimits(running.config.action_s, running.config.action_s)
    name = new_name()
    records.begin_session(running.shop(), person, name, limits, leaving=session_name(), terminal=terminal)
    g.new_cookie = name


def leave() -> None:
    """Sign out."""
    name = session_name()
    if name is not None and service().exists():
        records.end_session(service().shop(), name)
    g.signed, g.new_cookie = None, ""


def form_token() -> str:
    """The token that every form carries: bound to the browser's session, or to its own name before it has one."""
    name = g.get("new_cookie") or session_name()
    if not name:
        name = g.new_cookie = new_name()
    return service().key.keyed("form", name)


def guard_forms() -> None:
    """Refuse whatever changes something and did not come from a page of ours. Requests by token carry no cookie's power."""
    if request.method in SAFE or "Authorization" in request.headers:
        return
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    if site not in (None, "same-origin", "none") or (origin is not None and not _ours(origin)):
        raise ActRefused("cross_site", "this request came from another site", "open the page here and try again")
    name = session_name()
    given = request.headers.get("X-Form-Token") or request.form.get("form_token", "")
    wanted = service().key.keyed("form", name) if name else ""
    if not wanted or not hmac.compare_digest(wanted.encode(), given.encode("utf-8", "replace")):
        hint = "go back, load the page anew, and send it again" if signed() else "sign in, and send it again"
        raise ActRefused("cross_site", "this form is not from your present session", hint)


def _ours(origin: str) -> bool:
    """Whether an origin is this service as the browser sees it; a proxy in front may end TLS."""
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("https", request.scheme) and parts.netloc.lower() == request.host.lower()


def set_cookies(response: Response) -> Response:
    """Send the browser its new name, or take the old one away."""
    name: str | None = g.get("new_cookie")
    config = service().config
    if name:
        response.set_cookie(config.cookie, name, secure=config.secure, httponly=True, samesite="Strict", path="/")
    elif name == "":
        response.delete_cookie(config.cookie, secure=config.secure, httponly=True, samesite="Strict", path="/")
    return response


def set_terminal(response: Response, name: str | None) -> None:
    """Make the browser a machine's screen, or take that away."""
    config = service().config
    key = config.cookie + "-terminal"
    if name is None:
        response.delete_cookie(key, secure=config.secure, httponly=True, samesite="Strict", path="/")
        return
    response.set_cookie(
        key, name, max_age=366 * 86400, secure=config.secure, httponly=True, samesite="Strict", path="/"
    )
