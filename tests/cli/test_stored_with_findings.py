"""What can be read at all is judged and stored, not refused: the named finding is there, the exit code is the contract's, nothing breaks."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import GOOD, HEAD, TAIL, Run
from verifier import records

ROUGH = "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.2\n"

# What is typed between head and tail -> the rule that must speak, and how heavily.
TYPED: dict[str, tuple[str, str, str]] = {
    "full-width digits": ("G01 X５０. F0.2", "look-alike-character", "major"),
    "a letter of another alphabet": ("G01 Х50. F0.2", "look-alike-character", "major"),
    "a no-break space": ("G01 X50.\u00a0F0.2", "look-alike-character", "major"),
    "a soft hyphen in a number": ("G01 X5\u00ad0. F0.2", "look-alike-character", "major"),
    "letter O for zero in a code": ("GO1 X50. F0.2", "unreadable-block", "critical"),
    "letter O for zero in a number": ("G01 X5O. F0.2", "unreadable-block", "critical"),
    "an unclosed note that hides a block": ("(ROUGH G01 X50. F0.2\nG01 Z-5. F0.2", "text-problem", "major"),
    "a note inside a note": ("G01 X50. F0.2 (FIRST (ROUGH) CUT)", "text-problem", "minor"),
    "a note inside a note with a word behind it": ("G01 X50. F0.2 (FIRST (ROUGH) Z-9.)", "text-problem", "major"),
    "two codes of one group": ("G00 G01 X50. F0.2", "contradicting-words", "major"),
    "two speed modes": ("G96 G97 S100", "contradicting-words", "major"),
    "two spindle senses": ("M03 M04", "contradicting-words", "major"),
    "a word twice": ("N123 G01 Z-4.5 F.00 F.0086", "contradicting-words", "major"),
    "an axis twice with a code between": ("G01 Z-1.375 F0.2 G01 Z-1.365", "contradicting-words", "major"),
    "a target twice": ("N180 G00 Z52. Z3.", "contradicting-words", "major"),
    "an axis without its number": ("N170 G01 X0 Y F0.2", "unreadable-block", "critical"),
    "a sign without its number": ("G01 X- F0.2", "unreadable-block", "critical"),
    "a point without digits": ("G01 X. F0.2", "unreadable-block", "critical"),
    "two points, glued": ("G00X54.5.Z0.", "unreadable-block", "critical"),
    "two points before a feed": ("G01Z-0.5.F0.03", "unreadable-block", "critical"),
    "a comma for the point": ("G00 Z,15", "unreadable-block", "critical"),
    "a remark without brackets": ("finish the face", "unreadable-block", "critical"),
    "a bar written in square brackets": ("[STOCK X60 Z85.4", "unreadable-block", "critical"),
    "an unfinished merge": (
        "<<<<<<< HEAD\nG01 X50. F0.2\n=======\nG01 X51. F0.2\n>>>>>>> other",
        "unreadable-block",
        "critical",
    ),
    "a contour without its first label": (ROUGH + "N11 G00 X40.\nG01 Z-9.\nN20 X62.", "contour-label-missing", "critical"),
    "a contour without its last label": (ROUGH + "N10 G00 X40.\nG01 Z-9.\nX62.", "contour-label-missing", "critical"),
    "a contour with its label twice": (
        ROUGH + "N10 G00 X40.\nN10 G01 Z-9.\nN20 X62.", "contour-label-repeated", "major"
    ),
    "a loop that never ends": ("G01 U-0.5 F0.2\nM98 P1", "run-does-not-end", "critical"),
    "a call of a program that is not there": ("M98 P4711", "subprogram-missing", "critical"),
}  # fmt: skip

WHOLE: dict[str, tuple[str, str, str]] = {
    "program end missing": (GOOD.replace("M30\n", ""), "program-end-missing", "major"),
    "text before the start": ("this is the good one\n%\n" + GOOD + "%\n", "text-problem", "major"),
    "text behind the end": ("%\n" + GOOD + "%\nG01 X10.\n", "text-problem", "major"),
    "line ends of two kinds": (GOOD.replace("\n", "\r\n", 3), "text-problem", "minor"),
    "a byte order mark": ("\ufeff" + GOOD, "text-problem", "minor"),
}


def _cases() -> list[tuple[str, bytes, str, str]]:
    typed = [(name, (HEAD + body + "\n" + TAIL).encode(), rule, weight) for name, (body, rule, weight) in TYPED.items()]
    return typed + [(name, text.encode(), rule, weight) for name, (text, rule, weight) in WHOLE.items()]


@pytest.fixture(params=_cases(), ids=lambda case: case[0])
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str, str]:
    """One program with its fault: file, rule, weight."""
    _, data, rule, weight = request.param
    file = tmp_path / "program.nc"
    file.write_bytes(data)
    return file, rule, weight


def _told(report: dict[str, Any], rule: str, weight: str) -> bool:
    return any(f["rule"] == rule and f["weight"] == weight for f in report["findings"])


def test_check_names_the_fault_and_exits_by_its_weight(case: tuple[Path, str, str], run: Run) -> None:
    file, rule, weight = case
    done = run("check", file, "--as", "json")
    report = json.loads(done.stdout)
    assert _told(report, rule, weight), [(f["rule"], f["weight"]) for f in report["findings"]]
    assert done.exit_code == int(any(f["weight"] != "minor" for f in report["findings"]))
    for form in ("text", "html"):
        shown = run("check", file, "--as", form, "--all")
        assert shown.exit_code == done.exit_code and rule in shown.stdout


def test_compare_names_the_fault_as_new_and_its_repair_as_gone(
    case: tuple[Path, str, str], run: Run, tmp_path: Path
) -> None:
    file, rule, weight = case
    good = tmp_path / "good.nc"
    good.write_text(GOOD)
    for old, new, status in ((good, file, "new"), (file, good, "gone")):
        done = run("compare", old, new, "--as", "json")
        report = json.loads(done.stdout)
        found = [f for f in report["findings"] if f["rule"] == rule and f["status"] == status]
        assert found, [(f["rule"], f["status"]) for f in report["findings"]]
        if status == "new" and weight != "minor":
            assert rule in report["sign_off"]["reasons"]
        undetermined = report["verdict"] == "undetermined"
        assert done.exit_code == (3 if undetermined else int(report["sign_off"]["required"]))


def test_what_is_faulty_on_both_sides_is_still_the_same(case: tuple[Path, str, str], run: Run) -> None:
    file, rule, _ = case
    done = run("compare", file, file, "--as", "json")
    report = json.loads(done.stdout)
    assert report["verdict"] == "same behaviour" and done.exit_code == 0
    assert [f["status"] for f in report["findings"] if f["rule"] == rule] != []
    assert {f["status"] for f in report["findings"]} == {"still there"}


def test_every_one_is_stored_as_it_came_and_held(run: Run, shop: Path, tmp_path: Path) -> None:
    bodies = []
    for number, (name, data, rule, weight) in enumerate(_cases(), start=1):
        data = data.replace(b"O1 (SPACER)", f"O{number} (SPACER)".encode()).replace(b"M98 P1\n", b"M98 P%d\n" % number)
        file = tmp_path / f"o{number}.nc"
        file.write_bytes(data)
        bodies.append(data)
        words = ("--by", "pia", "--for", "north-lathe", f"O{number}", file, "--reason", name, "--all")
        told = run("submit", "--shop", shop, *words)
        assert told.exit_code == 1 and rule in told.stdout, name
        assert f"O{number} revision 1 for north-lathe is held: first submission" in told.stdout
        assert weight == "minor" or rule in told.stdout.split("is held: ")[1], name
    with records.open_shop(shop, lambda: 1) as opened:
        for number, data in enumerate(bodies, start=1):
            (revision,) = records.revisions(opened, f"O{number}", "north-lathe")
            assert records.body(opened, revision.sha) == data
    assert records.verify_ledger(shop).ok


def test_a_program_that_repeats_for_ever_is_run_until_its_state_repeats(run: Run, tmp_path: Path) -> None:
    """M99 at the end is normal in bar work: it ends, and is no fault."""
    bar, once = tmp_path / "bar.nc", tmp_path / "once.nc"
    bar.write_text(GOOD.replace("M30", "M99"))
    once.write_text(GOOD)
    report = json.loads(run("compare", bar, bar, "--as", "json").stdout)
    assert report["verdict"] == "same behaviour"
    assert {"run-does-not-end", "program-end-missing"} & {f["rule"] for f in report["findings"]} == set()
    report = json.loads(run("compare", once, bar, "--as", "json").stdout)
    assert report["verdict"] != "same behaviour"
    assert "program-end-became-repeat" in {f["rule"] for f in report["findings"]}


class _Page(HTMLParser):
    """What a browser would take for markup."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.text: list[str] = []
        self.pictures = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.pictures += tag == "svg" and ("class", "small") not in attrs
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


HOSTILE = (
    "(TURN 50. <script>alert(1)</script>)\n", "(D50. <img src=x onerror=alert(1)>)\n", '(D50. " onload="x" <b>)\n',
    "<svg/onload=alert(1)>\n", "(D50. &lt;script&gt; </style></title> {{ 7*7 }})\n",
)  # fmt: skip


@pytest.mark.parametrize("note", HOSTILE)
@pytest.mark.parametrize("command", ["compare", "check"])
def test_markup_in_a_program_is_shown_as_text(command: str, note: str, run: Run, tmp_path: Path) -> None:
    old, new = tmp_path / "old.nc", tmp_path / "<i>new & old.nc"
    old.write_text(HEAD + note + "G01 X50. F0.2\n" + TAIL)
    new.write_text(HEAD + note.replace("50.", "51.") + note.replace("D", "E") + "G01 X51. F0.2\n" + TAIL)
    files = (old, new) if command == "compare" else (new,)
    shown = run(command, *files, "--as", "html", "--all")
    assert shown.exit_code in (0, 1)
    page = _Page()
    page.feed(shown.stdout)
    assert {"script", "img", "b", "i"} & set(page.tags) == set()
    assert page.pictures == 1, "the picture, and no other beside the small ones of the cards"
    assert [name for name in page.attributes if name.startswith("on")] == [] and "49" not in "".join(page.text).split()
    assert "<i>new & old.nc" in "".join(page.text)
