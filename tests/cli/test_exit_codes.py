"""Exit codes of compare and check, and what they read: 0 the same, 1 a lead must sign, 2 refused, 3 undetermined."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.conftest import GOOD, HEAD, SHOP, TAIL, Run, program, really
from verifier.cli import main
from verifier.cli.ending import EXIT_MISTAKE

LOUDER = GOOD.replace("Z-20.", "Z-20.4")
RESPELLED = "(SAME AGAIN)\n" + GOOD.replace("G01 X50. F0.2", "N10 G1X50.000F.2")
UNKNOWN = HEAD + "G01 X50. F0.2\nG01 Z#501\n" + TAIL
UNKNOWN_TOO = UNKNOWN.replace("#501", "#502")
MINOR = GOOD.replace("F0.2", "F0.22")

# old, new -> verdict, exit code
PAIRS = {
    "the same bytes": (GOOD, GOOD, "same behaviour", 0),
    "spelled otherwise": (GOOD, RESPELLED, "same behaviour", 0),
    "a longer cut": (GOOD, LOUDER, "changed behaviour", 1),
    "a feed a tenth higher": (GOOD, MINOR, "changed behaviour", 0),
    "a clamp taken out": (GOOD, GOOD.replace("G50 S2000\n", ""), "changed behaviour", 1),
    "an unknown on both sides": (UNKNOWN, UNKNOWN, "same behaviour", 0),
    "another unknown": (UNKNOWN, UNKNOWN_TOO, "undetermined", 3),
}


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("form", ["text", "json", "html"])
def test_compare_exits_by_its_verdict_in_every_form(form: str, name: str, run: Run, tmp_path: Path) -> None:
    before, after, verdict, code = PAIRS[name]
    old, new = tmp_path / "old.nc", tmp_path / "new.nc"
    old.write_text(before)
    new.write_text(after)
    done = run("compare", old, new, "--as", form)
    assert done.exit_code == code, done.stdout
    assert verdict in done.stdout.lower()
    if form == "json":
        report = json.loads(done.stdout)
        assert report["verdict"] == verdict
        assert report["sign_off"]["required"] == (code != 0)


def test_undetermined_counts_more_than_a_sign_off_and_a_refusal_more_than_both(run: Run, tmp_path: Path) -> None:
    old, new, policy = tmp_path / "old.nc", tmp_path / "new.nc", tmp_path / "policy.toml"
    old.write_text(UNKNOWN)
    new.write_text(UNKNOWN_TOO)
    policy.write_text('name = "lenient"\nversion = 1\n[sign_off]\nundetermined = false\nmajor = false\n')
    report = json.loads(run("compare", old, new, "--as", "json").stdout)
    assert "undetermined" in report["sign_off"]["reasons"]
    lenient = run("compare", old, new, "--policy", policy, "--as", "json")
    assert not json.loads(lenient.stdout)["sign_off"]["required"] and lenient.exit_code == 3
    assert run("compare", old, new, "--policy", tmp_path / "absent").exit_code == 2


def test_a_sure_change_is_a_change_whatever_else_is_unknown(run: Run, tmp_path: Path) -> None:
    old, new = tmp_path / "old.nc", tmp_path / "new.nc"
    old.write_text(UNKNOWN)
    new.write_text(UNKNOWN_TOO.replace("G50 S2000\n", ""))
    done = run("compare", old, new, "--as", "json")
    report = json.loads(done.stdout)
    assert (report["verdict"], done.exit_code) == ("changed behaviour", 1)
    assert "speed-clamp-removed" in report["sign_off"]["reasons"]
    assert any("unknown" in finding["title"] for finding in report["findings"])


def test_the_policy_settles_whether_a_lead_must_sign(run: Run, tmp_path: Path) -> None:
    old, new, policy = tmp_path / "old.nc", tmp_path / "new.nc", tmp_path / "policy.toml"
    old.write_text(GOOD)
    new.write_text(MINOR)
    policy.write_text('name = "strict"\nversion = 1\n[sign_off]\nminor = true\n')
    assert run("compare", old, new).exit_code == 0
    assert run("compare", old, new, "--policy", policy).exit_code == 1


def test_check_exits_1_for_a_heavy_finding_only(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "o1.nc"
    for text, weights, code in (
        (GOOD, set(), 0),
        (GOOD.replace("X50. F0.2", "X50. F0.2 (A (B) C)"), {"minor"}, 0),
        (GOOD.replace("G50 S2000\n", ""), {"critical"}, 1),
        (GOOD.replace("M30\n", ""), {"major"}, 1),
    ):
        file.write_text(text)
        done = run("check", file, "--as", "json")
        assert {f["weight"] for f in json.loads(done.stdout)["findings"]} == weights
        assert done.exit_code == code and run("check", file).exit_code == code


@pytest.mark.parametrize("side", ["old", "new", "check"])
def test_a_dash_is_standard_input(side: str, run: Run) -> None:
    base, edit = program("base.nc"), program("seal-groove-0.3-smaller.nc")
    words = {"old": ("compare", "-", edit), "new": ("compare", base, "-"), "check": ("check", "-")}[side]
    plain = {"old": ("compare", base, edit), "new": ("compare", base, edit), "check": ("check", edit)}[side]
    given = (base if side == "old" else edit).read_bytes()
    done, there = run(*words, "--as", "json", given=given), run(*plain, "--as", "json")
    assert done.exit_code == there.exit_code
    ours, theirs = json.loads(done.stdout), json.loads(there.stdout)
    assert ours["digest"] == theirs["digest"]
    assert ours["old" if side == "old" else "new"]["name"] == "standard input"


def test_a_real_process_ends_with_the_same_codes_and_reads_a_pipe() -> None:
    base, edit = program("base.nc"), program("seal-groove-0.3-smaller.nc")
    changed = really("compare", base, "-", given=edit.read_bytes())
    assert changed.returncode == 1 and changed.stdout.startswith(b"VERDICT: CHANGED BEHAVIOUR") and not changed.stderr
    refused = really("compare", base, base.with_name("absent.nc"))
    assert refused.returncode == 2 and not refused.stdout and b"absent.nc" in refused.stderr


def test_one_program_under_two_machines_is_a_comparison(run: Run) -> None:
    base = program("base.nc")
    north, dock = SHOP / "machines" / "north-lathe.toml", SHOP / "machines" / "dock-lathe.toml"
    same = run("compare", base, base, "--machine", north, "--old-machine", north)
    moved = run("compare", base, base, "--machine", dock, "--old-machine", north, "--as", "json")
    assert same.exit_code == 0
    report = json.loads(moved.stdout)
    assert moved.exit_code in (1, 3) and report["verdict"] != "same behaviour"
    assert report["old_machine"]["name"] == "north-lathe" and report["machine"]["name"] == "dock-lathe"


def test_a_called_program_is_found_in_the_library_only_where_one_is_given(run: Run, tmp_path: Path) -> None:
    file, library = tmp_path / "o1.nc", tmp_path / "library"
    library.mkdir()
    file.write_text(HEAD + "G01 X50. F0.2\nM98 P4711\n" + TAIL)
    (library / "o4711.nc").write_text("O4711\nG01 Z-20. F0.2\nM99\n")
    without = json.loads(run("check", file, "--as", "json").stdout)
    done = run("check", file, "--library", library, "--as", "json")
    with_it = json.loads(done.stdout)
    assert "subprogram-missing" in {f["rule"] for f in without["findings"]}
    assert done.exit_code == 0 and with_it["findings"] == []
    assert [called["number"] for called in with_it["new"]["called"]] == [4711]


def test_a_mistake_of_the_program_has_a_code_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """70 is EX_SOFTWARE of sysexits.h; Python's own 1 would read as "a lead must sign"."""
    file = tmp_path / "a.nc"
    file.write_text(GOOD)

    def breaks(*_: object, **__: object) -> None:
        raise KeyError("a planted mistake")

    monkeypatch.setattr("verifier.cli.compare.reviewed", breaks)
    done = CliRunner().invoke(main, ["compare", str(file), str(file)])
    assert done.exit_code == EXIT_MISTAKE == 70
    assert "planted mistake" in done.stderr and "nothing above is a verdict" in done.stderr and not done.stdout
    assert (
        CliRunner().invoke(main, ["compare"]).exit_code == 2 and CliRunner().invoke(main, ["--version"]).exit_code == 0
    )
