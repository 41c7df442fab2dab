"""What a request stands on: the running service, the signed-in person, the desk, the forms' guard.

This is what page and API modules use; they need nothing else of the core.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import wraps
from typing import ParamSpec, TypeVar, cast

from flask import current_app, g, render_template, request
from werkzeug.wrappers import Response

from verifier import records
from verifier.desk import Desk, PinLimit, ServerKey
from verifier.floor import JobResult
from verifier.records import Clock, PersonFacts, Shop, a_role
from verifier.service.config import Config
from verifier.service.meter import Meter
from verifier.service.problems import Refusal, refusal
from verifier.source import ActRefused, VerifierError

P = ParamSpec("P")
R = TypeVar("R")

EXTENSION = "verifier"

PLAIN = ("static_file", "health.healthz", "health.readyz")
"""End points that are for nobody in particular: they ask for nobody and tell nothing of the shop."""


METRICS = "/metrics"
"""Address of the figures; besides the API, the one place where a token counts."""


class NotSignedIn(VerifierError):
    """Nobody is signed in, and somebody has to be."""

    def __init__(self) -> None:
        super().__init__("sign in first")


@dataclass(frozen=True, slots=True)
class Signed:
    """The person a request acts for. `scopes` is None for somebody at a screen, else what their token may be used for."""

    person: PersonFacts
    scopes: tuple[str, ...] | None = None
    terminal: str | None = None
    """Machine at which the screen stands, for a short session opened there."""

    @property
    def login(self) -> str:
        """The person's login."""
        return self.person.login

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles that count here: at a machine's screen people act as operators only."""
        return tuple(r for r in self.person.roles if r == "operator") if self.terminal else self.person.roles

    def has(self, *roles: str) -> bool:
        """Whether the person holds one of the roles."""
        return bool(set(roles) & set(self.roles))


@dataclass
class Service:
    """The running service: settings, clock, ids, server key, and the shop once there is one."""

    config: Config
    clock: Clock
    new_id: Callable[[], str]
    key: ServerKey
    first_code: str | None = None
    publish: Callable[[Shop], tuple[JobResult, ...]] | None = None
    meter: Meter = field(default_factory=Meter)
    _shop: Shop | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def shop(self) -> Shop:
        """The open shop. Raises StoreError where there is none yet, or it is not in order."""
        with self._lock:
            if self._shop is None:
                self._shop = records.open_shop(self.config.shop, self.clock)
            return self._shop

    def exists(self) -> bool:
        """Whether there is a shop."""
        return records.shop_exists(self.config.shop)

    @property
    def pin_limit(self) -> PinLimit:
        """How often a PIN may be wrong."""
        return PinLimit(self.config.tries, self.config.address_tries, self.config.lock_s)


def service() -> Service:
    """The service that handles this request."""
    return cast(Service, current_app.extensions[EXTENSION])


def shop() -> Shop:
    """The shop, on this thread's own connection."""
    return service().shop()


def signed() -> Signed | None:
    """The signed-in person, or None."""
    return cast("Signed | None", g.get("signed"))


def current() -> Signed:
    """The signed-in person; NotSignedIn (401, or the sign-in page) where there is none."""
    found = signed()
    if found is None:
        raise NotSignedIn
    return found


def address() -> str:
    """Where the request comes from, as far as trusted proxies say."""
    return request.remote_addr or "unknown"


def desk() -> Desk:
    """The acts of this shop, for this request."""
    running = service()
    opened = running.shop()
    publish = running.publish
    by = None if publish is None else lambda: publish(opened)
    return Desk(opened, running.new_id, limit=running.pin_limit, place=address(), publish=by)


def needs(*roles: str, scope: str | None = None) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let only signed-in people in who hold one of the roles (none named: anybody signed in).

    `scope` is what a token must be good for; without one, tokens are refused. Every act checks roles again for itself,
    inside its transaction; this keeps pages from showing what their reader may not do.
    """

    def decorate(view: Callable[P, R]) -> Callable[P, R]:
        @wraps(view)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
            who = current()
            if roles and not who.has(*roles):
                raise ActRefused("wrong_role", f"this is for {a_role(roles)}", "ask somebody who holds that role")
            if who.scopes is not None and scope not in who.scopes:
                raise ActRefused(
                    "wrong_scope", f"this token is not good for it: it needs the scope {scope or 'of a person'}"
                )
            return view(*args, **kwargs)

        return guarded

    return decorate


@dataclass
class Outcome:
    """What came of a guarded act: `refused` is None where it was done."""

    refused: Refusal | None = None

    @property
    def status(self) -> int:
        """Status of the page that shows it."""
        return self.refused.status if self.refused else 200


@contextmanager
def act_guard() -> Iterator[Outcome]:
    """Carry out an act and catch its refusal, so that the page can show the form again with what was typed.

    Only refusals are caught: whoever is not signed in, a damaged shop and mistakes of the code go on to the error pages.
    """
    outcome = Outcome()
    try:
        yield outcome
    except NotSignedIn:
        raise
    except VerifierError as error:
        found = refusal(error)
        if found is None or found.status >= 500:
            raise
        outcome.refused = found
        service().meter.refuse(found.code)


def pin_from_form() -> str:
    """The PIN of this form, for the desk to check; ActRefused where it was left empty. It is asked for at every act."""
    pin = request.form.get("pin", "")
    if not pin:
        raise ActRefused(
            "sign_in_again", "your PIN is needed", "it is asked for again at every decision and confirmation"
        )
    return pin


def page(template: str, status: int = 200, **values: object) -> Response:
    """A page of the service from a template that extends base.html."""
    response = current_app.make_response(render_template(template, **values))
    response.status_code = status
    refused = values.get("refused")
    if isinstance(refused, Refusal) and refused.retry_s is not None:
        response.headers["Retry-After"] = str(refused.retry_s)
    return cast(Response, response)
