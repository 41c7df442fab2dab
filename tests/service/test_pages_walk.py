"""The good way on the pages: submitted, decided, released, at the machine, read back, confirmed; and the ways back."""

from __future__ import annotations

import re

from page_walk import BASE, NO_CLAMP, RENUMBERED, SMALLER, act, decide, newest, released, sent_back, submit
from service_shop import PIN, Site

from verifier import records
from verifier.report import CAUTION


def floor_file(site: Site) -> bytes:
    return (site.folder / "floor" / "L1" / "O42.NC").read_bytes()


def test_three_people_take_a_change_to_the_machine_and_confirm_it_by_readback(site: Site) -> None:
    released(site)
    pia, leo, otto = site.client("pia"), site.client("leo"), site.client("otto")
    answer = submit(pia, SMALLER)
    found = newest(site)
    assert answer.status_code == 303 and answer.location == f"/revisions/{found.id}" and found.state == "held"
    assert "X47.6" in pia.get(answer.location).text and "to the decision" not in pia.get(answer.location).text
    assert f"/revisions/{found.id}" in leo.get("/decide").text
    assert decide(leo, found.id).status_code == 303
    assert newest(site).state == "cleared" and floor_file(site) == BASE.encode()
    cleared = pia.get(f"/revisions/{found.id}").text
    report = records.reports(site.shop, found.id)[0]
    bound = [report.digest, report.base_sha, report.machine_digest, report.policy_digest, report.rules_digest]
    assert [digest for digest in bound if str(digest) not in cleared] == []
    assert act(pia, f"/revisions/{found.id}/release").status_code == 303
    assert floor_file(site) == SMALLER.encode()
    here = otto.get("/at/L1/O42").text
    assert found.check_code in here and "The file is at the machine" in here
    back = sent_back(otto, found.id, SMALLER.replace(" ", ""))
    again = sent_back(otto, found.id, SMALLER.replace(" ", ""))
    assert "read back already" in again.text and "read back already" not in back.text
    number = re.search(r'name="readback" value="(\d+)"', back.text)
    assert number is not None and f'value="{number.group(1)}"' in again.text
    listed = site.client("pia").get("/readbacks/L1/O42").text
    assert f"Read-back {number.group(1)}" in listed and listed.count("word for word") == 1
    one = site.client("pia").get(f"/readbacks/{number.group(1)}")
    assert "Word for word that revision" in one.text and "G50" in one.text
    saved = site.client("pia").get(f"/readbacks/{number.group(1)}/file")
    assert saved.data == SMALLER.replace(" ", "").encode() and "attachment" in saved.headers["Content-Disposition"]
    assert number and "Word for word" in back.text
    done = act(otto, "/at/L1/O42/confirm", revision=found.id, readback=number.group(1))
    assert done.status_code == 303
    assert records.at_machine(site.shop, "L1")[0].confirmed == "strong"
    assert "confirmed (strong)" in otto.get("/at/L1").text
    history = pia.get("/programs/L1/O42").text
    for word in ("submitted", "approved", "released", "read back", "confirmed"):
        assert word in history


def test_a_change_of_wording_is_cleared_without_a_lead_and_released(site: Site) -> None:
    released(site)
    submit(site.client("pia"), RENUMBERED)
    found = newest(site)
    assert found.state == "cleared"
    assert "Same behaviour" in site.client("pia").get(f"/revisions/{found.id}").text


def test_an_operator_confirms_by_check_code_and_the_words_that_the_page_never_tells(site: Site) -> None:
    released(site)
    found = released(site, SMALLER)
    release = records.at_machine(site.shop, "L1")[0]
    assert len(release.challenge) == 2
    otto = site.client("otto")
    shown = otto.get("/at/L1/O42").text
    assert all(word.place in shown for word in release.challenge)
    form = shown[shown.index("Confirm by check code") :]
    assert not any(word.word in form for word in release.challenge)
    words = {"word1": release.challenge[0].word, "word2": release.challenge[1].word}
    wrong = act(otto, "/at/L1/O42/confirm", revision=found.id, code=found.check_code, word1="X1.", word2="X1.")
    assert wrong.status_code == 409 and "words read from the control are not those" in wrong.text
    given = {"revision": found.id, "code": found.check_code.lower(), **words}
    assert act(otto, "/at/L1/O42/confirm", **given).status_code == 303
    assert records.at_machine(site.shop, "L1")[0].confirmed == "weak"


def test_an_edit_at_the_control_is_shown_and_becomes_a_revision(site: Site) -> None:
    found = released(site)
    otto, edited = site.client("otto"), BASE.replace("F0.25", "F0.2")
    back = sent_back(otto, found.id, edited)
    assert "F0.2" in back.text and "is not the release" in back.text and "Confirm by read-back" not in back.text
    assert "Read-back differs" in otto.get("/at/L1").text
    sha = re.search(r'name="sha" value="([0-9a-f]{64})"', otto.get("/at/L1/O42").text)
    assert sha
    done = act(otto, "/at/L1/O42/submit", sha=sha.group(1))
    assert done.status_code == 303
    assert records.body(site.shop, newest(site).sha) == edited.encode() and newest(site).n == 2


def test_a_prove_out_is_let_out_at_one_machine_and_confirmed_by_readings(site: Site) -> None:
    released(site)
    submit(site.client("pia"), SMALLER)
    found = newest(site)
    assert decide(site.client("leo"), found.id, "prove-out", machine="L1", days="2").status_code == 303
    otto = site.client("otto")
    assert "in prove-out until" in otto.get("/at/L1/O42").text
    empty = act(otto, "/at/L1/O42/confirm", revision=found.id, readings=" ")
    assert empty.status_code == 422 and newest(site).state == "prove-out"
    assert act(otto, "/at/L1/O42/confirm", revision=found.id, readings="47.61, 44.20").status_code == 303
    assert newest(site).state == "cleared"


def test_a_recall_takes_the_file_away_and_is_told_at_the_machine(site: Site) -> None:
    found = released(site)
    assert act(site.client("leo"), f"/revisions/{found.id}/recall").status_code == 303
    assert newest(site).state == "recalled" and not (site.folder / "floor" / "L1" / "O42.NC").exists()
    otto = site.client("otto")
    for url in ("/at/L1", "/at/L1/O42"):
        assert "Stop: O42 revision 1 is recalled" in otto.get(url).text
    assert "Nothing is to be run here" in otto.get("/at/L1/O42").text


def test_an_operator_goes_back_alone_to_what_was_proven(site: Site) -> None:
    first = released(site)
    otto = site.client("otto")
    back = sent_back(otto, first.id, BASE)
    number = re.search(r'name="readback" value="(\d+)"', back.text)
    assert number
    act(otto, "/at/L1/O42/confirm", revision=first.id, readback=number.group(1))
    second = released(site, SMALLER)
    assert "Go back to revision 1" in otto.get("/at/L1/O42").text
    assert act(otto, "/at/L1/O42/go-back", revision=second.id).status_code == 303
    assert floor_file(site) == BASE.encode()
    again = act(otto, "/at/L1/O42/go-back", revision=second.id)
    assert again.status_code == 409 and "should not run that revision now" in again.text


def test_an_author_withdraws_and_a_lead_turns_back(site: Site) -> None:
    pia = site.client("pia")
    submit(pia, BASE)
    assert act(pia, f"/revisions/{newest(site).id}/withdraw").status_code == 303
    assert newest(site).state == "withdrawn"
    submit(pia, SMALLER)
    assert decide(site.client("leo"), newest(site).id, "turn back").status_code == 303
    assert newest(site).state == "turned back"


def test_a_missing_file_is_written_again_by_a_lead(site: Site) -> None:
    found = released(site)
    (site.folder / "floor" / "L1" / "O42.NC").unlink()
    assert act(site.client("leo"), "/at/L1/O42/write-again", revision=found.id).status_code == 303
    assert floor_file(site) == BASE.encode()
    assert act(site.client("otto"), "/at/L1/O42/write-again", revision=found.id).status_code == 403


def test_a_machine_that_runs_from_its_folder_gets_the_file_when_it_is_taken_over(site: Site) -> None:
    desk = site.desk
    profile = desk.profile("L1")
    desk.add_machine("ada", profile, name="L2", folder="floor/L2", group=None, extension=".NC", takeover=True)
    submit(site.client("pia"), BASE, "O42", target="L2")
    found = records.revisions(site.shop, "O42", "L2")[-1]
    decide(site.client("leo"), found.id)
    assert act(site.client("pia"), f"/revisions/{found.id}/release").status_code == 303
    otto, place = site.client("otto"), site.folder / "floor" / "L2" / "O42.NC"
    assert "waits to be taken over" in otto.get("/at/L2/O42").text and not place.exists()
    moving = act(otto, "/at/L2/O42/take-over", revision=found.id)
    assert moving.status_code == 422 and not place.exists()
    assert act(otto, "/at/L2/O42/take-over", revision=found.id, stopped="yes").status_code == 303
    assert place.read_bytes() == BASE.encode()


def test_every_page_opens_for_every_role_and_pages_with_a_verdict_bear_the_caution(site: Site) -> None:
    found = released(site)
    submit(site.client("pia"), NO_CLAMP)
    pages = ["/", "/programs", "/programs/L1/O42", f"/revisions/{found.id}", f"/revisions/{newest(site).id}", "/at"]
    pages += ["/at/L1", "/at/L1/O42", f"/revisions/{found.id}/text", "/rules", "/rules/speed-clamp-removed"]
    for login in ("ada", "pia", "leo", "lena", "otto"):
        browser = site.client(login)
        for url in pages:
            answer = browser.get(url)
            assert answer.status_code == 200, (login, url, answer.text)
            if 'class="verdict' in answer.text or url.startswith("/at/L1/"):
                assert CAUTION in answer.text.replace("&#39;", "'")
    assert site.client().get("/programs").status_code == 303


def test_a_file_is_given_out_byte_for_byte(site: Site) -> None:
    found = released(site, BASE.replace("\n", "\r\n"))
    answer = site.client("pia").get(f"/revisions/{found.id}/file")
    assert answer.data == BASE.replace("\n", "\r\n").encode() and "attachment" in answer.headers["Content-Disposition"]


def test_pasted_text_is_taken_with_plain_line_ends(site: Site) -> None:
    pia = site.client("pia")
    pia.get("/submit")
    given = {"program": "O7", "target": "L1", "reason": "typed", "text": BASE.replace("\n", "\r\n")}
    assert pia.post("/submit", given).status_code == 303
    assert records.body(site.shop, newest(site, "O7").sha) == BASE.encode()
    assert PIN not in pia.get("/programs/L1/O7").text


def test_an_author_reads_who_turned_it_back_and_why(site: Site) -> None:
    submit(site.client("pia"), BASE)
    decide(site.client("leo"), newest(site).id, "turn back", reason="the fixture stands in the way")
    shown = site.client("pia").get(f"/revisions/{newest(site).id}").text
    assert "Turned back" in shown and "by Lead L: the fixture stands in the way" in shown
    again = submit(site.client("pia"), BASE, reason="fixture moved")
    assert again.status_code == 303 and newest(site).state == "held"
    assert "the fixture stands in the way" not in site.client("pia").get(f"/revisions/{newest(site).id}").text
