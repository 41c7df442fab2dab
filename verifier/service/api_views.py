"""What each operation of the API does, by its name in the table: the desk's acts and the records' answers."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from typing import Any

from pydantic import BaseModel

from verifier import records
from verifier.findings import ChangeRule, all_rules
from verifier.records import RevisionFacts
from verifier.report import ChangeReport, to_be_seen, to_json, to_text
from verifier.service import api_models as m
from verifier.service.api_parse import raw
from verifier.service.context import current, desk, shop
from verifier.source import ActRefused

View = Callable[..., BaseModel]


def _me() -> m.Me:
    who = current()
    return m.Me(login=who.login, full_name=who.person.full_name, roles=tuple(who.roles), scopes=who.scopes)


def _programs(asked: m.Paging) -> m.Programs:
    found = records.programs(shop(), asked.after, asked.most)
    return m.Programs(programs=tuple(m.Program.model_validate(one) for one in found))


def _listed(found: tuple[RevisionFacts, ...]) -> m.Revisions:
    return m.Revisions(revisions=tuple(m.Revision.model_validate(one) for one in found))


def _in_state(asked: m.InState) -> m.Revisions:
    return _listed(records.in_state(shop(), asked.state))


def _revisions(target: str, program: str) -> m.Revisions:
    return _listed(records.revisions(shop(), program, target))


def _find(target: str, program: str, n: int) -> RevisionFacts:
    return records.find_revision(shop(), program, target, n)


def _revision(target: str, program: str, n: int) -> m.RevisionWithReports:
    found = _find(target, program, n)
    reports = tuple(_report(one) for one in records.reports(shop(), found.id))
    return m.RevisionWithReports(revision=m.Revision.model_validate(found), reports=reports)


def _nearest(target: str, program: str, n: int) -> m.Compared:
    found = desk().nearest_to(_find(target, program, n))
    if found is None:
        return m.Compared(near=None, text=None, report=None)
    near, report = found
    return m.Compared(near=m.Near.model_validate(near), text=_texts((report,))[0], report=to_json(report))


def _report(facts: records.ReportFacts) -> m.Report:
    content = json.loads(facts.json)
    wanted = tuple(m.ToBeTicked.model_validate(one) for one in to_be_seen(content))
    names = [name for name in m.Report.model_fields if name not in ("report", "to_be_ticked")]
    return m.Report(report=content, to_be_ticked=wanted, **{name: getattr(facts, name) for name in names})


def _history(target: str, program: str) -> m.History:
    rows = records.history(shop(), program, target)
    names = [name for name in m.Entry.model_fields if name != "body"]
    return m.History(
        entries=tuple(m.Entry(body=json.loads(e.body), **{name: getattr(e, name) for name in names}) for e in rows)
    )


def _machines() -> m.Machines:
    return m.Machines(machines=tuple(m.Machine.model_validate(one) for one in records.machines(shop())))


def _at_machine(machine: str) -> m.Standing:
    facts = records.machine(shop(), machine)
    found = records.at_machine(shop(), facts.name)
    return m.Standing(
        machine=m.Machine.model_validate(facts), releases=tuple(m.Release.model_validate(one) for one in found)
    )


def _readbacks(machine: str, program: str) -> m.Readbacks:
    found = records.readbacks_at(shop(), program, machine)
    return m.Readbacks(readbacks=tuple(m.Readback.model_validate(one) for one in found))


def _one_readback(number: int) -> m.ReadbackWithBytes:
    found = records.readback(shop(), number)
    sent = base64.b64encode(records.body(shop(), found.sha)).decode("ascii")
    return m.ReadbackWithBytes(readback=m.Readback.model_validate(found), sent=sent)


def _rules() -> m.Rules:
    return m.Rules(
        rules=tuple(
            m.Rule(
                id=one.id,
                revision=one.revision,
                weight=str(one.weight),
                kind="change" if isinstance(one, ChangeRule) else "hazard",
                title=one.title,
                why=one.why(),
                watch=one.watch,
            )
            for one in all_rules()
        )
    )


def _texts(reports: tuple[ChangeReport, ...]) -> tuple[m.ReportText, ...]:
    return tuple(m.ReportText(text=to_text(one), everything=to_text(one, everything=True)) for one in reports)


def _submit(target: str, program: str, given: m.Submission) -> m.Submitted:
    setup = None if given.setup is None else raw(given.setup)
    done = desk().submit(
        current().login, program, target, raw(given.program), given.reason, setup=setup, beside=given.beside
    )
    near = m.Near.model_validate(done.near) if done.near is not None else None
    return m.Submitted(revision=m.Revision.model_validate(done.revision), reports=_texts(done.reports), near=near)


def _check_again(target: str, program: str, n: int, given: m.Signed) -> m.CheckedAgain:
    done = desk().check_again(_proven(given), _find(target, program, n))
    return m.CheckedAgain(revision=m.Revision.model_validate(done.revision), reports=_texts(done.reports))


def _decide(target: str, program: str, n: int, given: m.Decision) -> m.Revision:
    found = _find(target, program, n)
    more = {"ticked": given.ticked, "machine": given.machine, "days": given.days}
    return m.Revision.model_validate(
        desk().decide(current().login, given.pin, found, given.verdict, given.reason, given.report, **more)  # type: ignore[arg-type]
    )


def _acceptances(target: str, program: str) -> m.Acceptances:
    found = records.acceptances(shop(), program, target)
    return m.Acceptances(acceptances=tuple(m.Acceptance.model_validate(one) for one in found))


def _accept(target: str, program: str, n: int, given: m.Accepting) -> m.Acceptance:
    found = _find(target, program, n)
    done = desk().accept(current().login, given.pin, found, given.hazard, given.reason, given.report)
    return m.Acceptance.model_validate(done)


def _withdraw_acceptance(target: str, program: str, number: int, given: m.SignedBecause) -> m.Acceptance:
    who = current().login
    return m.Acceptance.model_validate(
        desk().withdraw_acceptance(who, given.pin, program, target, number, given.reason)
    )


def _released(done: Any) -> m.Released:
    return m.Released(
        releases=tuple(m.Release.model_validate(one) for one in done.releases),
        jobs=tuple(m.Job.model_validate(one) for one in done.jobs),
    )


def _proven(given: m.SignedBecause | m.Signed | m.AtMachine) -> str:
    """The login of whoever acts, shown again by their PIN to stand behind it, as the pages ask."""
    return desk().proven(current().login, given.pin).login


def _release(target: str, program: str, n: int, given: m.Releasing) -> m.Released:
    found = _find(target, program, n)
    beside = [desk().open_revision(name, target) for name in given.beside]
    return _released(desk().release(_proven(given), found, given.reason, beside))


def _withdraw(target: str, program: str, n: int, given: m.SignedBecause) -> m.Revision:
    found = _find(target, program, n)
    return m.Revision.model_validate(desk().withdraw(_proven(given), found, given.reason))


def _recall(target: str, program: str, n: int, given: m.SignedBecause) -> m.Stop:
    found = _find(target, program, n)
    return m.Stop.model_validate(desk().recall(_proven(given), found, given.reason))


def _readback(target: str, program: str, n: int, given: m.SentBack) -> m.Readback:
    found, sent = _find(target, program, n), raw(given.program)
    return m.Readback.model_validate(desk().readback(current().login, given.machine or target, found, sent))


def _confirm(target: str, program: str, n: int, given: m.Confirmation) -> m.Confirmed:
    if [given.readback, given.code, given.readings].count(None) != 2 or (given.words and given.code is None):
        raise ActRefused(
            "bad_form", "confirm by a read-back, by a check code with two words, or by readings: one of them"
        )
    who, machine, found = current().login, given.machine or target, _find(target, program, n)
    if given.readings is not None and found.state != "prove-out":
        raise ActRefused(
            "bad_form", f"revision {found.n} is {found.state}, not in prove-out; readings confirm no other"
        )
    if found.state == "prove-out":
        done = desk().confirm_prove_out(
            who, given.pin, machine, found, readings=given.readings, readback=given.readback
        )
    elif given.readback is not None:
        done = desk().confirm_by_readback(who, given.pin, machine, found, given.readback)
    else:
        done = desk().confirm_by_code(who, given.pin, machine, found, given.code or "", tuple(given.words))
    return m.Confirmed.model_validate(done)


def _take_over(target: str, program: str, n: int, given: m.AtMachine) -> m.Jobs:
    found = _find(target, program, n)
    jobs = desk().take_over(_proven(given), given.machine or target, found)
    return m.Jobs(jobs=tuple(m.Job.model_validate(one) for one in jobs))


def _go_back(target: str, program: str, given: m.AtMachineBecause) -> m.Released:
    place = given.machine or target
    folded = records.fold_program_name(records.check_program_name(program))
    standing = records.at_machine(shop(), place)
    ours = next((one for one in standing if records.fold_program_name(one.program) == folded), None)
    leaving = None if ours is None else records.revision(shop(), ours.revision)
    return _released(desk().go_back(_proven(given), program, place, leaving, given.reason))


def _write_again(target: str, program: str, given: m.AtMachineBecause) -> m.Released:
    return _released(desk().write_again(_proven(given), program, given.machine or target, given.reason))


VIEWS: dict[str, View] = {
    "me": _me, "programs": _programs, "in_state": _in_state, "revisions": _revisions, "revision": _revision, "nearest": _nearest,
    "history": _history, "machines": _machines, "at_machine": _at_machine,
    "readbacks": _readbacks, "one_readback": _one_readback, "rules": _rules, "submit": _submit,
    "check_again": _check_again,
    "decide": _decide, "release": _release, "withdraw": _withdraw, "recall": _recall, "readback": _readback,
    "confirm": _confirm, "take_over": _take_over, "go_back": _go_back, "write_again": _write_again,
    "acceptances": _acceptances, "accept": _accept, "withdraw_acceptance": _withdraw_acceptance,
}  # fmt: skip
