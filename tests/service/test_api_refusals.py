"""What the API refuses: scopes, ends, stale digests, and bodies that are not what they should be; keys that are sent twice."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from api_site import API, AT, BODY, OTHER, Caller, b64, submission
from service_shop import PIN, Site

from verifier import records
from verifier.service.openapi import OPERATIONS, document, template


def code(answer: Any) -> tuple[int, str]:
    assert answer.headers["Content-Type"] == "application/problem+json", answer.text
    return answer.status_code, answer.get_json(force=True)["code"]


def test_a_token_is_good_for_its_scopes_only(site: Site) -> None:
    reader = Caller(site, "pia", "read")
    assert code(reader.post(AT + "/revisions", submission())) == (403, "wrong_scope")
    assert records.programs(site.shop) == ()
    assert code(Caller(site, "pia", "submit").get(API + "/programs")) == (403, "wrong_scope")


def test_a_scope_gives_nobody_a_role(site: Site) -> None:
    assert code(Caller(site, "otto").post(AT + "/revisions", submission())) == (403, "wrong_role")


def test_a_token_ends(site: Site) -> None:
    pia = Caller(site, "pia")
    assert pia.get(API + "/me").status_code == 200
    site.clock.add(31 * 86400)
    assert code(pia.get(API + "/me")) == (401, "bad_token")


def test_a_token_that_was_taken_away_counts_no_more(site: Site) -> None:
    pia, person = Caller(site, "pia"), site.person("pia")
    records.end_token(site.shop, person.id, records.tokens_of(site.shop, person.id)[0].id)
    assert code(pia.get(API + "/me")) == (401, "bad_token")


def test_nobody_decides_on_their_own_revision(site: Site) -> None:
    lena = Caller(site, "lena")
    done = lena.post(AT + "/revisions", submission()).get_json()["revision"]
    given = {"pin": PIN, "verdict": "approve", "reason": "mine", "report": done["report_digest"]}
    assert code(lena.post(AT + "/revisions/1/decision", given)) == (403, "own_revision")


def test_a_decision_names_the_whole_digest_of_the_report_that_stands(site: Site) -> None:
    done = Caller(site, "pia").post(AT + "/revisions", submission()).get_json()["revision"]
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": "0" * 64}
    leo = Caller(site, "leo")
    assert code(leo.post(AT + "/revisions/1/decision", given))[0] == 409
    assert leo.post(AT + "/revisions/1/decision", {**given, "report": done["report_digest"][:8]}).status_code in (
        409,
        422,
    )
    assert records.find_revision(site.shop, "O1001", "L1", 1).state == "held"


DEEP = b"[" * 200_000
BODIES = {
    "cut off": b'{"reason":',
    "deep": DEEP,
    "deep in a field": b'{"reason":' + DEEP,
    "a name twice": b'{"reason":"a","reason":"b"}',
    "not a number": b'{"reason":NaN}',
    "endless": b'{"reason":' + b"9" * 10_000 + b"}",
    "not UTF-8": b'{"reason":"\xff"}',
    "nothing": b"",
    "two": b"{}{}",
}


@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES.keys())
def test_what_is_not_json_is_refused(body: bytes, site: Site) -> None:
    answer = Caller(site, "leo").post(AT + "/revisions/1/release", data=body, content_type="application/json")
    assert code(answer) == (400, "bad_json")


MISFITS: dict[str, Any] = {
    "true for a number": {"pin": PIN, "readback": True},
    "a text for a number": {"pin": PIN, "readback": "1"},
    "a fraction for a number": {"pin": PIN, "readback": 1.5},
    "a number for a text": {"pin": 402817, "readback": 1},
    "an unknown field": {"pin": PIN, "readback": 1, "sure": True},
    "no PIN": {"readback": 1},
    "a list": [],
    "null": None,
    "too big a number": {"pin": PIN, "readback": 2**70},
    "half a sign": {"pin": "\ud800", "readback": 1},
    "nothing to confirm by": {"pin": PIN},
    "two ways at once": {"pin": PIN, "readback": 1, "code": "AAAAAAAA"},
}


@pytest.mark.parametrize("given", MISFITS.values(), ids=MISFITS.keys())
def test_what_does_not_fit_is_refused_and_never_quoted(given: Any, site: Site) -> None:
    Caller(site, "pia").post(AT + "/revisions", submission())
    body = json.dumps(given).encode()
    answer = Caller(site, "otto").post(AT + "/revisions/1/confirmations", data=body, content_type="application/json")
    assert code(answer) == (422, "bad_form")
    assert PIN not in answer.text


@pytest.mark.parametrize("text", ["*", "AAA", "A A=", "é"])
def test_a_program_is_clean_base64(text: str, site: Site) -> None:
    answer = Caller(site, "pia").post(AT + "/revisions", {"program": text, "reason": "r"})
    assert code(answer) == (422, "bad_form")


def test_what_is_no_program_is_refused_with_every_mistake(site: Site) -> None:
    answer = Caller(site, "pia").post(AT + "/revisions", submission(b"PK\x03\x04" + bytes(range(256)) * 8))
    assert code(answer) == (422, "program_refused") and answer.get_json(force=True)["problems"][0]["line"] >= 1
    assert records.programs(site.shop) == ()


def test_a_key_sent_twice_acts_once_and_answers_alike(site: Site) -> None:
    pia = Caller(site, "pia")
    first = pia.post(AT + "/revisions", submission(), key="k1")
    again = pia.post(AT + "/revisions", submission(), key="k1")
    assert (first.status_code, first.data) == (again.status_code, again.data) == (201, first.data)
    assert len(records.history(site.shop, "O1001", "L1")) == len(
        {e.seq for e in records.history(site.shop, "O1001", "L1")}
    )
    submitted = [e for e in records.history(site.shop, "O1001", "L1") if e.act.startswith("submitted")]
    assert len(submitted) == 1


def test_a_key_stands_for_one_request(site: Site) -> None:
    pia = Caller(site, "pia")
    pia.post(AT + "/revisions", submission(), key="k1")
    assert code(pia.post(AT + "/revisions", submission(OTHER), key="k1")) == (422, "key_used")
    assert code(pia.post(API + "/programs/L1/O1002/revisions", submission(), key="k1")) == (422, "key_used")
    assert code(pia.post(AT + "/revisions", submission(), key="a b")) == (422, "bad_key")
    assert Caller(site, "lena").post(AT + "/revisions", submission(OTHER), key="k1").status_code == 201


def test_a_refusal_gives_its_key_back(site: Site) -> None:
    leo = Caller(site, "leo")
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": ""}
    done = Caller(site, "pia").post(AT + "/revisions", submission()).get_json()["revision"]
    wrong = {**given, "report": "0" * 64}
    assert leo.post(AT + "/revisions/1/decision", wrong, key="k").status_code == 409
    right = {**given, "report": done["report_digest"]}
    assert leo.post(AT + "/revisions/1/decision", right, key="k").status_code == 200


def test_an_act_whose_answer_was_lost_is_not_done_twice(site: Site) -> None:
    pia = Caller(site, "pia")
    records.claim_answer(site.shop, site.person("pia").id, "other", "x")
    pia.post(AT + "/revisions", submission(), key="k")
    site.shop.database.run("UPDATE answer SET status=NULL, content=NULL WHERE key='k'")
    assert code(pia.post(AT + "/revisions", submission(), key="k")) == (409, "key_running")
    site.clock.add(200)
    assert pia.post(AT + "/revisions", submission(), key="k").status_code in (201, 409)
    assert len(records.revisions(site.shop, "O1001", "L1")) == 1


class Ended(BaseException):
    """The process ended here."""


@pytest.mark.parametrize("where", ["before the act", "after the act", "before its answer is kept"])
def test_an_act_whose_process_ended_acts_once(site: Site, where: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The key is marked in the transaction of the act: whatever ends the process after it, the act is not done again."""
    released(site)
    otto = Caller(site, "otto")

    def sent() -> Any:
        return otto.post(AT + "/revisions/1/readbacks", {"program": b64(BODY)}, key="k")

    def ends(*_: object, **__: object) -> None:
        raise Ended

    with monkeypatch.context() as patch:
        kept = records.keep_answer
        if where == "before the act":
            patch.setattr("verifier.service.api._act", ends)
        elif where == "after the act":
            patch.setattr("verifier.service.api._content", ends)
        else:
            patch.setattr(records, "keep_answer", ends)
        patch.setattr(records, "drop_claim", lambda *_: None)  # a process that has ended gives nothing back
        with pytest.raises(Ended):
            sent()
        patch.setattr(records, "keep_answer", kept)
    assert code(sent()) == (409, "key_running")
    site.clock.add(200)
    done = sent()
    assert len(records.readbacks_at(site.shop, "O1001", "L1")) == 1
    if where == "before the act":
        assert done.status_code == 201
    else:
        assert code(done) == code(sent()) == (409, "answer_lost")
        other = otto.post(AT + "/revisions/1/readbacks", {"program": b64(BODY)}, key="another").get_json()
        assert other["again"] is True and other["id"] == records.readbacks_at(site.shop, "O1001", "L1")[0].id


def test_a_refusal_that_is_written_down_gives_its_key_back(site: Site) -> None:
    released(site)
    otto, wrong = Caller(site, "otto"), {"pin": PIN, "code": "ZZZZ9999", "words": ["X1.", "Z1."]}
    answers = [code(otto.post(AT + "/revisions/1/confirmations", wrong, key="k")) for _ in range(2)]
    assert answers[0] == answers[1] and answers[0][1] in ("wrong_code", "needs_readback")
    assert site.shop.database.rows("SELECT * FROM answer WHERE key='k'") == []


def released(site: Site) -> None:
    done = Caller(site, "pia").post(AT + "/revisions", submission()).get_json()["revision"]
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": done["report_digest"]}
    assert Caller(site, "leo").post(AT + "/revisions/1/decision", given).status_code == 200
    assert Caller(site, "pia").post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}).status_code == 200


def test_no_answer_holds_a_pin_or_its_plain_digest(site: Site) -> None:
    Caller(site, "otto").post(AT + "/revisions/1/confirmations", {"pin": PIN, "readback": 1}, key="k")
    rows = site.shop.database.rows("SELECT * FROM answer")
    assert PIN not in str(rows)


def _value(schema: dict[str, Any], chance: random.Random, depth: int = 0) -> Any:
    """Something that fits a schema, or something else once in a while."""
    if chance.random() < 0.12 or depth > 4:
        return chance.choice([None, True, -1, 2**80, 1.5, "", "\ud800", "\x00", "A" * 5000, [], {}, [[1]], "é*"])
    if "$ref" in schema:
        schema = document()["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
    if "anyOf" in schema:
        return _value(chance.choice(schema["anyOf"]), chance, depth + 1)
    if "enum" in schema:
        return chance.choice(schema["enum"])
    kind = schema.get("type")
    if kind == "object":
        names = [n for n in schema["properties"] if n in schema.get("required", []) or chance.random() < 0.5]
        return {n: _value(schema["properties"][n], chance, depth + 1) for n in names}
    if kind == "array":
        return [_value(schema.get("items", {}), chance, depth + 1) for _ in range(chance.randrange(4))]
    if kind == "integer":
        return chance.choice([schema.get("minimum", 0), 1, 2, schema.get("maximum", 7)])
    return chance.choice([PIN, "O1001", "L1", b64(BODY), b64(b"%\nO1\nG0 X#"), "AAAAAAAA", "because", "0" * 64])


@pytest.mark.parametrize("seed", range(4))
def test_no_request_made_from_the_document_ends_in_a_mistake(seed: int, site: Site) -> None:
    chance = random.Random(seed)
    callers = [Caller(site, login) for login in ("pia", "leo", "otto")]
    Caller(site, "pia").post(AT + "/revisions", submission())
    names = ["L1", "O1001", "l1", "o1001", "CON", "é", "a b", "x" * 300, "%00", "%2e%2e", "\u0661", "1"]
    met = set()
    for _ in range(120):
        op, caller = chance.choice(OPERATIONS), chance.choice(callers)
        known = {"target": "L1", "program": "O1001", "machine": "L1", "n": 1, "number": 1}
        parts = {k: v if chance.random() < 0.8 else chance.choice(names) for k, v in known.items()}
        path = API + template(op.path).format(**parts)
        if op.taken is None:
            answer = caller.get(
                path + chance.choice(["", "?after=1", "?after=-1", "?most=x", "?state=held", "?after=1&after=2"])
            )
        else:
            body = json.dumps(_value({"$ref": f"#/components/schemas/{op.taken.__name__}"}, chance)).encode()
            key = chance.choice(["", "k1", "k 2"])
            answer = caller.post(path, key=key, data=body, content_type="application/json")
        met.add(answer.status_code)
        assert answer.status_code < 500, (op.name, path, answer.text)
    assert {200, 404, 422} <= met
    assert records.verify_ledger(site.folder).faults == ()
