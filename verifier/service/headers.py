"""Headers of every answer: nothing from outside, nothing inline, nothing framed, nothing kept by caches."""

from __future__ import annotations

from flask import request
from werkzeug.wrappers import Response

from verifier.service.context import service

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self';"
    " form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
ALWAYS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), payment=(), display-capture=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_YEAR = 31_536_000


def set_headers(response: Response) -> Response:
    """Set them; only files that carry no data may be kept by a browser."""
    for name, value in ALWAYS.items():
        response.headers[name] = value
    if request.endpoint != "static_file" or response.status_code != 200:
        response.headers["Cache-Control"] = "no-store"
    if service().config.secure:
        response.headers["Strict-Transport-Security"] = f"max-age={_YEAR}; includeSubDomains"
    return response
