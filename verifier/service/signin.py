"""Pages of entry: signing in and out, the first administrator, the first password by code, one's own password and PIN."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.service import cookies
from verifier.service.context import act_guard, current, needs, page, service, shop, signed
from verifier.service.entering import Entry, check_code, enter, open_here, redeem, set_own
from verifier.service.first import first_needed, make_first, start_facts
from verifier.service.logs import event
from verifier.source import ActRefused

signin = Blueprint("signin", __name__)


def back_to(wanted: str | None) -> str:
    """Where to go after signing in: a path of this service and nothing else."""
    good = wanted and wanted.startswith("/") and not wanted.startswith(("//", "/\\")) and "\\" not in wanted
    if good and wanted and wanted.isprintable() and len(wanted) <= 500 and not wanted.startswith("/sign-"):
        return wanted
    return url_for("home.home")


@signin.get("/sign-in")
def form() -> Response:
    """Show the sign-in form; where nobody can sign in yet, the form for the first administrator."""
    if first_needed(service()):
        return redirect(url_for("signin.first"), 303)
    if signed() is not None:
        return redirect(back_to(request.args.get("next")), 303)
    return page("sign-in.html", login="", wanted=request.args.get("next", ""), refused=None)


@signin.post("/sign-in")
def sign_in() -> Response:
    """Sign in by login and password."""
    login, wanted = request.form.get("login", ""), request.form.get("next", "")
    with act_guard() as outcome:
        entry = Entry(login.strip().lower(), request.form.get("password", ""))
        person = enter(service(), entry)
    if outcome.refused:
        event("sign-in refused", code=outcome.refused.code)
        return page("sign-in.html", outcome.status, login=login[:80], wanted=wanted, refused=outcome.refused)
    cookies.begin(person.id)
    event("signed in", login=person.login)
    return redirect(back_to(wanted), 303)


@signin.post("/sign-out")
def sign_out() -> Response:
    """Sign out; the session counts nowhere any more."""
    event("signed out")
    cookies.leave()
    return redirect(url_for("signin.form"), 303)


@signin.get("/first")
def first() -> Response:
    """Show the form for the first administrator, for whoever holds the code that the server printed."""
    _only_first()
    return page("first.html", refused=None, given={}, **start_facts(service()))


@signin.post("/first")
def make() -> Response:
    """Make the shop if there is none, and give its first administrator a password and a PIN."""
    _only_first()
    given = {name: request.form.get(name, "") for name in ("shop_name", "login", "full_name")}
    with act_guard() as outcome:
        check_code(service(), request.form.get("code", ""))
        _twice("password", "pin")
        person = make_first(
            service(), **given, password=request.form.get("password", ""), pin=request.form.get("pin", "")
        )
    if outcome.refused:
        event("first administrator refused", code=outcome.refused.code)
        return page("first.html", outcome.status, refused=outcome.refused, given=given, **start_facts(service()))
    cookies.begin(person.id)
    event("first administrator", login=person.login)
    flash("The shop is open. Add machines and people next.")
    return redirect(url_for("home.home"), 303)


def _only_first() -> None:
    if not first_needed(service()):
        raise ActRefused("not_first", "an administrator can sign in already", "ask them for a one-time code")


def _twice(*names: str) -> None:
    """Refuse a new secret whose two entries differ: nobody could see the slip."""
    for name in names:
        if request.form.get(name, "") != request.form.get(f"{name}_again", ""):
            what = "PIN" if name.endswith("pin") else "password"
            raise ActRefused("bad_form", f"the two entries of the {what} differ")


@signin.get("/welcome")
def welcome() -> Response:
    """Show the form for a one-time code."""
    return page("welcome.html", refused=None, login="")


@signin.post("/welcome")
def set_first() -> Response:
    """Set one's own password and PIN by a one-time code; then sign in with them."""
    login = request.form.get("login", "").strip().lower()
    with act_guard() as outcome:
        _twice("password", "pin")
        entry = Entry(login, request.form.get("password", ""))
        redeem(service(), entry, request.form.get("code", ""), request.form.get("pin", ""))
    if outcome.refused:
        event("code refused", code=outcome.refused.code)
        return page("welcome.html", outcome.status, refused=outcome.refused, login=login[:80])
    flash("Your password and PIN are set. Sign in with them.")
    return redirect(url_for("signin.form"), 303)


@signin.get("/account")
@needs()
def account() -> Response:
    """Show what the shop knows of oneself, and the forms for another password or PIN."""
    return page("account.html", refused=None)


@signin.post("/account")
@needs()
def change() -> Response:
    """Set another password or PIN, with the present password; another password ends all other sessions."""
    who = current().person
    with act_guard() as outcome:
        if current().terminal:
            raise ActRefused(
                "wrong_role", "this is not done at a machine's screen", "sign in with your password elsewhere"
            )
        _twice("new_password", "new_pin")
        new = {"password": request.form.get("new_password", ""), "pin": request.form.get("new_pin", "")}
        set_own(service(), who, request.form.get("password", ""), **new)
    if outcome.refused:
        return page("account.html", outcome.status, refused=outcome.refused)
    if new["password"]:
        records.end_sessions_of(shop(), who.id)
        cookies.begin(who.id)
    flash("Changed. Sessions elsewhere have ended." if new["password"] else "Your PIN is changed.")
    return redirect(url_for("signin.account"), 303)


@signin.get("/here")
def here() -> Response:
    """Show the short sign-in of a machine's screen: login and PIN."""
    _terminal()
    return page("here.html", refused=None, login="", machine=_terminal().machine)


@signin.post("/here")
def open_screen() -> Response:
    """Open a machine's screen for one operator for a short while."""
    terminal = _terminal()
    login = request.form.get("login", "").strip().lower()
    with act_guard() as outcome:
        person = open_here(service(), terminal, login, request.form.get("pin", ""))
    if outcome.refused:
        event("screen refused", code=outcome.refused.code, machine=terminal.machine)
        return page("here.html", outcome.status, refused=outcome.refused, login=login[:80], machine=terminal.machine)
    cookies.begin(person.id, terminal=terminal.id)
    return redirect(url_for("home.home"), 303)


def _terminal() -> records.TerminalFacts:
    name = cookies.terminal_name()
    found = records.find_terminal(shop(), name) if name else None
    if found is None:
        raise ActRefused("unknown_terminal", "this browser is not a machine's screen", "an administrator makes it one")
    return found
