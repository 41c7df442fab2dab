"""What the service must refuse, as checks on a shop with its people: run against the real server, and against planted faults.

Each check uses programs, and where it spoils them people, of its own; it says what was tried, what was answered, and that
nothing was done.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from forms import Form
from hands import Answer, Hands, Screen
from service_shop import PIN
from standing_walk import TWO

from verifier import records

Check = Callable[[Hands], None]
CHECKS: dict[str, Check] = {}


def check(made: Check) -> Check:
    """Put a check on the list."""
    CHECKS[made.__name__] = made
    return made


def refused(answer: Answer, status: int, words: str = "") -> None:
    assert answer.status == status, (answer.status, answer.location, answer.refused)
    assert words in answer.text, answer.refused


def sent_away(answer: Answer) -> None:
    """Nobody is signed in any more: sent to the sign-in, with nothing done."""
    assert answer.status == 303 and answer.location.startswith("/sign-in"), (answer.status, answer.location)


def decision(h: Hands, screen: Screen, revision: records.RevisionFacts) -> Form:
    form = screen.form(f"/revisions/{revision.id}", "decide")
    form.tick_all("seen_critical")
    form.fields["verdict"] = ["approve"]
    return form


def standing(h: Hands) -> records.RevisionFacts:
    """A held revision with two hazards that stood before: the first is accepted, the second may be."""
    name, leo = h.name(), h.screen("leo")
    body = TWO.replace("O0042", name).replace("T0101", "T0102")
    h.released(body.encode(), name)
    found = h.held(body.replace("Z-10.", "Z-10.2").encode(), name)
    assert leo.act(f"/revisions/{found.id}", "accept", reason="looked at").status == 303
    return found


def by_hand(h: Hands, screen: Screen, r: records.RevisionFacts, act: str, **more: Any) -> Answer:
    """A form that no page offered, with everything right that can be known."""
    screen.get("/account")
    given = {"reason": "by hand", "pin": PIN, "verdict": "approve", "seen": r.report_digest or "", **more}
    return screen.post(f"/revisions/{r.id}/{act}", given)


# -- what was looked at


@check
def a_page_whose_report_was_replaced(h: Hands) -> None:
    r = h.held()
    leo = h.screen("leo")
    form = decision(h, leo, r)
    sheet = b"name = 'given-later'\nunits = 'mm'\n"
    body = records.body(h.shop, r.sha)
    file = {"program_file": ("o.nc", body), "setup": ("sheet.toml", sheet)}
    again = h.screen("pia").act("/submit", "submit", file, program=r.program, target="L1")
    assert again.status == 303, again.text
    assert records.revision(h.shop, r.id).report_digest != r.report_digest, "the sheet is part of the report"
    size = h.size()
    refused(leo.send(form), 409, "is not the present one")
    assert h.state(r) == "held" and h.size() == size


@check
def a_hazard_of_a_report_that_was_replaced(h: Hands) -> None:
    """It is accepted as it was read, or not at all; and an acceptance is withdrawn where it was given."""
    name, leo = h.name(), h.screen("leo")
    body = TWO.replace("O0042", name)
    h.released(body.encode(), name)
    found = h.held(body.replace("Z-10.", "Z-10.2").encode(), name)
    form = leo.form(f"/revisions/{found.id}", "accept")
    file = {
        "program_file": ("o.nc", records.body(h.shop, found.sha)),
        "setup": ("s.toml", b"name = 'later'\nunits = 'mm'\n"),
    }
    assert h.screen("pia").act("/submit", "submit", file, program=name, target="L1").status == 303
    size = h.size()
    refused(leo.send(form, reason="looked at"), 409, "is not the present one")
    assert h.size() == size and records.acceptances(h.shop, name, "L1") == ()
    assert leo.act(f"/revisions/{found.id}", "accept", reason="looked at").status == 303
    (given,) = records.acceptances(h.shop, name, "L1")
    other = h.released()
    refused(leo.post(f"/programs/L1/{other.program}/acceptances/{given.id}/withdraw", {"pin": PIN, "reason": "r"}), 404)
    assert records.acceptances(h.shop, name, "L1") == (given,)


@check
def a_page_whose_base_was_replaced(h: Hands) -> None:
    first = h.released()
    second = h.held(h.text(first.program, "X48.", "X47.6"), first.program)
    third = h.held(h.text(first.program, "X48.", "X47.2"), first.program)
    leo = h.screen("leo")
    form = decision(h, leo, third)
    assert h.decide(h.screen("lena"), second).status == 303
    assert h.screen("pia").act(f"/revisions/{second.id}", "release").status == 303
    refused(leo.send(form), 409, "nother revision has been released")
    assert h.state(third) == "held"


@check
def a_release_whose_base_was_replaced(h: Hands) -> None:
    """What it was cleared on no longer holds: it is held again, on a report against what stands there now."""
    first = h.released()
    second = h.cleared(h.text(first.program, "X48.", "X47.6"), first.program)
    third = h.cleared(h.text(first.program, "X48.", "X47.2"), first.program)
    pia = h.screen("pia")
    form = pia.form(f"/revisions/{third.id}", "release")
    assert pia.act(f"/revisions/{second.id}", "release").status == 303
    refused(pia.send(form), 409, "held again, because this changed since it was cleared: base")
    again = records.revision(h.shop, third.id)
    assert again.state == "held" and again.base_shas == (second.sha,)
    assert h.decide(h.screen("leo"), again).status == 303 and h.state(third) == "cleared"


@check
def a_waiting_revision_that_was_checked_again(h: Hands) -> None:
    """Whoever read the page before signs nothing by it; it stays its author's, and a lead who had it checked may sign."""
    first = h.released()
    third = h.held(h.text(first.program, "X48.", "X47.2"), first.program)
    leo, lena, pia = h.screen("leo"), h.screen("lena"), h.screen("pia")
    assert "out of date" not in pia.get(f"/revisions/{third.id}").text
    refused(lena.act(f"/revisions/{third.id}", "check-again"), 409, "it is the present one")
    second = h.released(h.text(first.program, "X48.", "X47.6"), first.program)
    form = decision(h, leo, third)
    for screen in (pia, leo):
        assert (
            "out of date:</strong> since it was made, this changed: base" in screen.get(f"/revisions/{third.id}").text
        )
    assert lena.act(f"/revisions/{third.id}", "check-again").status == 303
    now = records.revision(h.shop, third.id)
    assert (now.state, now.authors, now.base_shas) == ("held", ("pia",), (second.sha,))
    last = records.history(h.shop, first.program, "L1")[-1]
    assert (last.act, last.person) == ("checked again", records.find_person(h.shop, "lena").full_name)
    refused(leo.send(form), 409, "is not the present one")
    refused(leo.act(f"/revisions/{third.id}", "check-again"), 409, "it is the present one")
    refused(by_hand(h, pia, now, "withdraw", pin=PIN[::-1]), 403, "PIN")
    shown = lena.get(f"/revisions/{third.id}").text
    assert (
        "out of date" not in shown and "Checked again" in shown and "checked again, because this changed: base" in shown
    )
    assert h.decide(lena, now).status == 303 and h.state(third) == "cleared"
    refused(by_hand(h, leo, now, "check-again"), 409, "is cleared and waits for no decision")


@check
def a_page_at_the_machine_that_is_out_of_date(h: Hands) -> None:
    first = h.released()
    otto = h.screen("otto")
    shown = h.readback(otto, "L1", first.program, h.text(first.program))
    form = shown.form("confirm", "readback")
    h.released(h.text(first.program, "X48.", "X47.6"), first.program)
    refused(otto.send(form), 409, "should not run that revision now")
    assert [r.confirmed for r in h.at("L1") if r.program == first.program] == [None]


@check
def a_decision_that_was_made_already(h: Hands) -> None:
    r = h.held()
    leo, lena = h.screen("leo"), h.screen("lena")
    forms = decision(h, leo, r), decision(h, lena, r)
    assert leo.send(forms[0]).status == 303
    refused(lena.send(forms[1], verdict="turn back"), 409, "has been decided on")
    assert h.state(r) == "cleared" and h.acts(r.program).count("approved") == 1


# -- who


@check
def a_lead_on_a_revision_of_their_own(h: Hands) -> None:
    lena = h.screen("lena")
    r = h.held(by="lena")
    assert "another lead has to decide" in lena.get(f"/revisions/{r.id}").text
    for verdict in ("approve", "turn back", "prove-out"):
        refused(by_hand(h, lena, r, "decide", verdict=verdict, machine="L1", days="1"), 403, "their own revision")
    assert h.state(r) == "held"


@check
def a_lead_who_handed_the_same_bytes_in_again(h: Hands) -> None:
    r = h.held()
    h.held(records.body(h.shop, r.sha), r.program, by="lena")
    again = records.revision(h.shop, r.id)
    assert set(again.authors) == {"pia", "lena"}
    refused(by_hand(h, h.screen("lena"), again, "decide"), 403, "their own revision")
    assert h.state(r) == "held"


@check
def people_without_the_role(h: Hands) -> None:
    held, cleared, out = h.held(), h.cleared(), h.released()
    for login, acts in (
        ("pia", ("decide", "recall")),
        ("otto", ("decide", "release", "recall", "withdraw", "check-again")),
        ("ada", ("decide", "release", "recall", "withdraw", "check-again")),
        ("leo", ("withdraw",)),
    ):
        screen = h.screen(login)
        for act in acts:
            r = {"release": cleared, "recall": out}.get(act, held)
            refused(by_hand(h, screen, r, act), 403)
    assert [h.state(r) for r in (held, cleared, out)] == ["held", "cleared", "released"]
    for login in ("pia", "leo", "ada"):
        answer = h.screen(login)
        answer.get("/account")
        given = {"revision": str(out.id), "pin": PIN, "code": out.check_code, "stopped": "yes"}
        refused(answer.post(f"/at/L1/{out.program}/confirm", given), 403)
        refused(answer.post(f"/at/L1/{out.program}/take-over", given), 403)
    for login in ("otto", "pia", "ada"):
        screen = h.screen(login)
        screen.get("/account")
        given = {"revision": str(out.id), "pin": PIN, "reason": "r"}
        refused(screen.post(f"/at/L1/{out.program}/write-again", given), 403)
        if login != "otto":
            refused(screen.post(f"/at/L1/{out.program}/go-back", given), 403)


@check
def pages_of_administrators_and_leads(h: Hands) -> None:
    size = h.size()
    for login in ("pia", "leo", "otto"):
        screen = h.screen(login)
        for url in ("/people", "/people/1", "/machine-files", "/machine-files/L1"):
            refused(screen.get(url), 403)
            refused(
                screen.post(url, {"login": "new", "full_name": "N", "role": "lead", "pin": PIN, "reason": "r"}), 403
            )
        if login != "leo":
            refused(screen.post("/policy", {"pin": PIN, "reason": "r"}, {"policy": ("p", b"name = 'p'")}), 403)
            refused(screen.get("/decide"), 403)
        if login == "otto":
            refused(screen.get("/submit"), 403)
            file = {"program_file": ("o.nc", h.text("O77"))}
            refused(screen.post("/submit", {"program": "O77", "target": "L1", "reason": "r"}, file), 403)
    refused(h.screen("ada").post("/policy", {"pin": PIN, "reason": "r"}, {"policy": ("p", b"name = 'p'")}), 403)
    assert h.size() == size


@check
def a_change_that_is_none(h: Hands) -> None:
    """A form without its choice changes nothing: nobody leaves the shop by it."""
    ada, otto = h.screen("ada"), records.find_person(h.shop, "otto")
    size = h.size()
    for url in (f"/people/{otto.id}", "/machine-files/L1"):
        for what in ("", "left", "LEAVE", "role"):
            refused(ada.post(url, {"what": what, "reason": "r", "pin": PIN}), 422, "hoose what is to be changed")
    assert h.size() == size and records.find_person(h.shop, "otto").active


@check
def a_programmer_on_somebody_elses_revision(h: Hands) -> None:
    r = h.cleared()
    other = h.screen(h.person("programmer"))
    refused(by_hand(h, other, r, "release"), 403, "its author or a lead")
    refused(by_hand(h, other, r, "withdraw"), 403, "nly its author")
    assert h.state(r) == "cleared" and not h.file(r.program).exists()


@check
def a_role_that_was_lost_while_the_page_was_open(h: Hands) -> None:
    r, login = h.held(), h.person("lead")
    screen = h.screen(login)
    form = decision(h, screen, r)
    ada = h.screen("ada")
    page = f"/people/{records.find_person(h.shop, login).id}"
    given = {"what": "roles", "role": ["programmer"], "reason": "moved to the office", "pin": PIN}
    ada.get(page)
    assert ada.post(page, given).status == 303
    sent_away(screen.send(form))
    assert h.state(r) == "held"
    assert h.sign_in(screen, login).status == 303
    refused(screen.send(form), 403)
    refused(by_hand(h, screen, r, "decide"), 403)
    assert h.state(r) == "held"


@check
def a_person_who_left_while_the_page_was_open(h: Hands) -> None:
    r, login = h.held(), h.person("lead")
    screen = h.screen(login)
    form = decision(h, screen, r)
    secret = f"token-of-{login}-who-leaves"
    h.secrets.add(secret)
    records.make_token(h.shop, records.find_person(h.shop, login).id, "check", secret, ("read",), 5)
    call = {"Authorization": f"Bearer {secret}"}
    assert h.screen().get("/api/v1/me", call).status == 200
    ada, page = h.screen("ada"), f"/people/{records.find_person(h.shop, login).id}"
    ada.get(page)
    assert ada.post(page, {"what": "leave", "reason": "left the shop", "pin": PIN}).status == 303
    sent_away(screen.send(form))
    sent_away(screen.get("/account"))
    refused(h.sign_in(h.screen(), login), 403, "login or the password is not right")
    assert h.screen().get("/api/v1/me", call).status == 401
    assert h.state(r) == "held"
