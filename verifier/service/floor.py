"""Pages at a machine: what it should run, whether the file is there, and the operator's confirmation."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.floor import READ_BACK
from verifier.records import ConfirmationFacts, ReadbackFacts, RevisionFacts
from verifier.service.context import act_guard, current, desk, needs, page, pin_from_form, shop
from verifier.service.logs import event
from verifier.service.reports import stands_on
from verifier.service.standing import Amiss, amiss, asked, differing, drifted_at, recall_notices, release_of
from verifier.service.submit import given_bytes, handed_in
from verifier.service.telling import moment
from verifier.source import ActRefused

floor_pages = Blueprint("floor", __name__, url_prefix="/at")

_TYPED = ("reason", "code", "word1", "word2", "readings")


@floor_pages.get("")
@needs()
def machines() -> Response:
    """Every machine, with how many of its releases are not there yet or not confirmed."""
    opened = shop()
    found, rows = _found(), []
    for machine in records.machines(opened):
        standing = records.at_machine(opened, machine.name)
        rows.append(
            {
                "machine": machine,
                "standing": len(standing),
                "not_there": sum(not r.at_machine for r in standing),
                "not_confirmed": sum(r.at_machine and r.confirmed is None for r in standing),
                "drift": sum(one.machine == machine.name for one in found),
            }
        )
    return page("machines.html", rows=rows)


@floor_pages.get("/<machine>")
@needs()
def one(machine: str) -> Response:
    """One machine: every program that it should hold, what drifted there, and what was recalled."""
    facts, look = records.machine(shop(), machine), records.last_look(shop())
    found = [one for one in _found() if one.machine == facts.name]
    return page(
        "machine.html",
        machine=facts,
        standing=records.at_machine(shop(), facts.name),
        notices=recall_notices(shop(), facts),
        look=look,
        found=found,
        amiss_files={one.program for one in found if one.kind != READ_BACK},
        amiss_backs={one.program for one in found if one.kind == READ_BACK},
        at_program=False,
    )


def _found() -> tuple[Amiss, ...]:
    return amiss(shop(), records.last_look(shop()))


@floor_pages.get("/<machine>/<program>")
@needs()
def program(machine: str, program: str) -> Response:
    """One program at one machine, for whoever stands there."""
    return _shown(machine, program, back=_read_back(machine, program))


def _read_back(machine: str, program: str) -> ReadbackFacts | None:
    """The read-back that the address names, where it is of what should run here now; another one says nothing here."""
    text = request.args.get("readback", "")
    if not (text.isascii() and text.isdecimal() and len(text) < 15):
        return None
    name, back = records.machine(shop(), machine).name, records.readback(shop(), int(text))
    release = release_of(shop(), name, program)
    return back if release is not None and (back.machine, back.revision) == (name, release.revision) else None


def _shown(
    machine: str, program: str, refused: object = None, status: int = 200, back: ReadbackFacts | None = None
) -> Response:
    """The page; after a refusal with what was typed, after a read-back with how it compares."""
    facts = records.machine(shop(), machine)
    release = release_of(shop(), facts.name, program)
    revision, reports = stands_on(shop(), release.revision) if release else (None, ())
    waits = bool(release and facts.takeover and not release.at_machine)
    proven = records.can_go_back_to(shop(), program, facts.name)
    name = release.program if release else records.revisions(shop(), program, facts.name)[0].program
    found = [one for one in _found() if one.machine == facts.name and one.program == name and one.kind != READ_BACK]
    return page(
        "at-machine.html",
        status,
        machine=facts,
        name=name,
        release=release,
        r=revision,
        reports=reports,
        watch=tuple(dict.fromkeys(line for one in reports for line in one.watch)),
        waits=waits,
        proven=proven,
        notices=[n for n in recall_notices(shop(), facts) if n.revision.program == name],
        back=back,
        differs=differing(shop(), facts.name, name),
        found=found,
        look=records.last_look(shop()),
        asked=asked(release, records.body(shop(), release.sha)) if release else (),
        here=_here(facts.name),
        refused=refused,
        given={key: request.form.get(key, "") for key in _TYPED},
    )


def _folded(program: str) -> str:
    return records.fold_program_name(program)


def _here(machine: str) -> bool:
    """Whether acts at this machine may be done from here: a machine's own screen is for that machine alone."""
    return current().terminal in (None, machine)


def _check_here(machine: str) -> str:
    name = records.machine(shop(), machine).name
    if not _here(name):
        raise ActRefused("wrong_role", f"this screen stands at {current().terminal}, not at {name}")
    return name


def _revision(machine: str, program: str) -> RevisionFacts:
    """The revision that the form was about; refused where another one stands there now, so that nobody confirms unseen."""
    text = request.form.get("revision", "")
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 15 else 0
    release = release_of(shop(), machine, program)
    if release is None or release.revision != number:
        raise ActRefused("stale_page", f"{machine} should not run that revision now", "look at the page again")
    return records.revision(shop(), number)


def _back(machine: str, program: str) -> Response:
    return redirect(url_for("floor.program", machine=machine, program=program), 303)


@floor_pages.post("/<machine>/<program>/readback")
@needs("operator", "lead")
def readback(machine: str, program: str) -> Response:
    """Compare what the control sent back with what it should hold; kept whatever comes out."""
    back: ReadbackFacts | None = None
    with act_guard() as outcome:
        name = _check_here(machine)
        sent = given_bytes("sent", "text")
        back = desk().readback(current().login, name, _revision(name, program), sent)
        event("read back", machine=name, readback=back.id, equal=back.equal)
    if back is None:
        return _shown(machine, program, outcome.refused, outcome.status)
    if back.again:
        flash(f"These bytes were read back already, {moment(back.at_us)}; nothing new is recorded.")
    return redirect(url_for("floor.program", machine=machine, program=program, readback=back.id), 303)


@floor_pages.post("/<machine>/<program>/confirm")
@needs("operator")
def confirm(machine: str, program: str) -> Response:
    """An operator's confirmation: by check code and two words, by a read-back, or of a prove-out by readings."""
    done: ConfirmationFacts | None = None
    with act_guard() as outcome:
        name = _check_here(machine)
        found = _revision(name, program)
        done = _way(name, found)
        event("confirmed", machine=name, revision=found.id, how=done.how)
    if done is None:
        return _shown(machine, program, outcome.refused, outcome.status)
    flash(f"Confirmed by {done.how} ({done.strength}). Before it: {done.held_before}.")
    return _back(machine, program)


def _way(machine: str, found: RevisionFacts) -> ConfirmationFacts:
    text = request.form.get("readback", "")
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 15 else None
    login, pin = current().login, pin_from_form()
    if found.state == "prove-out":
        readings = request.form.get("readings", "") if number is None else None
        return desk().confirm_prove_out(login, pin, machine, found, readings=readings, readback=number)
    if number is not None:
        return desk().confirm_by_readback(login, pin, machine, found, number)
    words = (request.form.get("word1", ""), request.form.get("word2", ""))
    return desk().confirm_by_code(login, pin, machine, found, request.form.get("code", ""), words)


@floor_pages.post("/<machine>/<program>/submit")
@needs("operator", "programmer", "lead")
def submit(machine: str, program: str) -> Response:
    """Submit what the control holds as a revision, so that an edit made there is not lost."""
    with act_guard() as outcome:
        name, sha = records.machine(shop(), machine).name, request.form.get("sha", "")
        if sha not in {back.sha for back in drifted_at(shop(), name) if _folded(back.program) == _folded(program)}:
            raise ActRefused("stale_page", "that is not what was last read back here", "look at the page again")
        target = records.revisions(shop(), program, name)[0].target
        reason = request.form.get("reason", "")
        return handed_in(desk().submit(current().login, program, target, records.body(shop(), sha), reason))
    return _shown(machine, program, outcome.refused, outcome.status)


def _act(machine: str, program: str, act: Callable[[str, str], str]) -> Response:
    """Carry out an act that asks for the PIN, and say what it gives."""
    with act_guard() as outcome:
        name = _check_here(machine)
        login = desk().proven(current().login, pin_from_form()).login
        flash(act(login, name))
        event("acted at machine", machine=name, act=act.__name__.strip("_"))
    if outcome.refused:
        return _shown(machine, program, outcome.refused, outcome.status)
    return _back(machine, program)


@floor_pages.post("/<machine>/<program>/take-over")
@needs("operator")
def take_over(machine: str, program: str) -> Response:
    """Let the waiting file appear in the folder of a machine that runs from it."""

    def _take_over(login: str, name: str) -> str:
        if request.form.get("stopped") != "yes":
            raise ActRefused("bad_form", "the cycle has to be stopped and the tools home", "tick it once it is so")
        found = _revision(name, program)
        desk().take_over(login, name, found)
        return f"Revision {found.n} is taken over; the lines below say whether its file is there."

    return _act(machine, program, _take_over)


@floor_pages.post("/<machine>/<program>/go-back")
@needs("operator", "lead")
def go_back(machine: str, program: str) -> Response:
    """Return this machine at once to the revision that was last proven here."""

    def _go_back(login: str, name: str) -> str:
        leaving = None if request.form.get("revision") == "none" else _revision(name, program)
        done = desk().go_back(login, program, name, leaving, request.form.get("reason", ""))
        return f"{name} goes back to revision {done.releases[0].n}: load it at the control, and confirm it."

    return _act(machine, program, _go_back)


@floor_pages.post("/<machine>/<program>/write-again")
@needs("lead")
def write_again(machine: str, program: str) -> Response:
    """Order the file once more where it went missing or was edited."""

    def _write_again(login: str, name: str) -> str:
        _revision(name, program)
        desk().write_again(login, program, name, request.form.get("reason", ""))
        return "The file is ordered again; the lines below say whether it is at the machine."

    return _act(machine, program, _write_again)
