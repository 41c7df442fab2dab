"""A program and what it calls, by the pages and over the API: submitted beside each other, released in one act."""

from __future__ import annotations

from api_site import API, Caller, submission
from page_walk import act, decide, newest, submit
from service_shop import PIN, Site

from verifier import records
from verifier.records import RevisionFacts

MAIN = "%\nO0042 (BUSHING)\nN1 G21 G40 G97 G99\nT0101\nS500 M03\nG00 X50. Z2.\nM98 P9000\nG00 X100. Z50.\nM05\nM30\n%\n"
SUB = "%\nO9000 (GROOVE)\nG01 Z-10. F0.2\nM99\n%\n"
DEEPER = SUB.replace("-10.", "-12.")


def cleared(site: Site, text: str, program: str, beside: str = "") -> RevisionFacts:
    assert submit(site.client("pia"), text, program, beside=beside).status_code == 303
    found = newest(site, program) if text != MAIN else records.revisions(site.shop, program, "L1")[0]
    assert decide(site.client("leo"), found.id).status_code == 303
    return records.revision(site.shop, found.id)


def running(site: Site) -> None:
    for text, program in ((SUB, "O9000"), (MAIN, "O42")):
        found = cleared(site, text, program)
        assert act(site.client("pia"), f"/revisions/{found.id}/release").status_code == 303


def test_the_page_of_one_names_the_other_and_releases_both(site: Site) -> None:
    running(site)
    sub = cleared(site, DEEPER, "O9000")
    main = cleared(site, MAIN, "O42", beside="O9000")
    pia = site.client("pia")
    page = pia.get(f"/revisions/{main.id}").text
    assert "Goes together with" in page and f"/revisions/{sub.id}" in page and "Changed behaviour" in page
    alone = act(pia, f"/revisions/{main.id}/release")
    assert alone.status_code == 409 and "elease the two together" in alone.text
    assert f'name="beside" value="{sub.id}" checked' in page
    assert act(pia, f"/revisions/{main.id}/release", beside=str(sub.id)).status_code == 303
    assert {r.sha for r in records.at_machine(site.shop, "L1")} == {main.sha, sub.sha}
    assert (site.folder / "floor" / "L1" / "O9000.NC").read_text() == DEEPER
    assert "Goes together with" not in pia.get(f"/revisions/{main.id}").text


def test_a_name_that_waits_for_nothing_is_refused_with_the_next_step(site: Site) -> None:
    running(site)
    answer = submit(site.client("pia"), MAIN + "\n", beside="O9000")
    assert answer.status_code == 409 and "has no revision for L1 that waits to be released" in answer.text
    assert 'value="O9000"' in answer.text


def test_a_program_does_the_same_over_the_api(site: Site) -> None:
    running(site)
    sub = cleared(site, DEEPER, "O9000")
    pia, leo = Caller(site, "pia"), Caller(site, "leo")
    made = pia.post(f"{API}/programs/L1/O42/revisions", submission(MAIN.encode(), beside=["O9000"]))
    assert made.status_code == 201
    digest = made.get_json()["revision"]["report_digest"]
    at = f"{API}/programs/L1/O42/revisions/1"
    wanted = [one.name for one in records.wanted_ticks(site.shop, made.get_json()["revision"]["id"])]
    sign = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": digest, "ticked": wanted}
    assert leo.post(at + "/decision", sign).status_code == 200
    assert pia.post(at + "/release", {"pin": PIN, "reason": "go"}).get_json()["code"] == "called_not_released"
    done = pia.post(at + "/release", {"pin": PIN, "reason": "go", "beside": ["O9000"]})
    assert done.status_code == 200
    assert {one["sha"] for one in done.get_json()["releases"]} == {
        sub.sha,
        records.revisions(site.shop, "O42", "L1")[0].sha,
    }
