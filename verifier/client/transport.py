"""One request to the service and its answer: time limits, careful repetition, and refusals as the errors they are."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import urlsplit

import requests

from verifier.source import ActRefused, MachineError, Problem, SourceRefused, Span, StoreError, VerifierError

_LONGEST_WAIT_S = 5.0
_AGAIN = (502, 503, 504)
_LOOPBACK = ("127.0.0.1", "::1", "localhost")


class Transport:
    """Asks one service. `timeout` is (to connect, between bytes) in seconds; `tries` counts the first one, too."""

    def __init__(
        self,
        base_url: str,
        token: str,
        *,
        timeout: tuple[float, float] = (5.0, 120.0),
        tries: int = 4,
        sleep: Callable[[float], None] = time.sleep,
        verify: bool | str = True,
    ) -> None:
        """Raises VerifierError where the address is none, or a token would cross a network unencrypted."""
        self._base, self._timeout, self._tries, self._sleep = _checked(base_url), timeout, max(1, tries), sleep
        if not token or not token.isascii() or not token.isprintable():
            raise VerifierError("the token is not one", "give the secret as it was printed when it was made")
        self._session = requests.Session()
        self._session.trust_env = False  # a netrc file would put another name in place of the token
        self._session.verify = verify
        self._session.headers.update({"Authorization": f"Bearer {token}", "Accept": "application/json"})

    def ask(
        self,
        method: str,
        path: str,
        *,
        query: Mapping[str, str | int] | None = None,
        body: Mapping[str, Any] | None = None,
        key: str = "",
    ) -> Any:
        """The answer's JSON. Repeats after a lost connection or a busy service, an act only where it has a key.

        Raises ActRefused, SourceRefused and MachineError as the service did, StoreError where it could not answer.
        """
        tries = self._tries if method == "GET" or key else 1
        for left in reversed(range(tries)):
            try:
                answer = self._session.request(
                    method,
                    self._base + path,
                    params=dict(query) if query else None,
                    json=dict(body) if body is not None else None,
                    headers={"Idempotency-Key": key} if key else {},
                    timeout=self._timeout,
                    allow_redirects=False,
                )
            except requests.RequestException as error:
                if not left or not isinstance(error, (requests.ConnectionError, requests.Timeout)):
                    raise StoreError(f"the service at {self._base} does not answer", _WHETHER) from error
                self._sleep(_wait(tries - left, None))
                continue
            if left and _worth_another(answer):
                self._sleep(_wait(tries - left, answer.headers.get("Retry-After")))
                continue
            return _read(answer)
        raise AssertionError("the last try neither answered nor failed")

    def close(self) -> None:
        """Close the connections."""
        self._session.close()


_WHETHER = "look at the history before an act is sent anew: it may have been carried out"


def _checked(base_url: str) -> str:
    try:
        parts = urlsplit(base_url)
        host, _ = parts.hostname, parts.port
    except ValueError:
        host, parts = None, urlsplit("")
    if parts.scheme not in ("http", "https") or not host or parts.username or parts.query or parts.fragment:
        raise VerifierError("the server's address is not one", "give it as https://name or http://127.0.0.1:8000")
    if parts.scheme == "http" and host not in _LOOPBACK:
        raise VerifierError("a token is not sent over a network unencrypted", "give the server's https address")
    return base_url.rstrip("/")


def _wait(turn: int, said: str | None) -> float:
    """How many seconds to wait before the next try."""
    if said is not None and said.isascii() and said.isdecimal():
        return min(float(said), _LONGEST_WAIT_S)
    return float(min(0.2 * 2**turn, _LONGEST_WAIT_S))


def _worth_another(answer: requests.Response) -> bool:
    return answer.status_code in _AGAIN or (answer.status_code == 409 and _object(answer).get("code") == "key_running")


def _object(answer: requests.Response) -> dict[str, Any]:
    try:
        found = answer.json()
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _read(answer: requests.Response) -> Any:
    found = _object(answer)
    if 200 <= answer.status_code < 300 and found:
        return found
    code, detail, hint = (str(found.get(name, "")) for name in ("code", "detail", "hint"))
    problems = [one for one in found.get("problems", []) if isinstance(one, dict)]
    if not code:
        raise StoreError(f"what answers there is not this service (status {answer.status_code})", "check the address")
    if code == "program_refused" and problems:
        raise SourceRefused([_problem(one) for one in problems])
    if code == "file_not_valid" and problems:
        raise MachineError([str(one.get("message", "")) for one in problems])
    if answer.status_code >= 500:
        raise StoreError(detail, hint)
    told = "; ".join(f"{one.get('where', '')}: {one.get('message', '')}" for one in problems)
    raise ActRefused(code, detail + (f" ({told})" if told else ""), hint)


def _problem(one: Mapping[str, Any]) -> Problem:
    line, column = (value if isinstance(value, int) else 1 for value in (one.get("line"), one.get("column")))
    code, message, hint = (str(one.get(name, "")) for name in ("code", "message", "hint"))
    return Problem(code, Span(line, column), message, hint=hint)
