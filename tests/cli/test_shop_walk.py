"""The whole way on a local shop, and every refusal on it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from tests.cli.conftest import Run, act, decide, program, release, report_of, submit

SAME, CHANGED = "renumbered-respaced.nc", "seal-groove-0.3-smaller.nc"


def floor(shop: Path) -> Path:
    return shop / "floor" / "north" / "O2101.NC"


def test_submit_decide_release_read_back_confirm(run: Run, shop: Path, tmp_path: Path) -> None:
    assert floor(shop).read_bytes() == program("base.nc").read_bytes()
    held = submit(run, shop, program(CHANGED))
    assert held.exit_code == 1 and "position-changed" in held.stdout
    assert decide(run, shop).exit_code == 0
    assert release(run, shop, "pia").exit_code == 0
    assert floor(shop).read_bytes() == program(CHANGED).read_bytes()
    sent = tmp_path / "sent.nc"
    sent.write_bytes(program(CHANGED).read_bytes().replace(b" ", b""))
    back = act(run, shop, "readback", "otto", sent)
    assert back.exit_code == 0 and "word for word" in back.stdout
    number = back.stdout.split("read-back ")[1].split()[0]
    confirmed = act(run, shop, "confirm", "otto", "--readback", number)
    assert confirmed.exit_code == 0 and "strong" in confirmed.stdout
    assert run("ledger", "verify", "--shop", shop).exit_code == 0
    acts = run("history", "--shop", shop, "--for", "north-lathe", "O2101").stdout
    assert [word for word in ("submitted", "approved", "released", "read back", "confirmed") if word not in acts] == []


def test_a_cleared_revision_needs_no_lead(run: Run, shop: Path) -> None:
    assert submit(run, shop, program(SAME)).exit_code == 0
    assert release(run, shop, "pia").exit_code == 0


def test_nobody_decides_on_their_own(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED), "both")
    told = decide(run, shop, "both")
    assert told.exit_code == 2 and "own" in told.stderr


@pytest.mark.parametrize("who", ["pia", "otto"])
def test_only_a_lead_decides(who: str, run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert decide(run, shop, who).exit_code == 2


def test_an_operator_does_not_submit_and_a_programmer_does_not_confirm(run: Run, shop: Path) -> None:
    assert submit(run, shop, program(CHANGED), "otto").exit_code == 2
    back = act(run, shop, "readback", "otto", program("base.nc"))
    number = back.stdout.split("read-back ")[1].split()[0]
    assert act(run, shop, "confirm", "pia", "--readback", number).exit_code == 2


def test_a_decision_on_another_report_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    first = report_of(run, shop)
    submit(run, shop, program("decimal-point-lost.nc"))
    assert decide(run, shop, seen=first).exit_code == 2


def test_a_decision_after_another_base_was_released_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    digest = report_of(run, shop)
    submit(run, shop, program(SAME))
    assert release(run, shop).exit_code == 0
    told = act(run, shop, "decide", "leo", "--revision", 2, "--verdict", "approve", "--reason", "r", "--report", digest)
    assert told.exit_code == 2


def test_release_without_a_sign_off_is_refused(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    assert release(run, shop).exit_code == 2
    assert floor(shop).read_bytes() == program("base.nc").read_bytes()


def test_a_release_after_the_policy_changed_is_held_again(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    decide(run, shop)
    policy = program("base.nc").parents[2] / "policy.toml"
    assert run("shop", "policy", "--shop", shop, "--by", "leo", "--reason", "stricter", policy).exit_code == 0
    told = release(run, shop)
    assert told.exit_code == 2 and "policy" in told.stderr
    assert decide(run, shop).exit_code == 0
    assert release(run, shop).exit_code == 0


def test_a_wrong_pin_decides_nothing(run: Run, shop: Path, tmp_path: Path) -> None:
    submit(run, shop, program(CHANGED))
    wrong = tmp_path / "pin"
    wrong.write_text("000000")
    words = ("--verdict", "approve", "--reason", "r", "--report", report_of(run, shop), "--pin-file", wrong)
    told = act(run, shop, "decide", "leo", *words)
    assert told.exit_code == 2 and "PIN" in told.stderr


def test_the_read_back_of_another_program_confirms_nothing(run: Run, shop: Path) -> None:
    back = act(run, shop, "readback", "otto", program(CHANGED))
    assert back.exit_code == 1 and "X34.7" in back.stdout
    assert act(run, shop, "confirm", "otto", "--readback", 1).exit_code == 2


def test_confirming_by_code_needs_the_code_and_both_words(run: Run, shop: Path) -> None:
    submit(run, shop, program(CHANGED))
    decide(run, shop)
    told = release(run, shop).stdout
    code = told.split("check code ")[1].split()[0]
    assert told.count("read from the control") == 2
    from verifier import records

    with records.open_shop(shop, lambda: 1) as opened:
        (standing,) = records.at_machine(opened, "north-lathe")
    words = [word for entry in standing.challenge for word in ("--word", entry.word)]
    assert act(run, shop, "confirm", "otto", "--code", "AAAAAAAA", *words).exit_code == 2
    assert act(run, shop, "confirm", "otto", "--code", code, *words[:2]).exit_code == 2
    done = act(run, shop, "confirm", "otto", "--code", code, *words)
    assert done.exit_code == 0 and "weak" in done.stdout


def test_a_folder_that_cannot_be_written_leaves_the_job_and_says_why(run: Run, shop: Path) -> None:
    place = floor(shop).parent
    kept = floor(shop).read_bytes()
    floor(shop).unlink()
    for file in place.iterdir():
        file.unlink()
    place.rmdir()
    place.write_text("in the way")
    submit(run, shop, program(SAME))
    told = release(run, shop)
    assert told.exit_code == 1 and "not yet at the machine" in told.stdout
    place.unlink()
    place.mkdir()
    floor(shop).write_bytes(kept)
    run("shop", "check", "--shop", shop)
    assert floor(shop).read_bytes() == program(SAME).read_bytes()


def test_recall_takes_the_floor_copy_away(run: Run, shop: Path) -> None:
    told = act(run, shop, "recall", "leo", "--reason", "broken insert")
    assert told.exit_code == 0 and "STOP" in told.stdout and "north-lathe" in told.stdout
    assert not floor(shop).exists()


def test_an_edited_floor_copy_is_drift(run: Run, shop: Path) -> None:
    assert run("shop", "check", "--shop", shop).exit_code == 0
    floor(shop).write_bytes(floor(shop).read_bytes().replace(b"X35.", b"X36.", 1))
    told = run("shop", "check", "--shop", shop)
    assert told.exit_code == 1 and "O2101.NC" in told.stdout


def test_an_altered_record_is_found(run: Run, shop: Path) -> None:
    (file,) = [path for path in shop.iterdir() if path.suffix in (".db", ".sqlite", ".sqlite3")]
    with sqlite3.connect(file) as raw:
        names = [row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type='trigger'")]
        for name in names:
            raw.execute(f'DROP TRIGGER "{name}"')
        raw.execute("UPDATE revision SET sha = (SELECT sha FROM body ORDER BY sha DESC LIMIT 1)")
    assert run("ledger", "verify", "--shop", shop).exit_code in (1, 2)
