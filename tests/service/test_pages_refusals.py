"""Refusals on the pages: told in words, with the status that fits, and nothing is written."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pytest
from page_walk import BASE, NO_CLAMP, SMALLER, act, decide, file_of, newest, released, sent_back, submit
from service_shop import PIN, Site

from verifier import records


def entries(site: Site) -> int:
    return records.checkpoint(site.shop).size


def test_a_decision_on_a_page_that_is_out_of_date_is_refused_and_nothing_is_written(site: Site) -> None:
    submit(site.client("pia"), BASE)
    leo, number = site.client("leo"), newest(site).id
    before = entries(site)
    answer = decide(leo, number, seen="0" * 64)
    assert answer.status_code == 409 and "not the present one" in answer.text and 'role="alert"' in answer.text
    assert newest(site).state == "held" and entries(site) == before
    assert 'value="looked at"' in answer.text


def test_two_leads_on_one_page_decide_once(site: Site) -> None:
    submit(site.client("pia"), BASE)
    leo, lena, number = site.client("leo"), site.client("lena"), newest(site).id
    seen = newest(site).report_digest
    assert decide(leo, number).status_code == 303
    late = act(lena, f"/revisions/{number}/decide", seen=seen, verdict="turn back")
    assert late.status_code == 409 and "has been decided on" in late.text
    assert newest(site).state == "cleared"


def test_nobody_decides_on_their_own_revision(site: Site) -> None:
    lena = site.client("lena")
    submit(lena, BASE)
    found = newest(site)
    shown = lena.get(f"/revisions/{found.id}").text
    assert "another lead has to decide" in shown and "Sign the decision" not in shown
    answer = decide(lena, found.id, seen=found.report_digest)
    assert answer.status_code == 403 and newest(site).state == "held"


@pytest.mark.parametrize("login", ["pia", "otto", "ada"])
def test_only_a_lead_decides_or_recalls(site: Site, login: str) -> None:
    found = released(site)
    submit(site.client("lena"), SMALLER)
    held = newest(site)
    browser = site.client(login)
    assert browser.get("/decide").status_code == 403
    assert decide(browser, held.id, seen=held.report_digest).status_code == 403
    assert act(browser, f"/revisions/{found.id}/recall").status_code == 403
    assert newest(site).state == "held" and records.revision(site.shop, found.id).state == "released"


@pytest.mark.parametrize("login", ["leo", "pia", "ada"])
def test_only_an_operator_confirms(site: Site, login: str) -> None:
    found = released(site)
    answer = act(site.client(login), "/at/L1/O42/confirm", revision=found.id, code=found.check_code)
    assert answer.status_code == 403 and records.at_machine(site.shop, "L1")[0].confirmed is None


@pytest.mark.parametrize("login", ["otto", "ada"])
def test_only_programmers_and_leads_submit_or_release(site: Site, login: str) -> None:
    browser = site.client(login)
    assert browser.get("/submit").status_code == 403
    assert submit(browser, BASE).status_code == 403 and records.programs(site.shop) == ()
    submit(site.client("pia"), BASE)
    decide(site.client("leo"), newest(site).id)
    assert act(browser, f"/revisions/{newest(site).id}/release").status_code == 403
    assert newest(site).state == "cleared"


@pytest.mark.parametrize("pin", ["", "000000"])
@pytest.mark.parametrize("what", ["decide", "check-again", "release", "recall", "withdraw", "confirm", "go-back"])
def test_no_act_without_the_persons_pin(site: Site, what: str, pin: str) -> None:
    found = released(site)
    submit(site.client("pia"), SMALLER)
    held = newest(site)
    if what == "release":
        decide(site.client("leo"), held.id)
    state = newest(site).state
    done = {
        "decide": lambda: decide(site.client("leo"), held.id, pin=pin),
        "check-again": lambda: act(site.client("pia"), f"/revisions/{held.id}/check-again", pin=pin),
        "release": lambda: act(site.client("pia"), f"/revisions/{held.id}/release", pin=pin),
        "recall": lambda: act(site.client("leo"), f"/revisions/{found.id}/recall", pin=pin),
        "withdraw": lambda: act(site.client("pia"), f"/revisions/{held.id}/withdraw", pin=pin),
        "confirm": lambda: act(site.client("otto"), "/at/L1/O42/confirm", revision=found.id, code="X", pin=pin),
        "go-back": lambda: act(site.client("otto"), "/at/L1/O42/go-back", revision=found.id, pin=pin),
    }[what]()
    assert done.status_code == 403 and "PIN" in done.text
    assert newest(site).state == state and records.revision(site.shop, found.id).state == "released"


def test_a_new_critical_finding_has_to_be_ticked_before_it_may_go_to_a_machine(site: Site) -> None:
    released(site)
    submit(site.client("pia"), NO_CLAMP)
    found, leo = newest(site), site.client("leo")
    assert found.has_critical
    for verdict in ("approve", "prove-out"):
        answer = decide(leo, found.id, verdict, seen_critical=[], machine="L1", days="1")
        assert answer.status_code == 422 and "not ticked" in answer.text and newest(site).state == "held"
    assert decide(leo, found.id, "approve", seen_critical=["00000000"]).status_code == 422
    assert newest(site).state == "held"
    assert decide(leo, found.id, "turn back", seen_critical=[]).status_code == 303


def test_a_critical_change_is_not_confirmed_by_check_code(site: Site) -> None:
    released(site)
    found = released(site, NO_CLAMP)
    otto = site.client("otto")
    shown = otto.get("/at/L1/O42").text
    assert "confirmed by a read-back only" in shown and 'name="code"' not in shown
    answer = act(otto, "/at/L1/O42/confirm", revision=found.id, code=found.check_code, word1="X1.", word2="X2.")
    assert answer.status_code == 409 and records.at_machine(site.shop, "L1")[0].confirmed is None


def test_a_confirmation_of_a_revision_that_was_replaced_meanwhile_is_refused(site: Site) -> None:
    first = released(site)
    released(site, SMALLER)
    answer = act(site.client("otto"), "/at/L1/O42/confirm", revision=first.id, code=first.check_code)
    assert answer.status_code == 409 and "should not run that revision now" in answer.text


def test_a_release_is_refused_where_the_policy_changed_since_and_the_revision_is_held_again(site: Site) -> None:
    from verifier.findings import default_policy, policy_text

    submit(site.client("pia"), BASE)
    decide(site.client("leo"), newest(site).id)
    text = policy_text(default_policy()).replace("version = 1", "version = 2")
    site.desk.set_policy("leo", text.encode(), "policy", "stricter")
    answer = act(site.client("pia"), f"/revisions/{newest(site).id}/release")
    assert answer.status_code == 409 and "held again" in answer.text and newest(site).state == "held"
    assert not (site.folder / "floor" / "L1" / "O42.NC").exists()


@pytest.mark.parametrize(
    ("given", "status", "told"),
    [
        ({"program": "../etc"}, 422, "cannot be the name"),
        ({"program": "CON"}, 422, "name of a device"),
        ({"program": ""}, 422, "cannot be the name"),
        ({"target": "L9"}, 404, "no machine or group"),
        ({"reason": "  "}, 422, "reason is required"),
        ({"reason": "x" * 2001}, 422, "characters"),
        ({"text": "also pasted"}, 422, "eave one of them out"),
        ({"program_file": (BytesIO(b""), "x.nc")}, 422, "empty"),
        ({"program_file": (BytesIO(bytes(range(256)) * 4), "x.nc")}, 422, "nothing was stored"),
        ({"setup": (BytesIO(b"not = [toml"), "s.toml")}, 422, "not valid"),
    ],
)
def test_a_submission_that_cannot_be_taken_is_told_and_what_was_typed_is_kept(
    site: Site, given: dict[str, Any], status: int, told: str
) -> None:
    pia, before = site.client("pia"), entries(site)
    pia.get("/submit")
    fields = {"program": "O42", "target": "L1", "reason": "typed before"}
    answer = pia.post("/submit", {"program_file": file_of(BASE), **fields, **given})
    assert answer.status_code == status and told in answer.text and 'role="alert"' in answer.text
    assert entries(site) == before and records.programs(site.shop) == ()
    if "reason" not in given:
        assert "typed before" in answer.text


def test_an_oversize_program_is_refused(site: Site) -> None:
    pia = site.client("pia")
    assert submit(pia, "(" + "A" * (site.config.upload_limit + 1)).status_code == 413
    assert records.programs(site.shop) == ()


HOSTILE = "<script>alert`1`</script>\u202e'\"&"


def test_hostile_notes_reasons_and_file_names_are_rendered_harmless(site: Site) -> None:
    pia = site.client("pia")
    released(site)
    text = SMALLER.replace("(BUSHING)", f"({HOSTILE})").replace("N90 ", "(</ins><img src=x onerror=y>)\nN90 ")
    pia.get("/submit")
    given = {"program": "O42", "target": "L1", "reason": "<b>bold</b> {{ 7*7 }}"}
    answer = pia.post("/submit", {"program_file": (BytesIO(text.encode()), "<svg onload=1>.nc"), **given})
    assert answer.status_code == 303, answer.text
    found = newest(site)
    for login, url in (
        ("pia", f"/revisions/{found.id}"),
        ("leo", f"/revisions/{found.id}"),
        ("pia", f"/revisions/{found.id}/text"),
        ("pia", "/programs/L1/O42"),
        ("leo", "/decide"),
        ("leo", "/"),
    ):
        shown = site.client(login).get(url).text
        assert not re.search(
            r"<script(?! type=\"module\" src)"
            r"|<img(?! (?:class=\"small\" )?src=\"/revisions/\d+/picture/1.svg(?:#card-\d+)?\")"
            r"|<svg|<b>bold|\u202e",
            shown,
        ), url
        assert "49" not in re.findall(r"bold.{0,30}", shown)


def test_hostile_bytes_read_back_are_rendered_harmless(site: Site) -> None:
    found = released(site)
    sent = BASE.replace("N90 X52.", "N90 X53.").replace("(BUSHING)", f"({HOSTILE})")
    otto = site.client("otto")
    answer = sent_back(otto, found.id, sent)
    assert answer.status_code == 200 and "<script>alert" not in answer.text and "\u202e" not in answer.text
    assert "X53" in answer.text


def test_bytes_that_are_no_readback_of_here_are_not_submitted_by_an_operator(site: Site) -> None:
    found = released(site)
    answer = act(site.client("otto"), "/at/L1/O42/submit", sha=found.sha)
    assert answer.status_code == 409 and newest(site).n == 1


@pytest.mark.parametrize(
    "url", ["/revisions/999", "/programs/L1/O9", "/programs/L9/O42", "/at/L9", "/at/L1/O9", "/rules/no-such", "/x"]
)
def test_what_is_not_there_is_told_as_not_found(site: Site, url: str) -> None:
    answer = site.client("leo").get(url)
    assert answer.status_code == 404 and "<h1>" in answer.text


def test_a_decision_that_is_none_and_a_prove_out_without_days_are_refused(site: Site) -> None:
    submit(site.client("pia"), BASE)
    leo, number = site.client("leo"), newest(site).id
    assert decide(leo, number, "maybe").status_code == 422
    for days in ("", "0", "31", "x", "\u0663"):
        assert decide(leo, number, "prove-out", machine="L1", days=days).status_code == 422
    assert decide(leo, number, reason=" ").status_code == 422
    assert newest(site).state == "held" and PIN not in leo.get(f"/revisions/{number}").text
