"""The publisher: files reach machines outside requests, one process looks for all, and no trouble ends it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

from service_shop import PIN, Ids, Site

from verifier import records
from verifier.desk import Desk
from verifier.service.publishing import Publisher
from verifier.source import StoreError

BODY = b"%\nO1001\nN10 G21 G18 G40 G80 G99\nN20 G00 X100. Z50.\nN30 M30\n%\n"


def cleared(site: Site, desk: Desk) -> records.RevisionFacts:
    done = desk.submit("pia", "O1001", "L1", BODY, "first")
    return desk.decide("leo", PIN, done.revision, "approve", "looked", done.revision.report_digest)


def publisher(site: Site, open_shop: Callable[[], records.Shop] | None = None) -> Publisher:
    opened = open_shop or (lambda: records.open_shop(site.folder, site.clock))
    return Publisher(opened, Ids(5000), publish_s=0.02, watch_s=60)


def test_a_release_waits_for_its_file_which_another_thread_writes(site: Site) -> None:
    found = publisher(site)
    desk = Desk(site.shop, site.ids, publish=lambda: found.publish(site.shop))
    revision = cleared(site, Desk(site.shop, site.ids))
    found.start()
    try:
        done = desk.release("pia", revision, "go")
        assert [job.state for job in done.jobs] == ["done"]
        assert (site.folder / "floor" / "L1" / "O1001.NC").read_bytes() == BODY
    finally:
        found.stop()


def test_a_request_is_not_held_up_by_a_folder_that_hangs(site: Site, monkeypatch: object) -> None:
    import verifier.service.publishing as module

    folder_answers = threading.Event()

    def slow() -> records.Shop:
        folder_answers.wait(30)
        return records.open_shop(site.folder, site.clock)

    found = publisher(site, slow)
    kept, module.WAIT_S = module.WAIT_S, 0.1
    found.start()
    try:
        assert found.publish(site.shop) == ()
        assert not folder_answers.is_set()
    finally:
        folder_answers.set()
        module.WAIT_S = kept
        found.stop()


def test_no_trouble_ends_the_publisher(site: Site) -> None:
    calls: list[int] = []

    def failing() -> records.Shop:
        calls.append(1)
        if len(calls) == 1:
            raise StoreError("not yet")
        if len(calls) == 2:
            raise RuntimeError("a mistake")
        return records.open_shop(site.folder, site.clock)

    found = publisher(site, failing)
    found.start()
    try:
        ends = time.monotonic() + 10
        while records.last_look(site.shop) is None and time.monotonic() < ends:
            time.sleep(0.02)
        assert records.last_look(site.shop) is not None and len(calls) >= 3
    finally:
        found.stop()


def test_one_looks_for_all_and_what_it_finds_is_seen_by_everybody(site: Site) -> None:
    desk = Desk(site.shop, site.ids)
    desk.release("pia", cleared(site, desk), "go")
    (site.folder / "floor" / "L1" / "O1001.NC").write_bytes(b"edited")
    first, second = publisher(site), publisher(site)
    first.once()
    look = records.last_look(site.shop)
    assert look is not None and [(one["machine"], one["kind"]) for one in look.found] == [("L1", "edited")]
    second.once()
    again = records.last_look(site.shop)
    assert again is not None and again.at_us == look.at_us
    assert "Edited" in site.client("leo").get("/").text
    site.clock.add(61)
    second.once()
    later = records.last_look(site.shop)
    assert later is not None and later.at_us > look.at_us


def test_a_look_that_was_never_finished_is_taken_up_by_another(site: Site) -> None:
    assert records.claim_look(site.shop, 60)
    assert not records.claim_look(site.shop, 60)
    assert records.last_look(site.shop) is None
    site.clock.add(61)
    assert records.claim_look(site.shop, 60)


def test_the_first_page_warns_of_an_old_look(site: Site, place: Path) -> None:
    assert records.claim_look(site.shop, 60)
    records.keep_look(site.shop, [])
    assert "Every folder holds" in site.client("leo").get("/").text
    site.clock.add(600)
    assert "out of date" in site.client("leo").get("/").text


def test_a_trouble_that_stays_is_logged_once(site: Site) -> None:
    import io
    import json
    import logging

    from verifier.service.logs import log_to

    desk = Desk(site.shop, site.ids, publish=lambda: ())
    desk.release("pia", cleared(site, desk), "go")
    (site.folder / "floor" / "L1").rename(site.folder / "floor" / "away")
    stream = io.StringIO()
    log_to(stream)
    try:
        found = publisher(site)
        for _ in range(3):
            found.once()
        told = [json.loads(line) for line in stream.getvalue().splitlines()]
        assert [(one["event"], one["state"], one["trouble"]) for one in told] == [
            ("floor", "pending", "the machine's folder is not there")
        ]
        (site.folder / "floor" / "away").rename(site.folder / "floor" / "L1")
        found.once()
        assert json.loads(stream.getvalue().splitlines()[-1])["state"] == "done"
    finally:
        logging.getLogger("verifier.service").handlers[:] = []
