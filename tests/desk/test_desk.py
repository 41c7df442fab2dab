"""The desk: people's acts with report, records and floor in one call, and what it checks before the records take a thing."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tests.desk.conftest import PIN, SHOP, add, body, profile
from verifier import records
from verifier.desk import Desk, report_facts
from verifier.desk.desk import _two_words
from verifier.machines import parse_setup
from verifier.records import RevisionFacts
from verifier.records.ledger import entries
from verifier.report import examine, review
from verifier.source import ActRefused, MachineError, SourceRefused, StoreError, read_source
from verifier.syntax import parse

SHEET = (SHOP / "setups" / "drive-shaft.toml").read_bytes()
SAME, CHANGED, CRITICAL = "renumbered-respaced.nc", "seal-groove-0.3-smaller.nc", "decimal-point-lost.nc"


def file_of(desk: Desk, machine: str = "lathe", name: str = "O2101.NC") -> Path:
    return desk.shop.folder / "floor" / machine / name


def hand_in(desk: Desk, content: bytes, by: str = "pia", target: str = "lathe") -> RevisionFacts:
    return desk.submit(by, "O2101", target, content, "because", setup=SHEET).revision


def approve(desk: Desk, revision: RevisionFacts) -> RevisionFacts:
    ticked = [one.name for one in records.wanted_ticks(desk.shop, revision.id)]
    return desk.decide("leo", PIN, revision, "approve", "seen", revision.report_digest, ticked=ticked)


def at_machine(desk: Desk, name: str = "base.nc", target: str = "lathe") -> RevisionFacts:
    """Bring a program all the way to its machine."""
    revision = hand_in(desk, body(name), target=target)
    if revision.state == "held":
        revision = approve(desk, revision)
    desk.release("leo", revision, "go")
    return revision


def refused(code: str, act: object, *given: object, **named: object) -> ActRefused:
    assert callable(act)
    with pytest.raises(ActRefused) as caught:
        act(*given, **named)
    assert caught.value.code == code, caught.value
    return caught.value


def test_the_whole_way_leaves_the_very_bytes_at_the_machine_and_every_act_in_the_ledger(desk: Desk) -> None:
    at_machine(desk)
    assert file_of(desk).read_bytes() == body("base.nc")
    done = desk.submit("pia", "O2101", "lathe", body(CHANGED), "deeper seat", setup=SHEET)
    (report,) = done.reports
    assert (report.verdict, done.revision.state) == ("changed behaviour", "held")
    assert done.revision.held_because == report.sign_off.reasons
    (kept,) = records.reports(desk.shop, done.revision.id)
    assert kept.digest == report.digest and json.loads(kept.json)["digest"] == report.digest
    released = desk.release("pia", approve(desk, done.revision), "for the batch")
    assert [job.state for job in released.jobs] == ["done"] and file_of(desk).read_bytes() == body(CHANGED)
    back = desk.readback("otto", "lathe", done.revision, body(CHANGED).replace(b" ", b""))
    assert back.equal
    confirmed = desk.confirm_by_readback("otto", PIN, "lathe", done.revision, back.id)
    assert (confirmed.strength, confirmed.operator) == ("strong", "Person otto")
    assert records.verify_ledger(desk.shop.folder).ok
    assert [entry.act for entry in records.history(desk.shop, "O2101", "lathe")][-6:] == [
        "submitted", "approved", "released", "written to machine", "read back", "confirmed",
    ]  # fmt: skip


def test_the_report_is_the_one_that_the_library_computes(desk: Desk) -> None:
    """The same bytes, profile, sheet and policy: nothing of the shop slips into the report."""
    at_machine(desk)
    report = desk.submit("pia", "O2101", "lathe", body(CHANGED), "r", setup=SHEET).reports[0]
    machine = desk.profile("lathe")
    sheet = parse_setup(SHEET, "sheet", machine)
    assert report.digest == review(body("base.nc"), body(CHANGED), machine=machine, setup=sheet).digest


def test_every_refusal_on_the_way_leaves_state_and_folder_as_they_were(desk: Desk) -> None:
    at_machine(desk)
    own = hand_in(desk, body(CHANGED), by="both")
    digest = own.report_digest
    refused("own_revision", desk.decide, "both", PIN, own, "approve", "mine", digest)
    refused("wrong_role", desk.decide, "pia", PIN, own, "approve", "r", digest)
    refused("sign_in_again", desk.decide, "leo", "000001", own, "approve", "r", digest)
    refused("sign_in_again", desk.decide, "leo", "", own, "approve", "r", digest)
    refused("unknown_person", desk.decide, "eve", PIN, own, "approve", "r", digest)
    refused("stale_report", desk.decide, "leo", PIN, own, "approve", "r", "0" * 64)
    refused("reason_missing", desk.decide, "leo", PIN, own, "approve", "  ", digest)
    refused("bad_verdict", desk.decide, "leo", PIN, own, "aprove", "r", digest)
    refused("not_cleared", desk.release, "leo", own, "r")
    refused("readback_of_another", desk.readback, "otto", "lathe", own, body(CHANGED))
    refused("unknown_machine", desk.submit, "pia", "O2101", "mill", body(CHANGED), "r")
    refused("bad_name", desk.submit, "pia", "../O2101", "lathe", body(CHANGED), "r")
    assert records.revision(desk.shop, own.id).state == "held" and file_of(desk).read_bytes() == body("base.nc")
    approve(desk, own)


@pytest.mark.parametrize("what", ["policy", "machine profile"])
def test_a_release_is_held_again_when_what_it_was_signed_on_changed(what: str, desk: Desk) -> None:
    at_machine(desk)
    revision = approve(desk, hand_in(desk, body(CHANGED)))
    if what == "policy":
        desk.set_policy("leo", (SHOP / "policy.toml").read_bytes(), "policy.toml", "stricter")
    else:
        other = records.profile_bytes(desk.shop, "lathe").replace(b"max_rpm = 4500", b"max_rpm = 4200")
        records.change_profile(desk.shop, desk.person("ada").id, "lathe", other, "measured")
    told = refused("changed_since", desk.release, "leo", revision, "r")
    assert what in told.message
    held = records.revision(desk.shop, revision.id)
    assert held.state == "held" and held.report_digest != revision.report_digest
    assert what in held.held_because[0] and file_of(desk).read_bytes() == body("base.nc")
    refused("stale_report", desk.decide, "leo", PIN, held, "approve", "r", revision.report_digest)
    desk.release("leo", approve(desk, held), "r")
    assert file_of(desk).read_bytes() == body(CHANGED)


def test_a_program_is_compared_with_what_its_machine_was_given_last(desk: Desk) -> None:
    at_machine(desk)
    at_machine(desk, CHANGED)
    (report,) = desk.submit("pia", "O2101", "lathe", body("base.nc"), "back", setup=SHEET).reports
    assert report.old is not None
    assert (
        report.old.sha256 == read_source(body(CHANGED)).sha256
        and report.new.sha256 == read_source(body("base.nc")).sha256
    )


@pytest.mark.parametrize("content", [b"", b"%\n%\n", b"\xff\xfe" + "O1\nM30\n".encode("utf-16-le"), b"PK\x03\x04xx"])
def test_what_is_refused_is_nowhere(content: bytes, desk: Desk) -> None:
    before = records.verify_ledger(desk.shop.folder)
    with pytest.raises(SourceRefused):
        hand_in(desk, content)
    after = records.verify_ledger(desk.shop.folder)
    assert (after.entries, after.bodies, after.head) == (before.entries, before.bodies, before.head)


def test_a_sheet_that_is_not_valid_is_refused_whole(desk: Desk) -> None:
    before = records.verify_ledger(desk.shop.folder)
    with pytest.raises(MachineError) as caught:
        desk.submit("pia", "O2101", "lathe", body("base.nc"), "r", setup=b'name = 1\nunits = "x"\nfoo = 2\n')
    assert len(caught.value.mistakes) >= 3
    assert records.verify_ledger(desk.shop.folder).entries == before.entries


def test_a_called_program_is_the_one_that_stands_at_the_machine(desk: Desk) -> None:
    caller = b"O1\nN1 G00 G21 G40 G54 G97 G99\nT0101\nG97 S500 M03\nG00 X50. Z2.\nM98 P2\nG00 X100. Z50.\nM05\nM30\n"
    one, two = b"O2\nG01 Z-10. F0.2\nM99\n", b"O2\nG01 Z-12. F0.2\nM99\n"
    first = desk.submit("pia", "O1", "lathe", caller, "r").reports[0]
    assert "subprogram-missing" in first.sign_off.reasons and first.new.called == ()
    called = desk.submit("pia", "O2", "lathe", one, "r").revision
    desk.release("leo", approve(desk, called), "r")
    again = desk.submit("pia", "o1", "lathe", caller, "r")
    assert [number for number, _ in again.reports[0].new.called] == [2]
    assert "subprogram-missing" not in again.reports[0].sign_off.reasons
    cleared = approve(desk, again.revision)
    desk.release("leo", cleared, "r")
    changed = approve(desk, desk.submit("pia", "O2", "lathe", two, "r").revision)
    refused("callers_bind_another", desk.release, "leo", changed, "r")


# -- groups and folders ------------------------------------------------------------------------------------------------


def test_a_group_is_served_together_and_each_base_has_its_report(desk: Desk) -> None:
    add(desk, "left", group="pair")
    add(desk, "right", group="pair")
    revision = at_machine(desk, target="pair")
    assert file_of(desk, "left").read_bytes() == file_of(desk, "right").read_bytes() == body("base.nc")
    assert desk.machines_of("PAIR") == ("left", "right") and desk.machines_of("Left") == ("left",)
    at_machine(desk, CHANGED, target="pair")
    assert {r.machine for r in records.at_machine(desk.shop, "left")} == {"left"} and revision.target == "pair"


def test_machines_of_one_group_have_one_profile(desk: Desk) -> None:
    add(desk, "left", group="pair")
    before = records.verify_ledger(desk.shop.folder).entries
    told = refused("bad_profile", add, desk, "dock", group="PAIR", machine=profile("dock-lathe"))
    assert "dock-lathe" in told.message and not (desk.shop.folder / "floor" / "dock").exists()
    assert records.verify_ledger(desk.shop.folder).entries == before
    add(desk, "right", group="pair", machine=replace(profile(), name="right", title="The other one"))
    at_machine(desk, target="pair")
    text = records.profile_bytes(desk.shop, "right").replace(b"max_rpm = 4500", b"max_rpm = 4200")
    ada = desk.person("ada").id
    records.change_profile(desk.shop, ada, "right", text, "worn")
    refused("bad_profile", hand_in, desk, body(CHANGED), target="pair")
    records.change_profile(desk.shop, ada, "left", text, "the same here")
    assert hand_in(desk, body(CHANGED), target="pair").state == "held"


def test_adding_a_machine_does_not_hide_that_the_folder_of_another_is_gone(desk: Desk) -> None:
    """A folder that is gone may be a share that is not there; an empty one in its place would look well."""
    file_of(desk).parent.rmdir()
    add(desk, "second")
    assert not file_of(desk).parent.exists() and file_of(desk, "second").parent.is_dir()
    desk.change_folder("ada", "second", "floor/moved", "r")
    assert not file_of(desk).parent.exists() and (desk.shop.folder / "floor" / "moved").is_dir()


@pytest.mark.parametrize("place", ["shop.db", "shop.db/x", "shop.db/x/y"])
def test_a_folder_that_cannot_be_made_adds_no_machine(place: str, desk: Desk) -> None:
    before = records.verify_ledger(desk.shop.folder).entries
    with pytest.raises(StoreError, match="is a file"):
        desk.add_machine("ada", profile(), name="m", folder=place, group=None, extension=".NC", takeover=False)
    with pytest.raises(StoreError, match="is a file"):
        desk.change_folder("ada", "lathe", place, "r")
    assert records.verify_ledger(desk.shop.folder).entries == before


@pytest.mark.parametrize("place", ["..", "../outside", ".", "", "floor/lathe", "floor/LATHE", "floor/lathe.manifest"])
def test_a_folder_that_is_no_place_of_its_own_is_refused(place: str, desk: Desk) -> None:
    refused(
        "bad_folder", desk.add_machine, "ada", profile(),
        name="m", folder=place, group=None, extension=".NC", takeover=False,
    )  # fmt: skip
    assert sorted(path.name for path in (desk.shop.folder / "floor").iterdir()) == ["lathe"]
    assert not (desk.shop.folder.parent / "outside").exists()


def test_a_machine_that_runs_from_its_folder_gets_the_file_when_it_is_taken_over(desk: Desk) -> None:
    add(desk, "feeder", takeover=True)
    revision = at_machine(desk, target="feeder")
    assert not file_of(desk, "feeder").exists()
    assert desk.publish() == () and not file_of(desk, "feeder").exists()
    refused("wrong_role", desk.take_over, "pia", "feeder", revision)
    (job,) = desk.take_over("otto", "feeder", revision)
    assert job.state == "done" and file_of(desk, "feeder").read_bytes() == body("base.nc")
    refused("nothing_waits", desk.take_over, "otto", "feeder", revision)


# -- facts and words ---------------------------------------------------------------------------------------------------


def test_the_facts_of_a_report_say_what_it_says(desk: Desk) -> None:
    new = parse(read_source(body(CRITICAL)))
    report = review(body("base.nc"), body(CRITICAL), machine=profile())
    facts = report_facts(report, new)
    assert facts.has_critical and facts.sign_off_required and facts.program_number == 2101
    assert (facts.digest, facts.verdict, facts.check_code) == (report.digest, report.verdict, report.new.check_code)
    assert report.old is not None and facts.base_sha == report.old.sha256 and facts.setup_digest is None
    assert json.loads(facts.json)["digest"] == report.digest
    first = report_facts(examine(body(CRITICAL), machine=profile()), new)
    assert first.base_sha is None and first.sign_off_required


def test_a_critical_finding_that_stood_before_does_not_count_as_new(desk: Desk) -> None:
    old = body("base.nc").replace(b"G50 S", b"(NO CLAMP) S")
    new = old.replace(b"(NO CLAMP)", b"(STILL NO CLAMP)")
    report = review(old, new, machine=profile())
    assert any(f.weight == "critical" and f.status == "still there" for f in report.findings)
    assert not report_facts(report, parse(read_source(new))).has_critical
    assert report_facts(review(body("base.nc"), new, machine=profile()), parse(read_source(new))).has_critical


def test_two_words_are_asked_for_by_their_letters_and_differ_where_they_can() -> None:
    old, new = body("base.nc"), body(CHANGED)
    report = review(old, new, machine=profile())
    words = _two_words((report,))
    assert len(words) == 2 and words == _two_words((report, report))
    lines = new.decode().splitlines()
    for place, word in words:
        line, letter = place.removeprefix("line ").split(", word ")
        assert word.startswith(letter) and word in lines[int(line) - 1]
    assert words[0][1] != words[1][1]


@pytest.mark.parametrize(
    ("challenge", "wanted"),
    [
        ((), ()),
        ((("line 4", "X5."),), ()),
        ((("line 4", "X5."), ("line 4", "z2.")), (("line 4, word X", "X5."), ("line 4, word Z", "z2."))),
        ((("line 4", "X5."), ("line 6", "Z1."), ("line 9", "X5.")), (("line 4, word X", "X5."), ("line 6, word Z", "Z1."))),
        ((("line 4", "X5."), ("line 9", "X5.")), (("line 4, word X", "X5."), ("line 9, word X", "X5."))),
    ],
)  # fmt: skip
def test_the_two_words_of_a_change(challenge: tuple[tuple[str, str], ...], wanted: tuple[tuple[str, str], ...]) -> None:
    report = replace(examine(body("base.nc"), machine=profile()), challenge=challenge)
    assert _two_words((report,)) == wanted


def test_what_a_policy_loosens_stands_in_the_ledger_with_the_lead_who_did_it(desk: Desk) -> None:
    desk.set_policy("leo", (SHOP / "policy.toml").read_bytes(), "policy.toml", "as agreed")
    looser = (SHOP / "policy.toml").read_text("utf-8").replace("touched_words = true", "touched_words = false")
    desk.set_policy("leo", looser.encode(), "policy.toml", "prove-outs are always watched")
    told = [json.loads(row["body"]) for row in entries(desk.shop.database) if row["act"] == "policy set"]
    assert [entry["loosened"] for entry in told] == [[], ["no lead any more for touched safety-relevant words"]]
    with pytest.raises(ActRefused):
        desk.set_policy("pia", looser.encode(), "policy.toml", "a programmer may not")
