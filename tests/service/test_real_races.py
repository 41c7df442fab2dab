"""Several people at the same moment, in both workers of the real server: exactly one of them wins, and the others are told why."""

from __future__ import annotations

import json
import sys
import threading
from collections import Counter
from collections.abc import Callable
from functools import partial

import pytest
from hands import Answer, Hands
from refusals import decision
from service_shop import PIN

from verifier import records

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there the server is one process")

ROUNDS = 12


def at_once(*steps: Callable[[], Answer]) -> list[Answer]:
    """Take steps at the same moment, each on a thread of its own; gives the answers in the steps' order."""
    found: dict[int, Answer] = {}
    gate = threading.Barrier(len(steps))

    def take(k: int, step: Callable[[], Answer]) -> None:
        gate.wait(30)
        found[k] = step()

    threads = [threading.Thread(target=take, args=(k, step)) for k, step in enumerate(steps)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [found[k] for k in range(len(steps))]


def test_of_two_leads_at_the_same_moment_one_decides(real: Hands) -> None:
    leads, pia = [real.screen("leo"), real.screen("lena")], real.screen("pia")
    for _ in range(ROUNDS):
        name = real.name()
        assert real.submit(pia, name, real.text(name)).status == 303
        r = real.newest(name)
        one, two = (decision(real, screen, r) for screen in leads)
        answers = at_once(partial(leads[0].send, one), partial(leads[1].send, two, verdict="turn back"))
        statuses = [answer.status for answer in answers]
        assert sorted(statuses) == [303, 409], [(a.status, a.refused) for a in answers]
        lost = answers[statuses.index(409)]
        assert "has been decided on" in lost.refused, lost.refused
        won = ("approved", "turned back")[statuses.index(303)]
        assert real.acts(name) == ["submitted", won]
        assert real.state(r) == {"approved": "cleared", "turned back": "turned back"}[won]


def test_one_form_sent_by_two_connections_at_the_same_moment_acts_once(real: Hands) -> None:
    pia, leo = real.screen("pia"), real.screen("leo")
    for _ in range(ROUNDS // 4):
        name = real.name()
        file = {"program_file": ("o.nc", real.text(name))}
        form = pia.form("/submit", "submit")
        sent = at_once(*[partial(pia.send, form, file, program=name, target="L1")] * 3)
        assert {(a.status, a.location) for a in sent} == {(303, f"/revisions/{real.newest(name).id}")}
        form = decision(real, leo, real.newest(name))
        decided = at_once(*[partial(leo.send, form)] * 3)
        assert {(a.status, a.location) for a in decided} == {(303, f"/revisions/{real.newest(name).id}")}
        assert real.acts(name) == ["submitted", "approved"]


def test_of_two_who_release_at_the_same_moment_one_does(real: Hands) -> None:
    for _ in range(ROUNDS // 4):
        r = real.cleared()
        screens = real.screen("pia"), real.screen("leo")
        one, two = (screen.form(f"/revisions/{r.id}", "release") for screen in screens)
        answers = at_once(partial(screens[0].send, one), partial(screens[1].send, two))
        assert sorted(a.status for a in answers) == [303, 409], [(a.status, a.refused) for a in answers]
        assert real.acts(r.program).count("released") == 1
        real.until(real.file(r.program).exists)


def test_of_two_who_go_back_at_the_same_moment_one_does(real: Hands) -> None:
    first = real.released()
    otto, leo = real.screen("otto"), real.screen("leo")
    otto.send(real.readback(otto, "L1", first.program, real.text(first.program)).form("confirm", "readback"))
    real.released(real.text(first.program, "X48.", "X47.6"), first.program)
    page = f"/at/L1/{first.program}"
    one, two = otto.form(page, "go-back"), leo.form(page, "go-back")
    answers = at_once(partial(otto.send, one), partial(leo.send, two))
    assert sorted(a.status for a in answers) == [303, 409]
    assert real.acts(first.program).count("went back") == 1
    real.until(lambda: real.file(first.program).read_bytes() == real.text(first.program))


def test_a_decision_and_a_withdrawal_at_the_same_moment_leave_one_of_two_histories(real: Hands) -> None:
    leo, pia, met = real.screen("leo"), real.screen("pia"), Counter[str]()
    for _ in range(ROUNDS // 4):
        r = real.held()
        one, two = decision(real, leo, r), pia.form(f"/revisions/{r.id}", "withdraw")
        answers = at_once(partial(leo.send, one), partial(pia.send, two))
        told = " ".join(real.acts(r.program)[1:])
        met[told] += 1
        assert (told, answers[0].status, answers[1].status) in {
            ("approved withdrawn", 303, 303), ("withdrawn", 409, 303),
        }, (told, answers[0].refused, answers[1].refused)  # fmt: skip
        assert real.state(r) == "withdrawn"
    assert sum(met.values()) == ROUNDS // 4


def test_of_two_who_check_again_at_the_same_moment_one_does_and_no_decision_slips_between(real: Hands) -> None:
    leo, lena, pia = real.screen("leo"), real.screen("lena"), real.screen("pia")
    for _ in range(ROUNDS // 4):
        first = real.released()
        r = real.held(real.text(first.program, "X48.", "X47.2"), first.program)
        real.released(real.text(first.program, "X48.", "X47.6"), first.program)
        form = decision(real, leo, r)
        one, two = (screen.form(f"/revisions/{r.id}", "check-again") for screen in (lena, pia))
        answers = at_once(partial(lena.send, one), partial(pia.send, two), partial(leo.send, form))
        assert sorted(a.status for a in answers[:2]) == [303, 409], [(a.status, a.refused) for a in answers]
        assert answers[2].status == 409, "stale by its base, or by its digest"
        assert real.acts(r.program).count("checked again") == 1 and real.state(r) == "held"


def test_whoever_loses_the_role_at_that_moment_signs_nothing_afterwards(real: Hands) -> None:
    """The role is read inside the act: in the ledger no decision of theirs stands after the loss."""
    login = real.person("lead")
    person, by = records.find_person(real.shop, login), records.find_person(real.shop, "ada").id
    ada = real.screen("ada")
    for _ in range(ROUNDS // 4):
        records.change_person(real.shop, by, person.id, roles=["lead"], reason="back again")
        r, screen, before = real.held(), real.screen(login), real.size()
        form = decision(real, screen, r)
        ada.get(f"/people/{person.id}")
        given = {"what": "roles", "role": ["programmer"], "reason": "moved", "pin": PIN}
        answers = at_once(partial(screen.send, form), partial(ada.post, f"/people/{person.id}", given))
        assert answers[1].status == 303
        acts = [e.act for e in records.whole_history(real.shop, before) if e.act in ("approved", "person changed")]
        assert acts in (["approved", "person changed"], ["person changed"]), acts
        signed = answers[0].status == 303 and answers[0].location == f"/revisions/{r.id}"
        assert signed == (acts[0] == "approved"), (answers[0].status, answers[0].location, acts)
        assert real.state(r) == ("cleared" if signed else "held")


def test_twelve_wrong_pins_at_the_same_moment_are_five(real: Hands) -> None:
    r, login = real.held(), real.person("lead")
    screen = real.screen(login)
    form = decision(real, screen, r)
    answers = at_once(*[partial(screen.send, form, pin="999998", once="")] * 12)
    assert Counter(a.status for a in answers) == {403: 5, 429: 7}
    assert real.state(r) == "held"


def test_every_entry_of_all_that_is_signed_by_somebody_who_may(real: Hands) -> None:
    for entry in records.whole_history(real.shop, 0, 100_000):
        body = json.loads(entry.body)
        if entry.act in ("approved", "turned back", "let out for prove-out"):
            assert body["signed_by"] == entry.person and body["report"]
    real.settle()
