"""More that the service must refuse: the same once again, acts without their proofs, and too much of anything."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from forms import Form
from hands import Answer, Hands, Screen
from refusals import check, decision, refused, sent_away, standing
from service_shop import PASSWORD, PIN

from verifier import records

# -- the same again


@check
def a_session_after_it_was_signed_out(h: Hands) -> None:
    screen = h.screen("pia")
    kept = screen.cookie()
    assert len(kept) > 30
    form = screen.form("/account", "sign-out")
    assert screen.send(form).status == 303
    thief = h.screen()
    thief.set_cookie(kept)
    sent_away(thief.get("/account"))
    size = h.size()
    thief.browser.token = str(form.fields["form_token"][0])
    file = {"program_file": ("o.nc", h.text("O78"))}
    sent_away(thief.post("/submit", {"program": "O78", "target": "L1", "reason": "r"}, file))
    assert h.size() == size


@check
def a_session_from_before_signing_in_again_or_another_password(h: Hands) -> None:
    login = h.person("programmer")
    screen, elsewhere = h.screen(login), h.screen(login)
    before = screen.cookie()
    assert screen.get("/sign-in").location == "/", "signed in already"
    new = "another long password"
    h.secrets.add(new)
    form = screen.form("/account", "account")
    done = screen.send(form, password=PASSWORD, new_password=new, new_password_again=new, new_pin="", new_pin_again="")
    assert done.status == 303, done.refused
    assert screen.cookie() != before
    h.secrets.add(screen.cookie())
    sent_away(elsewhere.get("/account"))
    thief = h.screen()
    thief.set_cookie(before)
    sent_away(thief.get("/account"))
    refused(h.sign_in(h.screen(), login), 403)


@check
def a_name_of_a_session_that_somebody_else_chose(h: Hands) -> None:
    """Session fixation: a name put into a browser beforehand is not the one that is signed in."""
    victim, chosen = h.screen(), "A" * 43
    victim.set_cookie(chosen)
    victim.get("/sign-in")
    given = {"login": "pia", "password": PASSWORD}
    assert victim.post("/sign-in", given).status == 303
    thief = h.screen()
    thief.set_cookie(chosen)
    sent_away(thief.get("/account"))


@check
def every_form_that_is_sent_twice(h: Hands) -> None:
    """One act in the ledger, and the second sender is led to what the first one brought about."""
    name = h.name()
    pia, leo, otto = h.screen("pia"), h.screen("leo"), h.screen("otto")

    def twice(screen: Screen, form: Form, act: str, files: Any = None, **more: Any) -> Answer:
        before = h.size()
        first, second = screen.send(form, files, **more), screen.send(form, files, **more)
        assert first.status == 303, first.refused
        assert (second.status, second.location) == (303, first.location), (act, second.status, second.refused)
        assert "sent before" in screen.get(second.location).text
        told = [e.act for e in records.whole_history(h.shop, before) if e.act not in _FLOOR]
        assert told == [act], told
        return first

    file = {"program_file": ("o.nc", h.text(name))}
    page = twice(pia, pia.form("/submit", "submit"), "submitted", file, program=name, target="L1").location
    form = leo.form(page, "decide")
    form.tick_all("seen_critical")
    twice(leo, form, "approved", verdict="approve")
    twice(pia, pia.form(page, "release"), "released")
    h.until(lambda: all(r.at_machine for r in h.at("L1") if r.program == name))
    at = f"/at/L1/{name}"
    sent = {"sent": ("o.nc", h.text(name))}
    shown = otto.get(twice(otto, otto.form(at, "readback"), "read back", sent).location)
    twice(otto, shown.form("confirm", "readback"), "confirmed")
    twice(leo, leo.form(at, "write-again"), "ordered again")
    h.released(h.text(name, "X48.", "X47.6"), name)
    twice(otto, otto.form(at, "go-back"), "went back")
    twice(leo, leo.form(page, "recall"), "recalled")
    r = h.held(h.text(name, "X48.", "X47.4"), name)
    h.released(h.text(name, "X48.", "X47.2"), name)
    twice(leo, leo.form(f"/revisions/{r.id}", "check-again"), "checked again")
    twice(pia, pia.form(f"/revisions/{r.id}", "withdraw"), "withdrawn")
    _twice_for_leads(h, twice)
    _twice_for_administrators(h, twice)


_FLOOR = ("written to machine", "taken from machine", "not written")


def _twice_for_leads(h: Hands, twice: Callable[..., Answer]) -> None:
    stood, leo = standing(h), h.screen("leo")
    twice(leo, leo.form(f"/revisions/{stood.id}", "accept"), "hazard accepted", reason="looked at")
    twice(leo, leo.form(f"/programs/L1/{stood.program}", "withdraw"), "acceptance withdrawn", reason="cut short")


def _twice_for_administrators(h: Hands, twice: Callable[..., Answer]) -> None:
    ada, login = h.screen("ada"), h.person("programmer")
    person = f"/people/{records.find_person(h.shop, login).id}"
    forms = [f for f in ada.get(person).forms if f.fields.get("what") == ["roles"]]
    forms[0].action = person
    twice(ada, forms[0], "person changed", role=["programmer", "operator"])
    form = ada.form("/people", "people")
    h.made += 1
    given = {"login": f"n{h.made}", "full_name": f"New {h.made}", "role": ["operator"]}
    first, second = ada.send(form, **given), ada.send(form, **given)
    assert first.status == 200 and second.status == 409, "a code is shown once"
    assert "carried out once" in second.text and [p.login for p in records.people(h.shop)].count(given["login"]) == 1


@check
def a_form_sent_again_with_other_content(h: Hands) -> None:
    """That is another act: it is not swallowed as a repetition."""
    name, pia = h.name(), h.screen("pia")
    form = pia.form("/submit", "submit")
    for n, new in enumerate(("X48.", "X47.6"), 1):
        file = {"program_file": ("o.nc", h.text(name, "X48.", new))}
        assert pia.send(form, file, program=name, target="L1").status == 303
        assert h.newest(name).n == n
    refused(pia.send(form, file, program=name, target="L1", reason=" "), 422)


# -- proofs


@check
def acts_without_the_right_pin(h: Hands) -> None:
    held, cleared, out = h.held(), h.cleared(), h.released()
    login = h.person("lead", "programmer", "operator", "administrator")
    mine = h.held(by=login)
    stood = standing(h)
    screen = h.screen(login)
    shown = h.readback(screen, "L1", out.program, h.text(out.program))
    forms = [
        decision(h, screen, held),
        screen.form(f"/revisions/{cleared.id}", "release"),
        screen.form(f"/revisions/{out.id}", "recall"),
        screen.form(f"/revisions/{mine.id}", "withdraw"),
        screen.form(f"/revisions/{held.id}", "check-again"),
        screen.form(f"/revisions/{stood.id}", "accept"),
        screen.form(f"/programs/L1/{stood.program}", "withdraw"),
        shown.form("confirm", "readback"),
        screen.form(f"/at/L1/{out.program}", "write-again"),
        screen.form("/people", "people"),
        screen.form("/machine-files", "machine-files"),
        screen.form("/policy", "policy"),
    ]
    files = {"profile": ("p.toml", b"kind = 'lathe'\n"), "policy": ("p.toml", b"name = 'p'\n")}
    size, wrong = h.size(), 0
    for form in forms:
        for pin in ("", PIN[::-1]):
            if pin and wrong == 4:
                h.sign_pin(login)
                wrong = 0
            wrong += bool(pin)
            which = {name: files[name] for name in ("profile", "policy") if form.action.endswith(_UPLOADS[name])}
            answer = screen.send(form, which or None, pin=pin, role=["lead"])
            refused(answer, 403, "PIN")
    assert h.size() == size and [h.state(r) for r in (held, cleared, out, mine)] == [
        "held",
        "cleared",
        "released",
        "held",
    ]
    assert [r.confirmed for r in h.at("L1") if r.program == out.program] == [None]


_UPLOADS = {"profile": "/machine-files", "policy": "/policy"}


@check
def the_sixth_wrong_pin(h: Hands) -> None:
    r, login = h.held(), h.person("lead")
    answers = [h.decide(h.screen(login), r, pin="999998").status for _ in range(5)]
    right = h.decide(h.screen(login), r)
    assert answers == [403] * 5 and right.status == 429 and int(right.headers["retry-after"]) > 60
    assert h.state(r) == "held"
    assert h.decide(h.screen("leo"), r).status == 303, "nobody else is locked out by it"


@check
def the_sixth_wrong_password(h: Hands) -> None:
    login = h.person("lead")
    answers = [h.sign_in(h.screen(), login, f"not this one {k}").status for k in range(5)]
    right = h.sign_in(h.screen(), login)
    assert answers == [403] * 5 and right.status == 429 and int(right.headers["retry-after"]) > 60
    assert h.sign_in(h.screen(), "leo").status == 303


@check
def a_critical_finding_that_nobody_ticked(h: Hands) -> None:
    r = h.released()
    bad = h.held(h.text(r.program, "N40 G50 S1800\n", ""), r.program)
    assert bad.has_critical
    leo = h.screen("leo")
    form = leo.form(f"/revisions/{bad.id}", "decide")
    for verdict in ("approve", "prove-out"):
        refused(leo.send(form, verdict=verdict, machine="L1", days="1"), 422, "not ticked")
    assert h.state(bad) == "held"


@check
def a_readback_of_another_machine_or_program(h: Hands) -> None:
    both, single = h.released(target="PAIR"), h.released()
    otto = h.screen("otto")
    at_two = h.readback(otto, "L2", both.program, h.text(both.program)).form("confirm", "readback")
    other = h.readback(otto, "L1", single.program, h.text(single.program)).form("confirm", "readback")
    three = f"/at/L3/{both.program}/confirm"
    given = {"revision": str(both.id), "pin": PIN}
    refused(otto.post(three, {**given, "readback": at_two.fields["readback"][0]}), 409, "of another program")
    refused(otto.post(three, {**given, "readback": other.fields["readback"][0]}), 409, "of another program")
    assert [r.confirmed for r in h.at("PAIR") if r.program == both.program] == [None, None]
    assert otto.send(at_two).status == 303
    confirmed = {r.machine: r.confirmed for r in h.at("PAIR") if r.program == both.program}
    assert confirmed == {"L2": "strong", "L3": None}


@check
def a_readback_that_differs_or_was_used(h: Hands) -> None:
    r = h.released()
    otto = h.screen("otto")
    back = h.readback(otto, "L1", r.program, h.text(r.program, "F0.25", "F0.4"))
    assert "is not the release" in back.text and "Word for word" not in back.text
    number = max(b.id for b in records.drifted(h.shop) if b.program == r.program)
    given = {"revision": str(r.id), "pin": PIN, "readback": str(number)}
    refused(otto.post(f"/at/L1/{r.program}/confirm", given), 409, "is not the release")
    form = h.readback(otto, "L1", r.program, h.text(r.program)).form("confirm", "readback")
    assert otto.send(form).status == 303
    refused(otto.send(form, once=""), 409, "has confirmed something already")
    assert h.acts(r.program).count("confirmed") == 1


# -- too much


@check
def more_than_the_service_takes(h: Hands) -> None:
    pia, size = h.screen("pia"), h.size()
    form = pia.form("/submit", "submit")
    whole = pia.send(form, {"program_file": ("o.nc", b"(" + b"A" * (10 << 20) + b")")}, program="O79", target="L1")
    refused(whole, 413)
    file = {"program_file": ("o.nc", b"(" + b"A" * (8 << 20) + b")")}
    refused(pia.send(form, file, program="O79", target="L1"), 413, "larger than 8 MiB")
    line = {"program_file": ("o.nc", b"%\nO79\n(" + b"A" * 70_000 + b")\nM30\n%\n")}
    refused(pia.send(form, line, program="O79", target="L1"), 422, "nothing was stored")
    for junk in (b"PK\x03\x04" + bytes(100), b"\x7fELF" + bytes(60), "%\nO79\nM30\n%".encode("utf-16"), b"%\n%\n"):
        refused(pia.send(form, {"program_file": ("o.nc", junk)}, program="O79", target="L1"), 422)
    parts = {"unknown": ("x", b"x")}  # sent in parts, as the page's form is
    refused(pia.send(form, parts, program="O79", target="L1", text="N" * 600_000), 413)
    refused(pia.send(form, program="O79", target="L1", reason="r" * 2001, text="M30"), 422)
    refused(pia.post("/submit", {f"field{k}": "x" for k in range(1200)}, parts), 413)
    assert h.size() == size and h.screen("pia").get("/").status == 200
