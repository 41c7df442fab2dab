"""Every error as a page for people, or as problem details (RFC 9457) for programs below /api."""

from __future__ import annotations

import json

from flask import Flask, current_app, g, redirect, render_template, request, url_for
from werkzeug.exceptions import HTTPException, SecurityError
from werkzeug.wrappers import Response

from verifier.service.context import NotSignedIn, service
from verifier.service.logs import event, log_mistake
from verifier.service.problems import Refusal, refusal
from verifier.source import VerifierError


class TooLarge(HTTPException):
    """More than the service takes."""

    code = 413


class LengthMissing(HTTPException):
    """A body whose length nobody said."""

    code = 411


class UnsupportedEncoding(HTTPException):
    """A packed body."""

    code = 415


_QUIET = "write down the number below and tell an administrator"


def add_error_pages(app: Flask) -> None:
    """Answer every error."""
    app.register_error_handler(NotSignedIn, _sign_in_first)
    app.register_error_handler(VerifierError, _refused)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Exception, _mistake)


def is_api() -> bool:
    """Whether a program asks, not a person."""
    return request.path.startswith("/api/")


def told(found: Refusal) -> Response:
    """A refusal as the answer to this request."""
    response = _as_problem(found) if is_api() else _as_page(found)
    if found.retry_s is not None:
        response.headers["Retry-After"] = str(found.retry_s)
    if found.code == "bad_token":
        response.status_code = 401
    if response.status_code == 401 and is_api():
        response.headers["WWW-Authenticate"] = "Bearer"
    return response


def _as_problem(found: Refusal) -> Response:
    body = {"type": f"urn:verifier:problem:{found.code}", "title": found.title, "status": found.status}
    body |= {"detail": found.message, "code": found.code, "id": g.get("id")}
    if found.hint:
        body["hint"] = found.hint
    if found.details:
        body["problems"] = list(found.details)
    text = json.dumps(body, ensure_ascii=True)
    return current_app.response_class(text, found.status, content_type="application/problem+json")


def _as_page(found: Refusal) -> Response:
    response = current_app.make_response(render_template("error.html", refused=found, number=g.get("id")))
    response.status_code = found.status
    return response


def _sign_in_first(_: NotSignedIn) -> Response:
    if is_api():
        return told(Refusal(401, "sign_in", "a token is needed"))
    wanted = request.full_path.rstrip("?") if request.method == "GET" else None
    return redirect(url_for("signin.form", next=wanted), 303)


def _refused(error: VerifierError) -> Response:
    found = refusal(error)
    if found is None or (found.status >= 500 and found.code == "records"):
        log_mistake(error)
        found = Refusal(503, "records", "the shop's records cannot be used at the moment", _QUIET)
    elif found.status >= 400:
        event("refused", code=found.code, status=found.status)
        service().meter.refuse(found.code)
    return told(found)


def _http(error: HTTPException) -> Response:
    if isinstance(error.response, Response):
        return error.response
    if isinstance(error, SecurityError):  # a host that is not ours has no addresses, so no page of ours either
        return current_app.response_class("this is not a host of this service\n", 400, mimetype="text/plain")
    status = error.code or 500
    if status < 400:
        return error.get_response(request.environ)
    message = _WORDS.get(status, "the request was not understood")
    response = told(Refusal(status, f"http_{status}", message))
    for name, value in error.get_headers():
        if name in ("Allow", "Retry-After"):
            response.headers[name] = value
    return response


_WORDS = {
    404: "nothing is kept at this address",
    405: "this address does not take that kind of request",
    411: "a body needs a Content-Length",
    413: "more was sent than this service takes",
    415: "packed content is not taken; send it plain",
}


def _mistake(error: Exception) -> Response:
    found = refusal(error)
    if found is not None:  # a full disk met outside the records
        return told(found)
    log_mistake(error)
    return told(Refusal(500, "mistake", "a mistake of this program; nothing was decided by it", _QUIET))
