"""A form is carried out once, even where the process ended between the act and its answer."""

from __future__ import annotations

from page_walk import BASE, file_of, newest, submit
from pytest import MonkeyPatch
from service_shop import PIN, Browser, Site

from verifier import records
from verifier.records import answers

NUMBER = "A" * 22


def acts(site: Site) -> list[str]:
    return [entry.act for entry in records.history(site.shop, "O42", "L1")]


def withdraw(browser: Browser, number: int, reason: str = "not yet", pin: str = PIN) -> int:
    given = {"reason": reason, "pin": pin, "once": NUMBER}
    return int(browser.post(f"/revisions/{number}/withdraw", given).status_code)


def test_a_form_whose_process_ended_after_the_act_is_not_carried_out_again(
    site: Site, monkeypatch: MonkeyPatch
) -> None:
    pia = site.client("pia")
    submit(pia, BASE)
    number = newest(site).id
    monkeypatch.setattr("verifier.service.once._WAIT_S", 0)
    with monkeypatch.context() as patch:
        patch.setattr(records, "keep_answer", lambda *_: None)
        assert withdraw(pia, number) == 303
    assert withdraw(pia, number) == 409, "it may still be worked on"
    site.clock.add(200)
    told = pia.post(f"/revisions/{number}/withdraw", {"reason": "not yet", "pin": PIN, "once": NUMBER})
    assert told.status_code == 409 and "carried out once" in told.text
    assert acts(site).count("withdrawn") == 1


def test_a_refused_form_may_be_sent_again(site: Site) -> None:
    pia = site.client("pia")
    submit(pia, BASE)
    number = newest(site).id
    assert withdraw(pia, number, pin="000001") == 403 and withdraw(pia, number, reason=" ") == 422
    assert withdraw(pia, number) == 303 and acts(site).count("withdrawn") == 1


def test_nothing_of_a_request_is_left_on_its_thread(site: Site) -> None:
    """The next request of this thread, or the publisher, must not mark a claim that is not its own."""
    pia = site.client("pia")
    for name in ("a", "b"):
        pia.post(
            "/submit",
            {"program": "O42", "target": "L1", "reason": "r", "program_file": file_of(BASE), "once": name * 22},
        )
        assert answers._RUNNING.get() is None
