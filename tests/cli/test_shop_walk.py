"""The whole way on a local shop by commands, and every refusal on it; the files are really in the machine's folder."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import Result

from tests.cli.conftest import (
    PIN,
    SHOP,
    Run,
    act,
    bytes_of,
    contents,
    decide,
    floor,
    newest,
    program,
    release,
    report_of,
    seen_as,
    state_of,
    submit,
    ticks,
)
from verifier import records

SAME, CHANGED, CRITICAL = "renumbered-respaced.nc", "seal-groove-0.3-smaller.nc", "decimal-point-lost.nc"


def readback(run: Run, shop: Path, file: Path) -> str:
    """Send a program back; gives the read-back's number."""
    told = act(run, shop, "readback", "otto", file).stdout
    found = re.search(r"read-back ([0-9]+) is", told)
    assert found is not None, told
    return found[1]


def challenge(run: Run, shop: Path) -> tuple[str, list[str]]:
    """The check code and the two words of what stands at the lathe."""
    with records.open_shop(shop, lambda: 1) as opened:
        (standing,) = records.at_machine(opened, "north-lathe")
    return standing.check_code, [entry.word for entry in standing.challenge]


def cleared(run: Run, shop: Path, name: str = CHANGED) -> None:
    """Submit a changed program and let the lead approve it."""
    assert submit(run, shop, program(name)).exit_code == 1
    assert decide(run, shop).exit_code == 0


# -- the way ---------------------------------------------------------------------------------------------------------


def test_submit_decide_release_read_back_confirm(run: Run, shop: Path, tmp_path: Path) -> None:
    assert floor(shop).read_bytes() == bytes_of("base.nc")
    held = submit(run, shop, program(CHANGED))
    assert held.exit_code == 1 and "position-changed" in held.stdout
    assert f"report {report_of(shop)}\n" in held.stdout
    assert floor(shop).read_bytes() == bytes_of("base.nc"), "a submission changes nothing at the machine"
    decided = decide(run, shop)
    assert decided.exit_code == 0 and "revision 2 for north-lathe is cleared" in decided.stdout
    assert floor(shop).read_bytes() == bytes_of("base.nc"), "nor does a decision"
    released = release(run, shop, "pia")
    assert released.exit_code == 0 and "O2101.NC: done" in released.stdout
    assert floor(shop).read_bytes() == bytes_of(CHANGED)
    sent = tmp_path / "sent.nc"
    sent.write_bytes(bytes_of(CHANGED).replace(b" ", b""))
    back = act(run, shop, "readback", "otto", sent)
    assert back.exit_code == 0 and "word for word" in back.stdout
    confirmed = act(run, shop, "confirm", "otto", "--readback", 1)
    assert confirmed.exit_code == 0 and "confirmed by read-back (strong)" in confirmed.stdout
    assert run("ledger", "verify", "--shop", shop).exit_code == 0
    assert run("shop", "check", "--shop", shop).exit_code == 0
    acts = json.loads(run("history", "--shop", shop, "--for", "north-lathe", "O2101", "--as", "json").stdout)
    at_end = [entry["act"] for entry in acts[-6:]]
    assert at_end == ["submitted", "approved", "released", "written to machine", "read back", "confirmed"]
    assert [entry["seq"] for entry in acts] == sorted(entry["seq"] for entry in acts)


def test_a_revision_of_the_same_behaviour_needs_no_lead(run: Run, shop: Path) -> None:
    told = submit(run, shop, program(SAME))
    assert told.exit_code == 0 and "is cleared" in told.stdout
    assert release(run, shop, "pia").exit_code == 0
    assert floor(shop).read_bytes() == bytes_of(SAME)


def test_turned_back_and_withdrawn_revisions_go_nowhere(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert "is turned back" in decide(run, shop, verdict="turn back").stdout
    assert release(run, shop).exit_code == 2
    submit(run, shop, program(CRITICAL))
    told = act(run, shop, "withdraw", "pia", "--reason", "mistyped")
    assert told.exit_code == 0 and "is withdrawn" in told.stdout
    assert release(run, shop).exit_code == 2 and floor(shop).read_bytes() == bytes_of("base.nc")


def test_a_prove_out_runs_at_its_machine_and_is_cleared_by_its_readings(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    words = ("--machine", "north-lathe", "--days", 3)
    assert decide(run, shop, verdict="prove-out", words=words).exit_code == 0
    assert state_of(shop, 2) == "prove-out" and floor(shop).read_bytes() == bytes_of(CHANGED)
    assert act(run, shop, "confirm", "pia", "--readings", "34.69 34.70").exit_code == 2
    told = act(run, shop, "confirm", "otto", "--readings", "34.69 34.70")
    assert told.exit_code == 0 and "first piece" in told.stdout and state_of(shop, 2) == "cleared"
    assert release(run, shop, "pia").exit_code == 0 and state_of(shop, 2) == "released"


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--machine", "north-lathe"),
        ("--days", 3),
        ("--machine", "north-lathe", "--days", 31),
        ("--machine", "x", "--days", 3),
    ],
)
def test_a_prove_out_names_one_machine_and_its_days(words: tuple[object, ...], run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert decide(run, shop, verdict="prove-out", words=words).exit_code == 2
    assert state_of(shop, 2) == "held"


def test_an_operator_goes_back_alone_to_what_was_proven(run: Run, shop: Path) -> None:
    assert act(run, shop, "confirm", "otto", "--readback", readback(run, shop, floor(shop))).exit_code == 0
    cleared(run, shop)
    release(run, shop)
    assert floor(shop).read_bytes() == bytes_of(CHANGED)
    told = run("go-back", "--shop", shop, "--by", "otto", "--for", "north-lathe", "o2101", "--reason", "chatter")
    assert told.exit_code == 0 and "revision 1 is released" in told.stdout
    assert floor(shop).read_bytes() == bytes_of("base.nc")


def test_what_stands_at_the_machine_is_meant_whatever_was_submitted_since(run: Run, shop: Path) -> None:
    submit(run, shop, program(CRITICAL))
    assert newest(shop).n == 2
    number = readback(run, shop, program("base.nc"))
    before = records.verify_ledger(shop).entries
    told = act(run, shop, "confirm", "otto", "--readback", number)
    assert told.exit_code == 0 and "revision 1 confirmed" in told.stdout
    assert records.verify_ledger(shop).entries == before + 1
    told = act(run, shop, "recall", "leo", "--reason", "scrap")
    assert told.exit_code == 0 and "revision 1 is recalled" in told.stdout and not floor(shop).exists()


# -- who may -----------------------------------------------------------------------------------------------------------


def test_nobody_decides_on_a_revision_of_their_own(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED), "both")
    before = contents(shop)[:2]
    told = decide(run, shop, "both")
    assert told.exit_code == 2 and "nobody signs off their own revision" in told.stderr
    assert state_of(shop, 2) == "held" and contents(shop)[1] == before[1]
    assert decide(run, shop, "leo").exit_code == 0


def test_nor_after_handing_in_the_same_bytes_as_somebody_else(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED), "pia")
    submit(run, shop, program(CHANGED), "both")
    assert decide(run, shop, "both").exit_code == 2 and state_of(shop, 2) == "held"


WRONG_ROLE = {
    "an operator submits": ("submit", "otto", (program(CHANGED), "--reason", "r")),
    "an administrator submits": ("submit", "ada", (program(CHANGED), "--reason", "r")),
    "a programmer decides": ("decide", "pia", ("--verdict", "approve", "--reason", "r", "--report", "{report}")),
    "an operator decides": ("decide", "otto", ("--verdict", "approve", "--reason", "r", "--report", "{report}")),
    "an administrator decides": ("decide", "ada", ("--verdict", "approve", "--reason", "r", "--report", "{report}")),
    "an operator checks again": ("check-again", "otto", ()),
    "an administrator checks again": ("check-again", "ada", ()),
    "a programmer accepts": ("accept", "pia", ("--hazard", "0" * 64, "--reason", "r", "--report", "{report}")),
    "an operator releases": ("release", "otto", ("--reason", "r")),
    "a programmer recalls": ("recall", "pia", ("--reason", "r")),
    "a programmer reads back": ("readback", "pia", (program("base.nc"),)),
    "a programmer confirms": ("confirm", "pia", ("--code", "AAAAAAAA", "--word", "X1.", "--word", "X2.")),
    "a lead confirms": ("confirm", "leo", ("--code", "AAAAAAAA", "--word", "X1.", "--word", "X2.")),
    "a programmer goes back": ("go-back", "pia", ("--reason", "r")),
    "an operator writes again": ("write-again", "otto", ("--reason", "r")),
    "another one withdraws": ("withdraw", "both", ("--reason", "r")),
    "nobody known submits": ("submit", "eve", (program(CHANGED), "--reason", "r")),
}


@pytest.mark.parametrize("name", WRONG_ROLE)
def test_the_wrong_person_is_refused_and_nothing_is_written(name: str, run: Run, shop: Path) -> None:
    verb, by, words = WRONG_ROLE[name]
    submit(run, shop, program(SAME if verb == "release" else CHANGED))
    states = (state_of(shop, 1), state_of(shop, 2))
    before, ledger = contents(shop), records.verify_ledger(shop).entries
    told = act(run, shop, verb, by, *(str(word).format(report=report_of(shop)) for word in words))
    assert told.exit_code == 2 and told.stderr.startswith("error: ")
    assert (state_of(shop, 1), state_of(shop, 2)) == states
    after = contents(shop)
    assert after[3] == before[3] and records.verify_ledger(shop).entries == ledger


@pytest.mark.parametrize(
    "words",
    [
        ("shop", "person", "--by", "leo", "new", "--full-name", "New", "--role", "lead"),
        ("shop", "policy", "--by", "pia", "--reason", "r", SHOP / "policy.toml"),
        ("shop", "pin", "--by", "pia", "leo"),
        ("shop", "machine", "--by", "leo", SHOP / "machines" / "dock-lathe.toml", "--folder", "floor/dock"),
    ],
    ids=lambda words: words[1],
)
def test_filling_the_shop_is_not_for_everybody(words: tuple[object, ...], run: Run, shop: Path) -> None:
    before = contents(shop)
    told = run(*words[:2], "--shop", shop, *words[2:])
    assert told.exit_code == 2 and "this is for" in told.stderr
    assert contents(shop) == before


def test_a_wrong_pin_decides_nothing_and_too_many_lock_it(run: Run, shop: Path, tmp_path: Path) -> None:
    submit(run, shop, program(CHANGED))
    for _ in range(5):
        told = decide(run, shop, pin="000001")
        assert told.exit_code == 2 and "the PIN is not right" in told.stderr
    told = decide(run, shop)
    assert told.exit_code == 2 and "PIN is not right" not in told.stderr, "locked: the right one is not looked at"
    assert state_of(shop, 2) == "held"


@pytest.mark.parametrize("pin", ["", "24061", "2406130", "240613 "])
def test_a_pin_that_is_nearly_right_is_wrong(pin: str, run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert decide(run, shop, pin=pin).exit_code == 2 and state_of(shop, 2) == "held"


def test_without_a_pin_it_is_asked_for_and_nothing_is_decided_without_an_answer(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    words = ("--verdict", "approve", "--reason", "r", "--report", report_of(shop))
    at = ("decide", "--shop", shop, "--by", "leo", "--for", "north-lathe", "O2101", *words)
    told = run(*at, pin=None, given=b"")
    assert told.exit_code != 0 and "PIN of leo" in told.stderr and state_of(shop, 2) == "held"
    told = run(*at, pin=None, given=PIN.encode() + b"\n")
    assert told.exit_code == 0 and PIN not in told.output and state_of(shop, 2) == "cleared"


def test_a_pin_comes_from_a_file_before_the_environment(run: Run, shop: Path, tmp_path: Path) -> None:
    right, wrong = tmp_path / "right", tmp_path / "wrong"
    right.write_text(PIN + "\n")
    wrong.write_text("000001\n")
    submit(run, shop, program(CHANGED))
    assert decide(run, shop, words=("--pin-file", wrong)).exit_code == 2
    assert decide(run, shop, words=("--pin-file", tmp_path / "absent")).exit_code == 2
    assert decide(run, shop, words=("--pin-file", right), pin="000001").exit_code == 0


def test_a_person_without_a_pin_decides_nothing(run: Run, shop: Path) -> None:
    with records.open_shop(shop, lambda: 2_000_000_000_000_000) as opened:
        records.add_person(opened, records.find_person(opened, "ada").id, "lena", "Lena", ["lead"])
    submit(run, shop, program(CHANGED))
    assert decide(run, shop, "lena").exit_code == 2 and state_of(shop, 2) == "held"
    assert run("shop", "pin", "--shop", shop, "--by", "ada", "lena").exit_code == 0
    assert decide(run, shop, "lena").exit_code == 0


# -- what was looked at ------------------------------------------------------------------------------------------------


def test_a_decision_needs_the_digest_of_the_report(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    digest = report_of(shop)
    for seen in (digest[:7], digest[1:], "0" * 64, digest + "0"):
        told = decide(run, shop, seen=seen)
        assert told.exit_code == 2 and "not the present one" in told.stderr and state_of(shop, 2) == "held"
    assert decide(run, shop, seen=digest[:8]).exit_code == 0


def test_a_decision_on_an_older_report_of_the_same_revision_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    first = report_of(shop)
    policy = shop.parent / "policy.toml"
    policy.write_text('name = "stricter"\nversion = 1\n[sign_off]\nminor = true\n')
    assert run("shop", "policy", "--shop", shop, "--by", "leo", "--reason", "stricter", policy).exit_code == 0
    submit(run, shop, program(CHANGED))
    assert newest(shop).n == 2 and report_of(shop) != first
    told = decide(run, shop, seen=first)
    assert told.exit_code == 2 and "not the present one" in told.stderr and state_of(shop, 2) == "held"
    assert decide(run, shop).exit_code == 0


def test_a_decision_after_another_base_was_released_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    digest = report_of(shop)
    submit(run, shop, program(SAME))
    assert release(run, shop).exit_code == 0
    words = ("--revision", 2, "--verdict", "approve", "--reason", "r", "--report", digest)
    told = act(run, shop, "decide", "leo", *words)
    assert told.exit_code == 2 and "another revision has been released" in told.stderr
    assert state_of(shop, 2) == "held"
    again = submit(run, shop, program(CHANGED)).stdout
    fresh = again.split("\nreport ")[1].strip()
    assert fresh != digest and "revision 2 for north-lathe is held" in again
    assert decide(run, shop, seen=fresh, words=("--revision", 2)).exit_code == 0, "compared with the new base"


def test_a_release_after_another_base_was_released_is_refused(run: Run, shop: Path) -> None:
    cleared(run, shop)
    submit(run, shop, program(SAME))
    assert release(run, shop).exit_code == 0
    told = act(run, shop, "release", "leo", "--revision", 2, "--reason", "late")
    assert told.exit_code == 2 and told.stderr
    assert floor(shop).read_bytes() == bytes_of(SAME)


def test_nothing_is_decided_twice(run: Run, shop: Path) -> None:
    cleared(run, shop)
    told = decide(run, shop, verdict="turn back")
    assert told.exit_code == 2 and "decided" in told.stderr and state_of(shop, 2) == "cleared"


def test_release_without_a_sign_off_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    for by in ("pia", "leo"):
        told = release(run, shop, by)
        assert told.exit_code == 2 and "is held, not cleared" in told.stderr
    assert floor(shop).read_bytes() == bytes_of("base.nc")


@pytest.mark.parametrize("what", ["policy", "machine profile"])
def test_a_release_after_something_changed_is_held_again_and_says_what(what: str, run: Run, shop: Path) -> None:
    cleared(run, shop)
    if what == "policy":
        file = SHOP / "policy.toml"
        assert run("shop", "policy", "--shop", shop, "--by", "leo", "--reason", "stricter", file).exit_code == 0
    else:
        with records.open_shop(shop, lambda: 2_000_000_000_000_000) as opened:
            text = records.profile_bytes(opened, "north-lathe").replace(b"max_rpm = 4500", b"max_rpm = 4200")
            ada = records.find_person(opened, "ada").id
            records.change_profile(opened, ada, "north-lathe", text, "measured again")
    told = release(run, shop)
    assert told.exit_code == 2 and "is held again" in told.stderr and what in told.stderr
    assert state_of(shop, 2) == "held" and floor(shop).read_bytes() == bytes_of("base.nc")
    assert release(run, shop).exit_code == 2
    assert decide(run, shop).exit_code == 0 and release(run, shop).exit_code == 0
    assert floor(shop).read_bytes() == bytes_of(CHANGED)


def test_a_waiting_revision_is_checked_again_once_another_base_is_released(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert act(run, shop, "check-again", "leo").exit_code == 2, "nothing has changed"
    submit(run, shop, program(SAME))
    assert release(run, shop).exit_code == 0
    late = act(
        run, shop, "decide", "leo", "--revision", 2, "--verdict", "approve", "--reason", "r", "--report", "0" * 64
    )
    assert late.exit_code == 2
    told = act(run, shop, "check-again", "leo", "--revision", 2)
    assert told.exit_code == 0 and "checked again, because this changed: base" in told.stdout
    assert "revision 2 for north-lathe is held" in told.stdout and "position-changed" in told.stdout
    seen = re.findall(r"^report ([0-9a-f]{64})$", told.stdout, re.MULTILINE)[-1]
    words = ("--revision", 2, "--verdict", "approve", "--reason", "looked", "--report", seen)
    assert act(run, shop, "decide", "leo", *words).exit_code == 0
    assert act(run, shop, "release", "pia", "--revision", 2, "--reason", "go").exit_code == 0
    assert floor(shop).read_bytes() == bytes_of(CHANGED)


# -- at the machine ----------------------------------------------------------------------------------------------------


def test_the_read_back_of_another_program_is_kept_and_confirms_nothing(run: Run, shop: Path) -> None:
    back = act(run, shop, "readback", "otto", program(CHANGED))
    assert back.exit_code == 1 and "X34.7" in back.stdout and "read-back 1 is not the release" in back.stdout
    told = act(run, shop, "confirm", "otto", "--readback", 1)
    assert told.exit_code == 2 and "not the release" in told.stderr
    drift = run("shop", "check", "--shop", shop)
    assert drift.exit_code == 1 and "read-back differs" in drift.stdout
    assert submit(run, shop, program(CHANGED), "otto").exit_code == 1, "an operator may hand in what was read back"


def test_a_read_back_confirms_once_and_only_after_the_release(run: Run, shop: Path) -> None:
    early = readback(run, shop, program("base.nc"))
    assert act(run, shop, "confirm", "otto", "--readback", early).exit_code == 0
    assert act(run, shop, "confirm", "otto", "--readback", early).exit_code == 2
    assert act(run, shop, "confirm", "otto", "--readback", 99).exit_code == 2
    before = readback(run, shop, program("base.nc"))
    cleared(run, shop)
    release(run, shop)
    told = act(run, shop, "confirm", "otto", "--readback", before)
    assert told.exit_code == 2 and "another" in told.stderr


def test_confirming_by_code_needs_the_code_and_both_words(run: Run, shop: Path) -> None:
    cleared(run, shop)
    told = release(run, shop).stdout
    code, words = challenge(run, shop)
    assert f"check code {code}" in told
    asked = re.findall(r"read from the control: (line [0-9]+), word ([A-Z])$", told, flags=re.MULTILINE)
    assert len(asked) == len(words) == 2
    lines = bytes_of(CHANGED).decode().splitlines()
    for (line, letter), word in zip(asked, words, strict=True):
        assert word[0] == letter and word in lines[int(line.split()[1]) - 1]
    first, second = words
    for given in (
        ("--code", "AAAAAAAA", "--word", first, "--word", second),
        ("--code", code, "--word", first),
        ("--code", code),
        ("--code", code, "--word", second, "--word", first),
        ("--code", code, "--word", first, "--word", second, "--word", second),
        ("--code", code, "--word", first.replace(".", ""), "--word", second),
        ("--code", code, "--word", "", "--word", ""),
        ("--word", first, "--word", second),
        ("--code", code, "--readback", 1),
        (),
    ):
        assert act(run, shop, "confirm", "otto", *given).exit_code == 2, given
    zeros = {word: "0" if "." in word else "" for word in words}
    spelled = (f" {code.lower()} ", first.lower() + zeros[first], " " + second + zeros[second])
    done = act(run, shop, "confirm", "otto", "--code", spelled[0], "--word", spelled[1], "--word", spelled[2])
    assert done.exit_code == 0 and "confirmed by check code (weak)" in done.stdout
    assert "what this machine held is not verified" in done.stdout


def test_a_critical_change_is_not_confirmed_by_code(run: Run, shop: Path) -> None:
    names = ticks(submit(run, shop, program(CRITICAL)).stdout)
    assert decide(run, shop, words=seen_as(names)).exit_code == 0
    release(run, shop)
    code, words = challenge(run, shop)
    given = [part for word in words for part in ("--word", word)]
    told = act(run, shop, "confirm", "otto", "--code", code, *given)
    assert told.exit_code == 2 and "read-back only" in told.stderr
    assert act(run, shop, "confirm", "otto", "--readback", readback(run, shop, program(CRITICAL))).exit_code == 0


def test_readings_confirm_no_ordinary_release(run: Run, shop: Path) -> None:
    before = contents(shop)
    told = act(run, shop, "confirm", "otto", "--readings", "34.7")
    assert told.exit_code == 2 and "not in prove-out" in told.stderr
    assert contents(shop) == before, "it is a slip of the tongue, and no refused confirmation in the ledger"


def test_a_program_and_what_it_calls_are_released_in_one_act(run: Run, shop: Path, tmp_path: Path) -> None:
    main, sub = tmp_path / "main.nc", tmp_path / "sub.nc"
    main.write_text("O7 (A)\nN1 G21 G40 G97 G99\nT0101\nS500 M03\nG00 X50. Z2.\nM98 P8\nG00 X100. Z50.\nM05\nM30\n")
    sub.write_text("O8 (B)\nG01 Z-10. F0.2\nM99\n")

    def by(verb: str, who: str, name: str, *words: object) -> Result:
        return run(verb, "--shop", shop, "--by", who, "--for", "north-lathe", name, *words, "--reason", "r")

    def signed(name: str, file: Path, *words: str) -> None:
        told = by("submit", "pia", name, file, *words)
        digest = told.stdout.strip().rsplit("report ", 1)[1]
        with records.open_shop(shop, lambda: 1) as opened:
            wanted = records.wanted_ticks(opened, records.revisions(opened, name, "north-lathe")[-1].id)
        seen = [word for one in wanted for word in ("--seen", one.name)]
        assert by("decide", "leo", name, "--verdict", "approve", "--report", digest, *seen).exit_code == 0

    signed("O8", sub)
    assert by("release", "pia", "O8").exit_code == 0
    sub.write_text("O8 (B)\nG01 Z-12. F0.2\nM99\n")
    signed("O8", sub)
    signed("O7", main, "--beside", "O8")
    alone = by("release", "pia", "O7")
    assert alone.exit_code != 0 and "release the two together" in alone.output
    both = by("release", "pia", "O7", "--beside", "O8")
    assert both.exit_code == 0 and "O8 revision 2 is released" in both.stdout
    assert floor(shop).with_name("O8.NC").read_bytes() == sub.read_bytes()
