"""Requests made from the served document, sent to the application in process, and every answer held against the document."""

from __future__ import annotations

import copy
import re
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import schemathesis
from api_site import AT, BODY, OTHER, Caller, b64, submission, token
from hypothesis import HealthCheck, Phase, assume, given, seed, settings
from hypothesis import strategies as st
from hypothesis.errors import Unsatisfiable
from schemathesis import Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from service_shop import PIN, Site

from verifier import records

DOCUMENT = "/api/v1/openapi.json"
ANSWERS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
NAMES = {"target": ["L1", "l1"], "machine": ["L1"], "program": ["O1001", "o1001", "O7"], "n": [1, 2], "number": [1, 2]}


def furnish(site: Site) -> None:
    """A program at its machine with two read-backs, and a second revision that waits for a lead."""
    pia, leo, otto = (Caller(site, login) for login in ("pia", "leo", "otto"))
    digest = pia.post(AT + "/revisions", submission()).get_json()["revision"]["report_digest"]
    given_ = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": digest}
    assert leo.post(AT + "/revisions/1/decision", given_).status_code == 200
    assert pia.post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}).status_code == 200
    for sent in (BODY, OTHER):
        assert otto.post(AT + "/revisions/1/readbacks", {"program": b64(sent)}).status_code == 201
    assert pia.post(AT + "/revisions", submission(OTHER)).status_code == 201


@dataclass
class Fuzz:
    """One site under fuzz; `met` counts what was answered, by operation and status."""

    site: Site
    tokens: dict[str, str] = field(default_factory=dict)
    met: Counter[tuple[str, int]] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.schema = schemathesis.openapi.from_wsgi(DOCUMENT, self.site.app)
        self.tokens = {login: token(self.site, login, days=366) for login in ("pia", "leo", "otto", "ada", "lena")}

    def operations(self) -> list[Any]:
        return [found.ok() for found in self.schema.get_all_operations()]

    def good(self) -> dict[str, list[Any]]:
        """Values that fit what is there now, so that requests get as far as the acts."""
        found = records.revisions(self.site.shop, "O1001", "L1")
        code = records.at_machine(self.site.shop, "L1")
        return {
            "pin": [PIN],
            "report": [r.report_digest for r in found] or ["0" * 64],
            "program": [b64(BODY), b64(OTHER), b64(BODY.replace(b"X100.", b"X5O."))],
            "setup": [None],
            "machine": ["L1", None],
            "readback": [1, 2, None],
            "code": [code[0].check_code if code else "AAAAAAAA", None],
            "days": [2],
        }

    def run(
        self, operation: Any, login: str, mode: GenerationMode, examples: int, seed_: int, *, at: bool = False
    ) -> None:
        """Send so many requests made for one operation, for one person.

        `at`: to addresses that are there; what breaks the document is then in body, query or header.
        """
        good = self.good()
        names = re.findall(r"{(\w+)}", operation.path)
        fixed = {"path_parameters": {name: NAMES[name][0] for name in names}} if at else {}
        fixed["headers"] = {"Authorization": f"Bearer {self.tokens[login]}"}

        @seed(seed_)
        @settings(
            max_examples=examples,
            database=None,
            deadline=None,
            phases=(Phase.explicit, Phase.generate),
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy(generation_mode=mode, **fixed), data=st.data())
        def sent(case: Case, data: st.DataObject) -> None:
            if mode is GenerationMode.POSITIVE:
                _fit(case, data, good)
            else:
                assume(not _is_text_in_a_form(case))
            self.ask(case, mode)

        with suppress(Unsatisfiable):  # an operation that takes words only has nothing that could be broken
            sent()

    def ask(self, case: Case, mode: GenerationMode) -> None:
        """Send one request, and hold its answer against the document."""
        self.site.clock.add(200)  # a lock of PINs ends sooner than the requests do
        answer = case.call()
        self.met[(case.operation.label, answer.status_code)] += 1
        checks = [*ANSWERS, negative_data_rejection] if mode is GenerationMode.NEGATIVE else ANSWERS
        case.validate_response(answer, checks=checks)


def _is_text_in_a_form(case: Case) -> bool:
    """Whether a number, a truth or null stands in a form: sent, it is the text of it, and breaks nothing."""
    body = case.body if isinstance(case.body, dict) else {}
    return case.media_type != "application/json" and any(
        isinstance(value, bool | int | float | None) for value in body.values()
    )


def _fit(case: Case, data: st.DataObject, good: dict[str, list[Any]]) -> None:
    """Put values that fit in place of most of those that were made up."""
    for name in case.path_parameters or {}:
        if data.draw(st.integers(0, 9)) < 8:
            case.path_parameters[name] = data.draw(st.sampled_from(NAMES[name]))
    if isinstance(case.body, dict) and case.media_type == "application/json":
        body = copy.deepcopy(case.body)
        for name in body:
            if name in good and data.draw(st.integers(0, 9)) < 8:
                body[name] = data.draw(st.sampled_from(good[name]))
        case.body = body
