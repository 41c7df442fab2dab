"""The application: settings in, a WSGI application out; every request passes the same gates in the same order."""

from __future__ import annotations

import mimetypes
from collections.abc import Callable

from flask import Flask, g, request
from werkzeug.exceptions import NotFound, SecurityError
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.routing import IntegerConverter
from werkzeug.wrappers import Response

from verifier.desk import server_key
from verifier.floor import JobResult, drift_advice
from verifier.records import Clock, Shop
from verifier.report import CAUTION, prepare, web_bytes, web_names
from verifier.service import cookies, errors, headers, logs, once
from verifier.service.blueprints import BLUEPRINTS
from verifier.service.config import Config
from verifier.service.context import EXTENSION, Service, signed
from verifier.service.metrics import count_requests
from verifier.service.navigation import role_words, ways
from verifier.service.next_steps import next_step
from verifier.service.telling import day, full_names, moment, rule_page, sentence, weight_mark
from verifier.version import VERSION

_FORM_LIMIT = 500_000
_FORM_PARTS = 1_000


class _Number(IntegerConverter):
    """A whole number in an address: plain digits and no other script's, and no more of them than a row's number has."""

    regex = "(?:0|[1-9][0-9]{0,14})"


def create_app(
    config: Config,
    *,
    clock: Clock,
    new_id: Callable[[], str],
    first_code: str | None = None,
    publish: Callable[[Shop], tuple[JobResult, ...]] | None = None,
) -> Flask:
    """The service on one shop, which need not exist yet.

    `first_code` lets the first administrator in; `publish` writes ordered files outside the request (None: inside it).
    Raises StoreError where the shop's folder or server key cannot be used.
    """
    config.shop.mkdir(parents=True, exist_ok=True)
    key = server_key(config.shop)
    app = Flask("verifier.service", static_folder=None)
    app.url_map.converters["int"] = _Number
    app.extensions[EXTENSION] = Service(config, clock, new_id, key, first_code, publish)
    app.config.update(
        SECRET_KEY=key.keyed("flash", ""),
        SESSION_COOKIE_NAME=config.cookie + "-note",
        SESSION_COOKIE_SECURE=config.secure,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        TRUSTED_HOSTS=list(config.trusted_hosts),
        MAX_CONTENT_LENGTH=config.upload_limit + _FORM_LIMIT,
        MAX_FORM_MEMORY_SIZE=_FORM_LIMIT,
        MAX_FORM_PARTS=_FORM_PARTS,
    )
    _add_gates(app)
    _add_pages(app)
    if config.proxy_hops:
        hops = config.proxy_hops
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops)  # type: ignore[method-assign]
    return app


def _add_gates(app: Flask) -> None:
    """What every request passes, in this order; a gate that refuses ends the request."""
    app.before_request(logs.begin_request)
    app.before_request(_check_host)
    app.before_request(_check_body)
    app.before_request(cookies.identify)
    app.before_request(cookies.guard_forms)
    app.before_request(once.begin)
    app.after_request(_read_away)
    app.after_request(headers.set_headers)
    app.after_request(cookies.set_cookies)
    app.after_request(logs.log_request)
    app.after_request(once.finish)
    app.teardown_request(once.leave)
    count_requests(app)
    errors.add_error_pages(app)


def _check_host() -> None:
    """Refuse a host that is not ours: routing would too, but only after the other gates."""
    if isinstance(request.routing_exception, SecurityError):
        raise request.routing_exception
    _ = request.host


def _check_body() -> None:
    """Refuse packed bodies, and a body whose length nobody said."""
    if request.headers.get("Content-Encoding", "identity") != "identity":
        raise errors.UnsupportedEncoding
    if request.headers.get("Transfer-Encoding") and request.content_length is None:
        raise errors.LengthMissing
    limit = request.max_content_length
    if limit is not None and (request.content_length or 0) > limit:
        raise errors.TooLarge


def _read_away(response: Response) -> Response:
    """Behind a refusal, take in what is still being sent and drop it, as far as that is bearable.

    A connection that is closed in the middle of a body loses the answer on its way.
    """
    left = request.content_length or 0
    if response.status_code >= 400 and left <= 4 * (request.max_content_length or 0):
        stream = request.environ["wsgi.input"]
        while left > 0 and (part := stream.read(min(left, 1 << 16))):
            left -= len(part)
    return response


def _add_pages(app: Flask) -> None:
    prepare(app.jinja_env)
    app.jinja_env.filters.update(
        moment=moment,
        day=day,
        role_words=role_words,
        weight_mark=weight_mark,
        full_names=full_names,
        drift_advice=drift_advice,
        next_step=next_step,
        sentence=sentence,
    )
    app.jinja_env.globals["rule_page"] = rule_page
    app.add_url_rule("/static/<name>", "static_file", _static)
    for blueprint in BLUEPRINTS:
        app.register_blueprint(blueprint)

    @app.context_processor
    def _known() -> dict[str, object]:
        return {
            "me": signed(),
            "ways": ways,
            "form_token": cookies.form_token,
            "form_number": once.form_number,
            "caution": CAUTION,
            "version": VERSION,
            "number": g.get("id"),
        }


def _static(name: str) -> Response:
    """A file of web/static, by a name that is known there."""
    if name not in web_names("static"):
        raise NotFound
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    response = Response(web_bytes(f"static/{name}"), mimetype=kind)
    response.headers["Cache-Control"] = "no-cache"
    response.add_etag()
    return response.make_conditional(request.environ)
