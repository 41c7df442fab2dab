"""Bad input is refused with exit code 2 and a clear message that says where, and nothing is stored."""

from __future__ import annotations

import gzip
import io
import json
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.cli.conftest import GOOD, HEAD, SHOP, Run, act, contents, error_object, program, really, submit
from tests.report.contract import DIGEST

BASE = program("base.nc")
PLAIN = GOOD.encode()


def _zip() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("o1.nc", PLAIN)
    return held.getvalue()


def _tar() -> bytes:
    held = io.BytesIO()
    with tarfile.open(fileobj=held, mode="w") as archive:
        archive.addfile(tarfile.TarInfo("o1.nc"))
    return held.getvalue()


def _parity(text: bytes, *, odd: bool) -> bytes:
    """ISO tape code with its parity hole: the eighth bit makes the number of ones even, or odd."""
    return bytes(byte | (0x80 if (byte.bit_count() & 1) != odd else 0) for byte in text)


def _zero_inside() -> bytes:
    return b"O1\nG00 X50.\nG01 \x00X40.\nM30\n"


# Bytes -> (code, line, column).
REFUSED: dict[str, tuple[bytes, str, int, int]] = {
    "empty": (b"", "empty", 1, 1),
    "blanks only": (b" \r\n\t\r\n", "empty", 1, 1),
    "nothing but tape ends": (b"%\n%\n", "empty", 1, 1),
    "binary": (b"O1\n" + bytes(range(1, 32)) * 40, "binary", 2, 1),
    "a zero byte in line 3": (_zero_inside(), "binary", 3, 5),
    "zip": (_zip(), "archive", 1, 1),
    "gzip": (gzip.compress(PLAIN), "archive", 1, 1),
    "tar": (_tar(), "archive", 1, 1),
    "pdf": (b"%PDF-1.7\n" + PLAIN, "document", 1, 1),
    "an executable": (b"\x7fELF" + bytes(60), "binary", 1, 1),
    "utf-16 with its mark": (GOOD.encode("utf-16"), "utf-16", 1, 1),
    "utf-16 without": (GOOD.encode("utf-16-be"), "utf-16", 1, 1),
    "even tape parity": (_parity(PLAIN, odd=False), "tape-parity", 1, 1),
    "odd tape parity": (_parity(PLAIN, odd=True), "tape-parity", 1, 1),
    "a line of 100,000 characters": (b"O1\nG01 X1." + b"0" * 99_993 + b"\nM30\n", "line-too-long", 2, 65_537),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_refused_program_ends_with_2_and_says_file_line_and_column(name: str, run: Run, tmp_path: Path) -> None:
    data, code, line, column = REFUSED[name]
    bad, good = tmp_path / "bad.nc", tmp_path / "good.nc"
    bad.write_bytes(data)
    good.write_bytes(PLAIN)
    for words in (("compare", good, bad), ("compare", bad, good), ("check", bad)):
        told = run(*words)
        assert told.exit_code == 2 and told.stdout == ""
        assert f"{bad}: refused ({code}): line {line}, column {column}: " in told.stderr
        assert "hint: " in told.stderr
        (problem,) = error_object(run(*words, "--as", "json"))["problems"]
        assert (problem["code"], problem["line"], problem["column"]) == (code, line, column)
        assert problem["file"] == str(bad) and problem["expected"] and problem["hint"]


@pytest.mark.parametrize("name", REFUSED)
def test_a_refused_program_is_not_stored(name: str, run: Run, shop: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.nc"
    bad.write_bytes(REFUSED[name][0])
    before = contents(shop)
    told = submit(run, shop, bad)
    assert told.exit_code == 2 and REFUSED[name][1] in told.stderr
    assert contents(shop) == before


def test_a_program_of_70_mib_is_refused_and_not_stored(run: Run, shop: Path, tmp_path: Path) -> None:
    big = tmp_path / "big.nc"
    with big.open("wb") as file:
        for _ in range(70):
            file.write(b"G01 X10.000 Z-5\n" * (1 << 16))
    before = contents(shop)
    for told in (run("check", big), submit(run, shop, big)):
        assert told.exit_code == 2 and "too-large" in told.stderr and str(64 * 1024 * 1024) in told.stderr
    assert contents(shop) == before


def test_every_line_over_the_limit_is_told(run: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.nc"
    bad.write_bytes(b"O1\n(" + b"A" * 70_000 + b")\nG00 X1.\n(" + b"B" * 70_000 + b")\nM30\n")
    problems = error_object(run("check", bad, "--as", "json"))["problems"]
    assert [(p["code"], p["line"]) for p in problems] == [("line-too-long", 2), ("line-too-long", 4)]


@pytest.mark.parametrize("option", ["program", "--machine", "--setup", "--policy", "--library"])
@pytest.mark.parametrize("what", ["absent", "folder"])
def test_a_file_that_is_none_is_refused_by_name(what: str, option: str, run: Run, tmp_path: Path) -> None:
    if (option, what) == ("--library", "folder"):
        pytest.skip("a library is a folder")
    place = tmp_path / "absent.nc" if what == "absent" else tmp_path
    words = ("check", place) if option == "program" else ("check", BASE, option, place)
    told = run(*words)
    assert told.exit_code == 2 and str(place) in told.stderr and told.stdout == ""
    assert str(place) in error_object(run(*words, "--as", "json"))["problems"][0]["message"]


@pytest.mark.parametrize("what", ["program", "--setup"])
def test_a_submission_whose_files_are_not_there_is_not_stored(what: str, run: Run, shop: Path, tmp_path: Path) -> None:
    before = contents(shop)
    absent = tmp_path / "absent"
    words = (absent,) if what == "program" else (BASE, "--setup", absent)
    told = act(run, shop, "submit", "pia", *words, "--reason", "r")
    assert told.exit_code == 2 and str(absent) in told.stderr
    assert contents(shop) == before


def test_a_library_that_is_a_file_or_holds_something_else_is_refused_by_name(run: Run, tmp_path: Path) -> None:
    told = run("check", BASE, "--library", BASE)
    assert told.exit_code == 2 and "is not a folder" in told.stderr
    (tmp_path / "o100.nc").write_bytes(b"O100\nM99\n")
    (tmp_path / "o200.zip").write_bytes(_zip())
    told = run("check", BASE, "--library", tmp_path)
    assert told.exit_code == 2 and f"{tmp_path / 'o200.zip'}: refused (archive)" in told.stderr


NOT_NAMES = [
    "../O1", "/etc/O1", "a/b", "..", ".", "CON", "com1", "aux.nc", "nul", "O0", "O123456789", "a b", "", "O1\n", "-x", "\uff2f1",
]  # fmt: skip


@pytest.mark.parametrize("name", NOT_NAMES)
def test_a_path_or_a_reserved_name_is_no_program_name(name: str, run: Run, shop: Path) -> None:
    before = contents(shop)
    words = ("--by", "pia", "--for", "north-lathe", "--reason", "r", "--", name, BASE)
    told = run("submit", "--shop", shop, *words)
    assert told.exit_code == 2 and "cannot be the name of a program" in told.stderr
    assert contents(shop) == before


MACHINE_MISTAKES = {
    'turret = "front"': ('turret = "sideways"', "turret"),
    "tool_change_seconds = 2.6": ("tool_change_second = 2.6", "tool_change_second"),
    "max_rpm = 3200": ('max_rpm = "fast"', "spindle.max_rpm"),
    'meaning = "chuck close"\nweight = "critical"': ('meaning = "chuck close"\nweight = "heavy"', "m_codes.68.weight"),
    'semicolon = "end-of-block"': ('semicolon = "whatever"', "choices.semicolon"),
}


def _spoilt(text: str, mistakes: dict[str, tuple[str, str]]) -> str:
    for right, (wrong, _) in mistakes.items():
        assert text.count(right) == 1, right
        text = text.replace(right, wrong)
    return text


SETUP_MISTAKES = {
    'units = "mm"': ('units = "furlong"', "units"),
    "diameter = 60\n": ("diametre = 60\n", "diametre"),
    'grips = "outside"': ('grips = "sideways"', "grips"),
    "nose_radius = 0.8": ('nose_radius = "big"', "nose_radius"),
    "upper = 0.021": ("uper = 0.021", "uper"),
}
POLICY = """name = "p"
version = "two"
tolerance_class = "z"
[thresholds]
feed_ratio_minor = "a lot"
feed_ration_major = 1.25
[sign_off]
critical = "yes"
"""
POLICY_KEYS = ("version", "tolerance_class", "feed_ratio_minor", "feed_ration_major", "sign_off.critical")


@pytest.mark.parametrize("kind", ["machine", "setup", "policy"])
def test_all_five_mistakes_of_a_file_are_told_in_one_run(kind: str, run: Run, shop: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    if kind == "policy":
        bad.write_text(POLICY)
        keys: tuple[str, ...] = POLICY_KEYS
    else:
        file, mistakes = (
            ("machines/dock-lathe.toml", MACHINE_MISTAKES)
            if kind == "machine"
            else ("setups/flanged-sleeve.toml", SETUP_MISTAKES)
        )
        bad.write_text(_spoilt((SHOP / file).read_text(encoding="utf-8"), mistakes))
        keys = tuple(key for _, key in mistakes.values())
    for words in (("check", BASE, f"--{kind}", bad), (kind, "show", bad)):
        told = run(*words)
        assert told.exit_code == 2 and told.stdout == ""
        assert [key for key in keys if key not in told.stderr] == []
    problems = error_object(run("check", BASE, f"--{kind}", bad, "--as", "json"))["problems"]
    assert len(problems) >= 5
    assert all(str(bad) in problem["message"] and "expected" in problem["message"] for problem in problems)
    before = contents(shop)
    acts = {
        "machine": ("shop", "machine", "--shop", shop, "--by", "ada", bad, "--folder", "floor/other"),
        "setup": ("submit", "--shop", shop, "--by", "pia", "--for", "north-lathe", "O2101", BASE, "--reason", "r", "--setup", bad),
        "policy": ("shop", "policy", "--shop", shop, "--by", "leo", "--reason", "r", bad),
    }  # fmt: skip
    told = run(*acts[kind])
    assert told.exit_code == 2 and [key for key in keys if key not in told.stderr] == []
    assert contents(shop) == before


def test_a_file_that_is_no_toml_says_where(run: Run, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\nversion = \n')
    for option in ("--machine", "--setup", "--policy"):
        told = run("check", BASE, option, bad)
        assert told.exit_code == 2 and "not TOML" in told.stderr and "line 2" in told.stderr


def test_a_rule_that_does_not_exist_is_refused_where_it_is_weighed_and_where_it_is_asked_for(
    run: Run, shop: Path, tmp_path: Path
) -> None:
    policy = tmp_path / "policy.toml"
    policy.write_text('name = "p"\nversion = 1\n[weights]\nfeed-chnged = "minor"\nspindle-on-fire = "major"\n')
    for words in (("check", BASE, "--policy", policy), ("policy", "show", policy)):
        told = run(*words)
        assert told.exit_code == 2 and "feed-chnged" in told.stderr and "spindle-on-fire" in told.stderr
    before = contents(shop)
    assert run("shop", "policy", "--shop", shop, "--by", "leo", "--reason", "r", policy).exit_code == 2
    assert contents(shop) == before
    told = run("rules", "feed-chnged")
    assert told.exit_code == 2 and "feed-chnged" in told.stderr
    assert run("rules", "feed-changed").exit_code == 0


def test_standard_input_is_refused_like_a_file(run: Run) -> None:
    for data, code in ((b"", "empty"), (GOOD.encode("utf-16"), "utf-16"), (_zip(), "archive")):
        told = run("check", "-", given=data)
        assert told.exit_code == 2 and told.stdout == ""
        assert f"standard input: refused ({code}): line 1, column 1" in told.stderr
    spoken = really("compare", BASE, "-", "--as", "json", given=_zip())
    assert (spoken.returncode, spoken.stderr) == (2, b"")
    assert json.loads(spoken.stdout)["problems"][0]["file"] == "standard input"


def test_standard_input_is_read_no_further_than_a_program_may_be(run: Run) -> None:
    told = run("check", "-", given=b"G01 X10.000 Z-5\n" * (66 << 16))
    assert told.exit_code == 2 and "too-large" in told.stderr


def test_two_programs_cannot_both_come_from_standard_input(run: Run) -> None:
    told = run("compare", "-", "-", given=PLAIN)
    assert told.exit_code == 2 and "only one" in told.stderr


@pytest.mark.parametrize(
    "words", [("compare", "one.nc"), ("check",), ("check", "x", "--as", "jsn"), ("compare", "a", "b", "--hurry")]
)
def test_wrong_usage_ends_with_2(words: tuple[str, ...], run: Run) -> None:
    told = run(*words)
    assert told.exit_code == 2 and "Usage:" in told.stderr and told.stdout == ""
    if "jsn" not in words:
        for form in (("--as", "json"), ("--as=json",)):
            assert error_object(run(*words, *form))["problems"][0]["hint"]


def test_good_input_beside_the_bad_is_taken(run: Run, tmp_path: Path) -> None:
    """What the refusals above are measured against: the very same program is accepted."""
    good = tmp_path / "good.nc"
    good.write_bytes(PLAIN)
    assert run("check", good).exit_code == 0 and HEAD.encode() in good.read_bytes()
    DIGEST(json.loads(run("check", good, "--as", "json").stdout)["digest"], "digest")
