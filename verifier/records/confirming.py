"""An operator's statements at one machine: this is loaded, this prove-out went well, take the new file over now."""

from __future__ import annotations

import json
from collections.abc import Sequence

from verifier.records.act import Act, acting
from verifier.records.database import Row
from verifier.records.facts import ConfirmationFacts, MachineFacts
from verifier.records.lookup import (
    current_release,
    find_machine,
    report_rows,
    revision_row,
    subject_of,
    write_job,
)
from verifier.records.names import check_text
from verifier.records.shop import Shop
from verifier.records.states import CLEARED, PROVE_OUT
from verifier.records.telling import confirmation_facts
from verifier.source import ActRefused, SourceRefused, read_source
from verifier.syntax import canonical_words, parse

CHECK_CODE = "check code"
READ_BACK = "read-back"
FIRST_PIECE = "first piece"

NOTHING_BEFORE = "nothing was released here before"
VERIFIED_BEFORE = "what this machine held was read back"
UNVERIFIED_BEFORE = "what this machine held is not verified"


def confirm_by_check_code(
    shop: Shop,
    operator: int,
    machine: str,
    revision: int,
    code: str,
    words: Sequence[str],
    *,
    reauthenticated: bool,
) -> ConfirmationFacts:
    """Confirm what is loaded by its check code and the two words read from the control; a weak confirmation.

    A wrong code or word, or another revision than the release, is refused and written into the ledger. ActRefused:
    wrong_role, sign_in_again, not_the_release, not_at_machine, needs_readback, wrong_code, wrong_words.
    """
    with acting(shop, operator, ("operator",)) as act:
        row, facts, release = _stand(act, machine, revision, reauthenticated)
        if release is None:
            return _refuse(act, row, facts, "not_the_release", "this is not the revision that the machine should run")
        _check_there(act, release, facts)
        if any(report["has_critical"] for report in report_rows(act.database, release["review"])):
            raise ActRefused("needs_readback", "a change with a critical finding is confirmed by a read-back only")
        challenge = [word for _, word in json.loads(release["challenge"])]
        if not challenge:
            raise ActRefused("needs_readback", "no words were picked for this release", "send the program back instead")
        if code.strip().upper() != report_rows(act.database, release["review"])[0]["check_code"]:
            return _refuse(act, row, facts, "wrong_code", "the check code is not that of the release")
        if len(words) != len(challenge) or any(not _same_word(a, b) for a, b in zip(words, challenge, strict=True)):
            return _refuse(
                act, row, facts, "wrong_words", "the words read from the control are not those of the release"
            )
        return _write(act, row, facts, release, "loaded", CHECK_CODE)


def confirm_by_readback(
    shop: Shop, operator: int, machine: str, revision: int, readback: int, *, reauthenticated: bool
) -> ConfirmationFacts:
    """Confirm what is loaded by a read-back that is equal to the release; a strong confirmation.

    ActRefused: wrong_role, sign_in_again, not_the_release, not_at_machine, unknown_readback, readback_of_another,
    readback_before_release, readback_differs, readback_used.
    """
    with acting(shop, operator, ("operator",)) as act:
        row, facts, release = _stand(act, machine, revision, reauthenticated)
        if release is None:
            return _refuse(act, row, facts, "not_the_release", "this is not the revision that the machine should run")
        _check_there(act, release, facts)
        back = _readback(act, readback, facts, revision, release)
        if not back["equal"]:
            return _refuse(act, row, facts, "readback_differs", "the read-back is not the release")
        return _write(act, row, facts, release, "loaded", READ_BACK, readback)


def confirm_prove_out(
    shop: Shop,
    operator: int,
    machine: str,
    revision: int,
    *,
    readings: str | None = None,
    readback: int | None = None,
    reauthenticated: bool,
) -> ConfirmationFacts:
    """Confirm a prove-out, by first-piece readings or by a read-back; the revision is then `cleared`.

    A read-back that differs counts once its bytes were submitted, so that an edit at the control is not lost.
    ActRefused: not_in_prove_out, prove_out_over, readback_not_submitted, bad_prove_out, and those of the other two.
    """
    if (readings is None) == (readback is None):
        raise ActRefused("bad_prove_out", "a prove-out is confirmed by first-piece readings or by a read-back")
    text = check_text("reading", readings) if readings is not None else None
    with acting(shop, operator, ("operator",)) as act:
        row, facts, release = _stand(act, machine, revision, reauthenticated)
        if release is None or release["kind"] != PROVE_OUT or row["state"] != PROVE_OUT:
            raise ActRefused("not_in_prove_out", f"revision {row['n']} is not in prove-out at {facts.name}")
        _check_there(act, release, facts)
        if act.now >= release["ends_us"]:
            raise ActRefused("prove_out_over", "the days of this prove-out are over", "a lead may start another")
        if readback is not None:
            back = _readback(act, readback, facts, revision, release)
            known = act.database.value("SELECT 1 FROM revision WHERE program=? AND sha=?", row["program"], back["sha"])
            if not back["equal"] and not known:
                raise ActRefused(
                    "readback_not_submitted", "the control's edit has not been submitted", "submit it first"
                )
        act.update("revision", revision, state=CLEARED, held_because="[]")
        how = READ_BACK if text is None else FIRST_PIECE
        return _write(act, row, facts, release, PROVE_OUT, how, readback, text)


def take_over(shop: Shop, operator: int, machine: str, revision: int) -> None:
    """Let a release's waiting file appear in the folder of a machine that runs from it; cycle stopped, tools home."""
    with acting(shop, operator, ("operator",)) as act:
        row, facts, release = _stand(act, machine, revision, True)
        job = write_job(act.database, release["id"]) if release is not None else None
        if job is None or job["state"] != "waiting":
            raise ActRefused("nothing_waits", f"no file of revision {row['n']} waits at {facts.name}")
        act.update("job", job["id"], state="pending")
        subject = subject_of(act.database, row, row["program_name"])
        act.record("took over", subject, n=row["n"], sha=row["sha"], machine=facts.name)


def _stand(act: Act, machine: str, revision: int, reauthenticated: bool) -> tuple[Row, MachineFacts, Row | None]:
    """The revision, the machine, and the release of exactly that revision standing there, or None."""
    if not reauthenticated:
        raise ActRefused("sign_in_again", "a confirmation asks again for your PIN or password")
    row = revision_row(act.database, revision)
    facts = find_machine(act.database, machine)
    release = current_release(act.database, facts.id, row["program"])
    return row, facts, release if release is not None and release["revision"] == revision else None


def _check_there(act: Act, release: Row, facts: MachineFacts) -> None:
    job = write_job(act.database, release["id"])
    if job is None or job["state"] != "done":
        raise ActRefused(
            "not_at_machine", f"the release is not yet at {facts.name}", "its file has still to be written"
        )


def _refuse(act: Act, row: Row, facts: MachineFacts, code: str, message: str) -> ConfirmationFacts:
    """Write a refused confirmation into the ledger, where it is seen, and then refuse it."""
    subject = subject_of(act.database, row, row["program_name"])
    act.record("confirmation refused", subject, n=row["n"], sha=row["sha"], machine=facts.name, because=code)
    act.refusal = ActRefused(code, message, f"stop, and find out what {facts.name} holds")
    return ConfirmationFacts(0, 0, row["id"], facts.name, act.full_name, "", "", "", "", act.now)


def _readback(act: Act, number: int, facts: MachineFacts, revision: int, release: Row) -> Row:
    back = act.database.row("SELECT * FROM readback WHERE id=?", number)
    if back is None:
        raise ActRefused("unknown_readback", "there is no such read-back")
    if back["machine"] != facts.id or back["revision"] != revision:
        raise ActRefused("readback_of_another", "that read-back is of another program, revision or machine")
    if back["at_us"] < release["at_us"] or not _after(act, number, release):
        raise ActRefused("readback_before_release", "that read-back was taken before this release", "take it again")
    if act.database.value("SELECT 1 FROM confirmation WHERE readback=?", number):
        raise ActRefused("readback_used", "that read-back has confirmed something already", "take it again")
    return back


def _after(act: Act, readback: int, release: Row) -> bool:
    """Whether a read-back was recorded after the release's file was written, which equal times cannot tell."""
    job = write_job(act.database, release["id"])
    taken = act.database.value("SELECT at_us FROM readback WHERE id=?", readback)
    return job is not None and job["finished_us"] is not None and int(taken) >= int(job["finished_us"])


def _same_word(typed: str, wanted: str) -> bool:
    """Whether two words are one word to a control: letter, exact value and whether there is a point (G1 is G01)."""
    keys = [_word_key(text) for text in (typed, wanted)]
    return keys[0] is not None and keys[0] == keys[1]


def _word_key(text: str) -> bytes | None:
    try:
        return canonical_words(parse(read_source(text.strip().encode("utf-8"), "word")))
    except (SourceRefused, UnicodeEncodeError):
        return None


def held_before(act: Act, machine: int, release: Row) -> str:
    """What is known of what the machine held when this release came: read back since then, or not verified."""
    earlier = act.database.row(
        "SELECT revision FROM release WHERE machine=? AND program=? AND id<? AND revision<>? ORDER BY id DESC LIMIT 1",
        machine,
        release["program"],
        release["id"],
        release["revision"],
    )
    if earlier is None:
        return NOTHING_BEFORE
    # A read-back keeps an edit made at the control whether or not it was equal; what counts is that it was taken.
    taken = act.database.value(
        "SELECT 1 FROM readback WHERE machine=? AND program=? AND revision=? AND at_us>=? LIMIT 1",
        machine,
        release["program"],
        earlier["revision"],
        release["at_us"],
    )
    return VERIFIED_BEFORE if taken else UNVERIFIED_BEFORE


def _write(
    act: Act,
    row: Row,
    facts: MachineFacts,
    release: Row,
    what: str,
    how: str,
    readback: int | None = None,
    readings: str | None = None,
) -> ConfirmationFacts:
    equal = readback is not None and act.database.value("SELECT equal FROM readback WHERE id=?", readback)
    values = {"release": release["id"], "revision": row["id"], "machine": facts.id, "operator": act.person}
    said = {"full_name": act.full_name, "what": what, "how": how, "strength": "strong" if equal else "weak"}
    known = {"readback": readback, "readings": readings, "held_before": held_before(act, facts.id, release)}
    number = act.insert("confirmation", **values, **said, **known, at_us=act.now)
    subject = subject_of(act.database, row, row["program_name"])
    noted = {"n": row["n"], "sha": row["sha"], "machine": facts.name, "how": how, "strength": said["strength"]}
    noted |= {"readback": readback} if readback is not None else {}
    act.record(
        "prove-out confirmed" if what == PROVE_OUT else "confirmed",
        subject,
        **noted,
        held_before=known["held_before"],
        operator=act.full_name,
    )
    return confirmation_facts(act.database, number)
