"""What the checks are worth: a mistake planted in desk or service must be found, each by the check that is for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import refusals_elsewhere  # noqa: F401  it puts its checks on the list
import refusals_repeated  # noqa: F401  so does this
from planted import CHEAP, hands_at, planted
from refusals import CHECKS
from service_shop import make_shop

from verifier.desk import secrets

DESK = "verifier.desk.desk"
SERVICE = "verifier.service."

#: What is wrong then; the module; the place; what stands there instead; the check that finds it.
FAULTS: list[tuple[str, str, str, str, str]] = [
    ("the digest that was looked at is not passed on", DESK, "            seen,\n            reauth",
     "            revision.report_digest or \"\",\n            reauth", "a_page_whose_report_was_replaced"),
    ("a page takes the present digest for the one looked at", SERVICE + "decide",
     "request.form.get(\"seen\", \"\"), given[\"verdict\"]", "found.report_digest or \"\", given[\"verdict\"]", "a_page_whose_report_was_replaced"),
    ("a program's digest is not passed on", SERVICE + "api_views", "given.reason, given.report, **more",
     "given.reason, found.report_digest or \"\", **more", "a_program_that_decides_on_another_report_or_without_a_pin"),
    ("a release on the reports that there were", DESK,
     "grounds = records.grounds(self.shop, revision.program, revision.target, revision.sha)",
     "grounds = tuple(one.ground for one in records.reports(self.shop, revision.id))",
     "a_release_whose_base_was_replaced"),
    ("any PIN is right", DESK, "if stored is None or not pin_proven(key, stored, pin):", "if stored is None:",
     "acts_without_the_right_pin"),
    ("wrong PINs are not counted", DESK, "records.take_try(self.shop, [own, *shared])", "pass", "the_sixth_wrong_pin"),
    ("a decision without the PIN", DESK, "lead = self.proven(login, pin)\n        place", "lead = self.person(login)\n        place",
     "acts_without_the_right_pin"),
    ("an acceptance without the PIN", DESK, "lead = self.proven(login, pin)\n        return records.accept(",
     "lead = self.person(login)\n        return records.accept(", "acts_without_the_right_pin"),
    ("an acceptance withdrawn without the PIN", DESK, "lead = self.proven(login, pin)\n        return records.withdraw_acceptance(",
     "lead = self.person(login)\n        return records.withdraw_acceptance(", "acts_without_the_right_pin"),
    ("an acceptance on the present report instead of the one looked at", SERVICE + "decide", "seen = request.form.get(\"seen\", \"\")",
     "seen = found.report_digest or \"\"", "a_hazard_of_a_report_that_was_replaced"),
    ("another program's acceptance withdrawn", DESK,
     "if number not in [one.id for one in records.acceptances(self.shop, program, target)]:", "if False:",
     "a_hazard_of_a_report_that_was_replaced"),
    ("a confirmation by code without the PIN", DESK,
     "operator = self.proven(login, pin)\n        return records.confirm_by_check_code",
     "operator = self.person(login)\n        return records.confirm_by_check_code",
     "a_confirmation_without_the_pin_by_code_or_readings"),
    ("a confirmation by read-back without the PIN", DESK,
     "operator = self.proven(login, pin)\n        return records.confirm_by_readback",
     "operator = self.person(login)\n        return records.confirm_by_readback", "acts_without_the_right_pin"),
    ("a prove-out confirmed without the PIN", DESK,
     "operator = self.proven(login, pin)\n        return records.confirm_prove_out",
     "operator = self.person(login)\n        return records.confirm_prove_out",
     "a_confirmation_without_the_pin_by_code_or_readings"),
    ("a read-back kept for another machine", DESK, "take_readback(self.shop, self.person(login).id, machine, ",
     "take_readback(self.shop, self.person(login).id, self.machines_of(revision.target)[-1], ",
     "a_readback_of_another_machine_or_program"),
    ("the read-back of a page is taken for every machine", SERVICE + "floor",
     "desk().confirm_by_readback(login, pin, machine, found, number)",
     "desk().confirm_by_readback(login, pin, records.readback(shop(), number).machine, found, number)",
     "a_readback_of_another_machine_or_program"),
    ("ticks are not passed on", DESK, "ticked=ticked,", "ticked=[one.name for one in records.wanted_ticks(self.shop, revision.id)],",
     "a_critical_finding_that_nobody_ticked"),
    ("a release without the PIN", SERVICE + "release",
     "login = desk().proven(current().login, pin_from_form()).login\n        desk().release",
     "login = current().login\n        desk().release", "acts_without_the_right_pin"),
    ("a recall without the PIN", SERVICE + "release",
     "login = desk().proven(current().login, pin_from_form()).login\n        notice",
     "login = current().login\n        notice", "acts_without_the_right_pin"),
    ("a withdrawal without the PIN", SERVICE + "decide",
     "login = desk().proven(current().login, pin_from_form()).login\n        done = desk().withdraw",
     "login = current().login\n        done = desk().withdraw", "acts_without_the_right_pin"),
    ("checked again without the PIN", SERVICE + "decide",
     "login = desk().proven(current().login, pin_from_form()).login\n        done = desk().check_again",
     "login = current().login\n        done = desk().check_again", "acts_without_the_right_pin"),
    ("checked again in its author's name", SERVICE + "decide", "desk().check_again(login, ", "desk().check_again(\"pia\", ",
     "a_waiting_revision_that_was_checked_again"),
    ("an old report is not told", SERVICE + "decide", "desk().outdated(found) if found.state == \"held\" else ()", "()",
     "a_waiting_revision_that_was_checked_again"),
    ("acts at a machine without the PIN", SERVICE + "floor",
     "login = desk().proven(current().login, pin_from_form()).login", "login = current().login",
     "acts_without_the_right_pin"),
    ("a policy without the PIN", SERVICE + "policy", "desk().proven(current().login, pin_from_form())", "pass",
     "acts_without_the_right_pin"),
    ("a machine added without the PIN", SERVICE + "machinery",
     "desk().proven(current().login, pin_from_form())\n        profile", "profile", "acts_without_the_right_pin"),
    ("a person added without the PIN", SERVICE + "people",
     "by = desk().proven(current().login, pin_from_form())\n        person =",
     "by = current().person\n        person =", "acts_without_the_right_pin"),
    ("a form without its token", SERVICE + "cookies", "if not wanted or not hmac.compare_digest(",
     "if not wanted and hmac.compare_digest(", "every_form_from_another_site_or_without_its_token"),
    ("one route asks for no token", SERVICE + "cookies",
     "if request.method in SAFE or \"Authorization\" in request.headers:",
     "if request.method in SAFE or \"Authorization\" in request.headers or request.path.endswith(\"/recall\"):",
     "every_form_from_another_site_or_without_its_token"),
    ("the origin is not looked at", SERVICE + "cookies", "(origin is not None and not _ours(origin))", "False",
     "every_form_from_another_site_or_without_its_token"),
    ("the browser's word of the site is not looked at", SERVICE + "cookies",
     "site not in (None, \"same-origin\", \"none\") or ", "", "every_form_from_another_site_or_without_its_token"),
    ("a neighbouring site is ours", SERVICE + "cookies", "(None, \"same-origin\", \"none\")",
     "(None, \"same-origin\", \"same-site\", \"none\")", "every_form_from_another_site_or_without_its_token"),
    ("one token for all sessions", SERVICE + "cookies", "wanted = service().key.keyed(\"form\", name) if name else \"\"",
     "wanted = given if len(given) == 64 else \"\"", "every_form_from_another_site_or_without_its_token"),
    ("a session that outlives its end", SERVICE + "cookies", "records.end_session(service().shop(), name)", "pass",
     "a_session_after_it_was_signed_out"),
    ("a name of a session chosen beforehand", SERVICE + "cookies", "    name = new_name()\n    records.begin_session",
     "    name = session_name() or new_name()\n    records.begin_session", "a_name_of_a_session_that_somebody_else_chose"),
    ("somebody who left signs in", SERVICE + "entering", "return person if person.active else None", "return person",
     "a_person_who_left_while_the_page_was_open"),
    ("wrong passwords are not counted", SERVICE + "entering",
     "own, shared = _counted(running, \"password\", entry.login)\n    records.take_try(shop, [own, shared])",
     "own, shared = _counted(running, \"password\", entry.login)", "the_sixth_wrong_password"),
    ("any password is right", SERVICE + "entering", "if not password_proven(stored, entry.password) or person is None",
     "if person is None", "the_sixth_wrong_password"),
    ("pages for every role", SERVICE + "context", "if roles and not who.has(*roles):", "if False:",
     "pages_of_administrators_and_leads"),
    ("everybody is listed to everybody", SERVICE + "people", "@needs(\"administrator\")\ndef everybody", "@needs()\ndef everybody",
     "pages_of_administrators_and_leads"),
    ("a machine's profile is shown to everybody", SERVICE + "machinery", "@needs(\"administrator\")\ndef one", "@needs()\ndef one",
     "pages_of_administrators_and_leads"),
    ("what waits for leads is shown to everybody", SERVICE + "decide", "@needs(\"lead\")\ndef waiting", "@needs()\ndef waiting",
     "pages_of_administrators_and_leads"),
    ("a machine is added by anybody", SERVICE + "machinery", "@needs(\"administrator\")\ndef add", "@needs()\ndef add",
     "pages_of_administrators_and_leads"),
    ("tokens are good for everything", SERVICE + "context", "if who.scopes is not None and scope not in who.scopes:", "if False:",
     "a_token_beyond_its_scopes"),
    ("a wrong token falls back on the cookie", SERVICE + "cookies", "        g.signed = _by_token(header)\n        return\n",
     "        try:\n            g.signed = _by_token(header)\n            return\n        except BadToken:\n            pass\n",
     "a_token_beyond_its_scopes"),
    ("every role counts at a machine's screen", SERVICE + "context",
     "tuple(r for r in self.person.roles if r == \"operator\") if self.terminal else self.person.roles",
     "self.person.roles", "a_screen_of_another_machine"),
    ("a screen acts at every machine", SERVICE + "floor", "    if not _here(name):", "    if False:", "a_screen_of_another_machine"),
    ("a confirmation of what no longer stands", SERVICE + "floor", "if release is None or release.revision != number:",
     "if release is None:", "a_page_at_the_machine_that_is_out_of_date"),
    ("any stored bytes handed in by an operator", SERVICE + "floor", "        if sha not in {", "        if False and sha not in {",
     "bytes_that_no_control_sent_back"),
    ("taken over while the cycle runs", SERVICE + "floor", "if request.form.get(\"stopped\") != \"yes\":", "if False:",
     "a_file_taken_over_while_the_cycle_runs"),
    ("a form sent twice acts twice", SERVICE + "once", "    if claim.kind == \"new\":", "    if True:", "every_form_that_is_sent_twice"),
    ("forms are known by their number alone", SERVICE + "once", "str(len(values)), *values]", "str(len(values))]",
     "a_form_sent_again_with_other_content"),
    ("files are no part of a form", SERVICE + "once", "            parts += [name, file.filename or \"\", sha256(",
     "            _ = [sha256(", "a_form_sent_again_with_other_content"),
    ("files are used up when they are looked at", SERVICE + "once", "            file.stream.seek(0)\n", "",
     "a_form_sent_again_with_other_content"),
    ("keys of programs are not looked at", SERVICE + "api", "        if key is None:", "        if True:",
     "a_request_of_a_program_that_is_sent_twice"),
    ("the kept answer is not given", SERVICE + "api", "    if claim.kind == \"kept\":\n        return _answer(claim.status, claim.content)\n", "",
     "a_request_of_a_program_that_is_sent_twice"),
    ("a key holds for any content", SERVICE + "api", "{given.model_dump_json()}", "", "a_request_of_a_program_that_is_sent_twice"),
    ("a key holds for any address", SERVICE + "api", "{request.method} {request.path}", "", "a_request_of_a_program_that_is_sent_twice"),
    ("files of any size", SERVICE + "uploads", "    if len(data) > most:", "    if False:", "more_than_the_service_takes"),
    ("whoever is not known to be something leaves", SERVICE + "people",
     "        elif what in _PLACE:\n            changed = records.change_person(shop(), by.id, number, active=_PLACE[what],",
     "        elif True:\n            changed = records.change_person(shop(), by.id, number, active=what == \"back\",",
     "a_change_that_is_none"),
    ("a release of somebody else's revision", SERVICE + "release", "desk().release(login, ", "desk().release(\"leo\", ",
     "a_programmer_on_somebody_elses_revision"),
    ("acts in somebody else's name", SERVICE + "decide", "desk().withdraw(login, ", "desk().withdraw(\"pia\", ",
     "a_programmer_on_somebody_elses_revision"),
]  # fmt: skip


@pytest.fixture(scope="module")
def cheap_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A shop whose secrets cost nothing to check."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "_HASHER", CHEAP)
        folder = tmp_path_factory.mktemp("cheap") / "shop"
        make_shop(folder)
        yield folder


@pytest.mark.parametrize("name", CHECKS)
def test_every_check_holds_inside_this_process(cheap_shop: Path, place: Path, name: str) -> None:
    from verifier import service

    with hands_at(service, cheap_shop, place / "shop") as hands:
        CHECKS[name](hands)
        hands.settle()


@pytest.mark.parametrize(("what", "module", "right", "wrong", "check"), FAULTS, ids=[one[0] for one in FAULTS])
def test_a_planted_mistake_is_found(
    cheap_shop: Path, place: Path, what: str, module: str, right: str, wrong: str, check: str
) -> None:
    with planted(module, right, wrong) as service, hands_at(service, cheap_shop, place / "shop") as hands:
        try:
            CHECKS[check](hands)
        except AssertionError:
            return
    pytest.fail(f"{check} did not notice: {what}")
