"""The API under requests made from its own document: no mistake of ours, no answer that the document does not tell.

Requests that fit the document and requests that break it, for every operation and for people of every role, always the same
ones. VERIFIER_FUZZ says how many for each operation and person (default 4; some hundred for a night).
"""

from __future__ import annotations

import os
from typing import Any

import pytest
from api_fuzz import Fuzz, furnish
from pydantic import BaseModel
from schemathesis import GenerationMode
from schemathesis.core.failures import Failure, FailureGroup
from service_shop import PIN, Site

from verifier import records
from verifier.service import api
from verifier.service.api_views import VIEWS

EXAMPLES = int(os.environ.get("VERIFIER_FUZZ", "4"))
ABLE = {"readback": "otto", "confirm": "otto", "take_over": "otto", "go_back": "otto"}
"""Who may do what neither a programmer nor a lead may."""


@pytest.mark.parametrize("login", ["pia", "leo", "otto", "ada"])
def test_what_fits_the_document_is_answered_as_it_says(site: Site, login: str) -> None:
    furnish(site)
    fuzz = Fuzz(site)
    for number, operation in enumerate(fuzz.operations()):
        fuzz.run(operation, login, GenerationMode.POSITIVE, EXAMPLES, number)
    assert {label for label, _ in fuzz.met} == {operation.label for operation in fuzz.operations()}
    assert {200, 404} <= {status for _, status in fuzz.met}
    assert records.verify_ledger(site.folder).faults == ()


@pytest.mark.parametrize("at", [False, True], ids=["anywhere", "where something is"])
def test_what_breaks_the_document_is_refused(site: Site, at: bool) -> None:
    furnish(site)
    fuzz, before = Fuzz(site), len(records.whole_history(site.shop))
    for number, operation in enumerate(fuzz.operations()):
        login = ABLE.get(operation.definition.raw["operationId"], "lena")
        fuzz.run(operation, login, GenerationMode.NEGATIVE, 2 * EXAMPLES, number, at=at)
    acts = {operation.label for operation in fuzz.operations() if operation.label.startswith("POST")}
    assert acts <= {label for label, _ in fuzz.met} and {422} <= {status for _, status in fuzz.met}
    assert all(400 <= status < 500 for label, status in fuzz.met if label in acts)
    assert len(records.whole_history(site.shop)) == before, "nothing was done"
    assert records.verify_ledger(site.folder).faults == ()


# -- what the runs are worth -------------------------------------------------------------------------------------------


def _raises(**_: Any) -> BaseModel:
    raise KeyError("a planted mistake")


def _more(made: BaseModel) -> bytes:
    return made.model_dump_json().encode()[:-1] + b', "planted": 1}'


PLANTED: dict[str, tuple[Any, str, Any, str, GenerationMode]] = {
    "a mistake of the code": (VIEWS, "machines", _raises, "GET /machines", GenerationMode.POSITIVE),
    "an answer with more in it": (api, "_content", _more, "GET /machines", GenerationMode.POSITIVE),
    "a status that is not told": (
        api,
        "_answer",
        lambda _, content: (content, 299),
        "GET /me",
        GenerationMode.POSITIVE,
    ),
    "anything taken": (
        api,
        "taken",
        lambda op: op.taken(pin=PIN, reason="r"),
        "POST /programs/{target}/{program}/revisions/{n}/recall",
        GenerationMode.NEGATIVE,
    ),
}


@pytest.mark.parametrize("what", PLANTED)
def test_a_planted_mistake_is_found(site: Site, what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    where, name, wrong, label, mode = PLANTED[what]
    furnish(site)
    fuzz = Fuzz(site)
    (operation,) = (one for one in fuzz.operations() if one.label == label)
    if isinstance(where, dict):
        monkeypatch.setitem(where, name, wrong)
    else:
        monkeypatch.setattr(where, name, wrong)
    with pytest.raises((FailureGroup, Failure)):
        for number in range(5):
            fuzz.run(operation, "leo", mode, 10, number, at=True)
