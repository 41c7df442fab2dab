"""The whole way over the API, with every answer held against the document."""

from __future__ import annotations

import io
from typing import Any

from api_site import API, AT, BODY, OTHER, Caller, answer_faults, b64, submission
from service_shop import PIN, Site

from verifier import records
from verifier.service.openapi import document


def checked(answer: Any, method: str, path: str, status: int) -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    assert answer_faults(answer, method, path, document()) == []
    value: dict[str, Any] = answer.get_json(force=True)
    return value


P, N = "/programs/{target}/{program}", "/programs/{target}/{program}/revisions/{n}"


def decided(site: Site, data: bytes = BODY, **more: Any) -> dict[str, Any]:
    done = Caller(site, "pia").post(AT + "/revisions", submission(data)).get_json()
    n, digest = done["revision"]["n"], done["revision"]["report_digest"]
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": digest, **more}
    return checked(Caller(site, "leo").post(f"{AT}/revisions/{n}/decision", given), "post", N + "/decision", 200)


def test_submit_decide_release_read_back_confirm(site: Site) -> None:
    pia, leo, otto = Caller(site, "pia"), Caller(site, "leo"), Caller(site, "otto")
    done = checked(pia.post(AT + "/revisions", submission()), "post", P + "/revisions", 201)
    assert done["revision"]["state"] == "held" and done["reports"][0]["text"]
    held = checked(leo.get(API + "/revisions?state=held"), "get", "/revisions", 200)
    assert [one["n"] for one in held["revisions"]] == [1]
    shown = checked(leo.get(AT + "/revisions/1"), "get", N, 200)
    digest = shown["revision"]["report_digest"]
    assert shown["reports"][0]["digest"] == digest and shown["reports"][0]["report"]["schema"]
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": digest}
    cleared = checked(leo.post(AT + "/revisions/1/decision", given), "post", N + "/decision", 200)
    assert cleared["state"] == "cleared"
    out = checked(pia.post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}), "post", N + "/release", 200)
    assert out["jobs"][0]["state"] == "done" and (site.folder / "floor/L1/O1001.NC").read_bytes() == BODY
    sent = {"program": b64(BODY.replace(b" ", b""))}
    back = checked(otto.post(AT + "/revisions/1/readbacks", sent), "post", N + "/readbacks", 201)
    assert back["equal"] is True and back["again"] is False
    repeated = checked(otto.post(AT + "/revisions/1/readbacks", sent), "post", N + "/readbacks", 201)
    assert repeated == {**back, "again": True}, "the same again is the same read-back, told as such"
    said = {"pin": PIN, "readback": back["id"]}
    confirmed = checked(otto.post(AT + "/revisions/1/confirmations", said), "post", N + "/confirmations", 201)
    assert confirmed["strength"] == "strong" and confirmed["operator"] == "Operator O"
    shown = checked(otto.get(API + f"/readbacks/{back['id']}"), "get", "/readbacks/{number}", 200)
    assert shown == {"readback": {**back, "confirmed": True}, "sent": sent["program"]}
    path = "/machines/{machine}/programs/{program}/readbacks"
    listed = checked(otto.get(API + "/machines/L1/programs/O1001/readbacks"), "get", path, 200)["readbacks"]
    assert listed == [shown["readback"]]
    standing = checked(otto.get(API + "/machines/L1"), "get", "/machines/{machine}", 200)
    assert standing["releases"][0]["confirmed"] and standing["releases"][0]["sha"] == cleared["sha"]
    acts = checked(otto.get(AT + "/history"), "get", P + "/history", 200)["entries"]
    assert acts[0]["act"].startswith("submitted") and acts[-1]["person"] == "Operator O"
    assert records.verify_ledger(site.folder).faults == ()


def test_every_list_is_as_its_document_says(site: Site) -> None:
    decided(site)
    leo = Caller(site, "leo", "read")
    assert checked(leo.get(API + "/me"), "get", "/me", 200)["scopes"] == ["read"]
    found = checked(leo.get(API + "/programs?after=0&most=1"), "get", "/programs", 200)["programs"]
    assert [(one["name"], one["target"]) for one in found] == [("O1001", "L1")]
    assert checked(leo.get(API + f"/programs?after={found[0]['id']}"), "get", "/programs", 200)["programs"] == []
    assert checked(leo.get(AT + "/revisions"), "get", P + "/revisions", 200)["revisions"][0]["state"] == "cleared"
    assert [m["name"] for m in checked(leo.get(API + "/machines"), "get", "/machines", 200)["machines"]] == ["L1"]
    assert checked(leo.get(API + "/rules"), "get", "/rules", 200)["rules"][0]["why"]


def test_new_critical_findings_are_ticked_by_the_names_that_the_revision_tells(site: Site) -> None:
    leo = Caller(site, "leo")
    wrong = b"%\nO1001\nN10 G21 G18 G40 G80 G99\nN20 G01 X5O. F0.2\nN30 M30\n%\n"
    assert Caller(site, "pia").post(AT + "/revisions", submission(wrong)).status_code == 201
    shown = checked(leo.get(AT + "/revisions/1"), "get", N, 200)
    wanted = shown["reports"][0]["to_be_ticked"]
    assert wanted and all(one["rule"] and one["title"] for one in wanted)
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": shown["revision"]["report_digest"]}
    for ticked, code in (([], "not_ticked"), (["00000000", *(one["name"] for one in wanted)], "unknown_finding")):
        answer = leo.post(AT + "/revisions/1/decision", {**given, "ticked": ticked})
        assert checked(answer, "post", N + "/decision", 422)["code"] == code
    given["ticked"] = [one["name"] for one in wanted]
    assert checked(leo.post(AT + "/revisions/1/decision", given), "post", N + "/decision", 200)["state"] == "cleared"
    noted = leo.get(AT + "/history").get_json()["entries"][-1]["body"]
    assert len(noted["critical_read"]) == len(wanted)


def test_a_waiting_revision_is_checked_again_over_the_api(site: Site) -> None:
    pia, leo, otto = Caller(site, "pia"), Caller(site, "leo"), Caller(site, "otto")
    decided(site)
    pia.post(AT + "/revisions", submission(OTHER))
    same = checked(leo.post(AT + "/revisions/2/check-again", {"pin": PIN}), "post", N + "/check-again", 409)
    assert same["code"] == "report_fits"
    assert pia.post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}).status_code == 200
    assert otto.post(AT + "/revisions/2/check-again", {"pin": PIN}).status_code == 403
    done = checked(leo.post(AT + "/revisions/2/check-again", {"pin": PIN}), "post", N + "/check-again", 200)
    now = done["revision"]
    assert (now["state"], now["authors"]) == ("held", ["pia"]) and now["held_because"][0].startswith("checked again")
    assert done["reports"][0]["text"] and now["base_shas"] != [None]
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": now["report_digest"]}
    assert leo.post(AT + "/revisions/2/decision", given).status_code == 200


def test_files_may_be_sent_as_a_form(site: Site) -> None:
    form = {"program": (io.BytesIO(BODY), "a.nc"), "reason": "as a file"}
    done = Caller(site, "pia").post(AT + "/revisions", data=form)
    assert checked(done, "post", P + "/revisions", 201)["revision"]["reason"] == "as a file"
    assert records.body(site.shop, done.get_json()["revision"]["sha"]) == BODY


def test_withdraw_recall_write_again_and_go_back(site: Site) -> None:
    pia, leo, otto = Caller(site, "pia"), Caller(site, "leo"), Caller(site, "otto")
    decided(site)
    pia.post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"})
    back = otto.post(AT + "/revisions/1/readbacks", {"program": b64(BODY)}).get_json()
    assert otto.post(AT + "/revisions/1/confirmations", {"pin": PIN, "readback": back["id"]}).status_code == 201
    pia.post(AT + "/revisions", submission(OTHER))
    gone = checked(
        pia.post(AT + "/revisions/2/withdrawal", {"pin": PIN, "reason": "no"}), "post", N + "/withdrawal", 200
    )
    assert gone["state"] == "withdrawn"
    decided(site, OTHER)
    assert pia.post(AT + "/revisions/2/release", {"pin": PIN, "reason": "go"}).status_code == 200
    old = checked(otto.post(AT + "/go-back", {"pin": PIN, "reason": "chatter"}), "post", P + "/go-back", 200)
    assert old["releases"][0]["n"] == 1 and (site.folder / "floor/L1/O1001.NC").read_bytes() == BODY
    (site.folder / "floor/L1/O1001.NC").unlink()
    checked(leo.post(AT + "/write-again", {"pin": PIN, "reason": "it went missing"}), "post", P + "/write-again", 200)
    assert (site.folder / "floor/L1/O1001.NC").read_bytes() == BODY
    stop = checked(leo.post(AT + "/revisions/1/recall", {"pin": PIN, "reason": "crash"}), "post", N + "/recall", 200)
    assert stop["machines"] == ["L1"] and not (site.folder / "floor/L1/O1001.NC").exists()


def test_the_word_to_be_read_from_the_control_is_never_given_away(site: Site) -> None:
    from verifier.service import api_models

    assert set(api_models.Place.model_fields) == {"place"}
