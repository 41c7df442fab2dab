"""The figures: well-formed to another program's parser, right, for nobody but this computer or a token, and without a name in them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from api_site import AT, BODY, Caller, b64, submission, token
from prometheus_client.parser import text_string_to_metric_families
from service_shop import PIN, Site, site_on

from verifier import records

FAR = {"REMOTE_ADDR": "192.0.2.7"}


def figures(answer: Any) -> dict[tuple[str, str], float]:
    """Every sample by its name and labels, as an independent parser of the format reads them."""
    assert answer.status_code == 200 and answer.content_type.startswith("text/plain; version=0.0.4"), answer.text
    families = list(text_string_to_metric_families(answer.text))
    assert all(family.documentation and family.type in ("counter", "gauge") for family in families)
    found = {}
    for family in families:
        for sample in family.samples:
            labels = ",".join(f"{k}={v}" for k, v in sample.labels.items() if k != "worker")
            assert (sample.name, labels) not in found
            found[(sample.name, labels)] = sample.value
    return found


def asked(site: Site, **more: Any) -> dict[tuple[str, str], float]:
    return figures(site.app.test_client().get("/metrics", **more))


def test_the_figures_are_those_of_the_shop(site: Site) -> None:
    pia, leo, otto = (Caller(site, login) for login in ("pia", "leo", "otto"))
    before = asked(site)
    assert before["verifier_decisions_waiting", ""] == 0 and before["verifier_oldest_pending_job_seconds", ""] == 0
    digest = pia.post(AT + "/revisions", submission()).get_json()["revision"]["report_digest"]
    assert asked(site)["verifier_decisions_waiting", ""] == asked(site)["verifier_revisions", "state=held"] == 1
    given = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": digest}
    assert leo.post(AT + "/revisions/1/decision", {**given, "pin": "000001"}).status_code == 403
    assert leo.post(AT + "/revisions/1/decision", given).status_code == 200
    floor = site.folder / "floor" / "L1"
    (floor / "O1001.NC").mkdir()  # nothing can be written there
    assert pia.post(AT + "/revisions/1/release", {"pin": PIN, "reason": "go"}).status_code == 200
    site.clock.add(90)
    stuck = asked(site)
    assert stuck["verifier_jobs_pending", ""] == 1 and 90 <= stuck["verifier_oldest_pending_job_seconds", ""] < 95
    (floor / "O1001.NC").rmdir()
    site.desk.publish()
    assert asked(site)["verifier_confirmations_waiting", ""] == 1 and asked(site)["verifier_jobs_pending", ""] == 0
    otto.post(AT + "/revisions/1/readbacks", {"program": b64(BODY.replace(b"X100.", b"X99."))})
    found = asked(site)
    assert (
        found["verifier_readbacks_differing", ""] == 1 and found["verifier_refusals_total", "code=sign_in_again"] == 1
    )
    assert found["verifier_ledger_entries", ""] == len(records.whole_history(site.shop, most=500))
    for act in ("submitted", "approved", "released", "read back"):
        wanted = sum(entry.act == act for entry in records.whole_history(site.shop, most=500))
        assert found["verifier_acts_total", f"act={act}"] == wanted, act
    assert found["verifier_requests_total", "method=POST,status=4xx"] == 1
    assert found["verifier_records_bytes", ""] > 4096 and ("verifier_last_look_timestamp_seconds", "") in found


def test_drift_is_told_by_kind_with_the_time_of_the_look(site: Site) -> None:
    records.claim_look(site.shop, 60)
    one = {
        "machine": "L1",
        "file": "SECRET-PART.NC",
        "kind": "unknown",
        "detail": "nobody released it",
        "pending": False,
    }
    records.keep_look(site.shop, [one, one, {**one, "kind": "missing"}])
    found = asked(site)
    assert (found["verifier_drift", "kind=unknown"], found["verifier_drift", "kind=missing"]) == (2, 1)
    assert found["verifier_drift_files", ""] == 3
    look = records.last_look(site.shop)
    assert look is not None and found["verifier_last_look_timestamp_seconds", ""] == pytest.approx(
        look.at_us / 1e6, abs=0.01
    )


def test_no_name_and_no_secret_is_in_them(site: Site) -> None:
    Caller(site, "pia").post(AT + "/revisions", submission())
    text = site.app.test_client().get("/metrics").text
    for word in ("pia", "leo", "ada", "Programmer", "L1", "O1001", PIN, "secret", str(site.folder)):
        assert word not in text, word


def test_from_elsewhere_a_token_that_reads_is_needed(site: Site) -> None:
    client, read = site.app.test_client(), token(site, "leo", "read")
    assert client.get("/metrics", environ_base=FAR).status_code == 401
    assert client.get("/metrics", environ_base={"REMOTE_ADDR": "::1"}).status_code == 200
    asked(site, environ_base=FAR, headers={"Authorization": f"Bearer {read}"})
    other = token(site, "leo", "submit")
    assert client.get("/metrics", environ_base=FAR, headers={"Authorization": f"Bearer {other}"}).status_code == 403
    assert client.get("/metrics", environ_base=FAR, headers={"Authorization": "Bearer none"}).status_code == 401
    browser = site.client("ada")
    assert browser.get("/metrics", environ_base=FAR).status_code == 403, "a session is no token"


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Real-IP"])
def test_what_somebody_in_front_passes_on_is_not_from_this_computer(site: Site, header: str) -> None:
    answer = site.app.test_client().get("/metrics", headers={header: "127.0.0.1"})
    assert answer.status_code == 401


def test_settings_open_them(folder: Path) -> None:
    file = folder.parent / "service.toml"
    file.write_text("open_metrics = true\n", encoding="utf-8")
    site = site_on(folder, file=file)
    asked(site, environ_base=FAR)
    site.shop.close_thread()


def test_before_there_is_a_shop_they_say_so(place: Path) -> None:
    found = asked(site_on(place / "none"))
    assert found["verifier_shop", ""] == 0 and ("verifier_ledger_entries", "") not in found
