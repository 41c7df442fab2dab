"""Unknowns: an unknown is equal to itself; where it could make the sides differ the verdict is never that they are the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.render import text
from tests.properties.reviewing import review, shown, told
from tests.properties.sizes import few
from tests.properties.strategies import jobs

HEAD = "O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X60. Z2.\n"
TAIL = "G00 X80. Z50.\nM05\nM30\n"


def program(*blocks: str) -> bytes:
    return (HEAD + "\n".join(blocks) + "\n" + TAIL).encode()


UNKNOWN = {
    "a coordinate": ("G01 X#101 F0.2", "G01 X#102 F0.2"),
    "an expression": ("G01 X[#101+1.] F0.2", "G01 X[#101+2.] F0.2"),
    "a feed": ("G01 X50. F#501", "G01 X50. F#502"),
    "a speed": ("S#501\nG01 X50. F0.2", "S#502\nG01 X50. F0.2"),
    "an unknown code": ("G999 X50.", "G999 X51."),
    "a drilling cycle": ("G83 Z-20. Q5000 F0.1\nG80", "G83 Z-21. Q5000 F0.1\nG80"),
    "a missing program": ("M98 P7001", "M98 P7002"),
    "a call of a missing program repeated": ("M98 P7001 L2", "M98 P7001 L3"),
    "a machine code": ("M77", "M78"),
    "a word nobody reads": ("G01 X50. F0.2 B10.", "G01 X50. F0.2 B20."),
    "an unreadable block": ("G01 X5.0.1 F0.2", "G01 X5.0.2 F0.2"),
    "an assignment": ("#500=1.", "#500=2."),
    "a cycle without its contour": (
        "G71 U2. R0.5\nG71 P10 Q20 U0.4 W0.1 F0.3",
        "G71 U2. R0.5\nG71 P10 Q20 U0.5 W0.1 F0.3",
    ),
    "a plane whose arcs are not computed": ("G17\nG02 X50. Z-5. R5. F0.1\nG18", "G17\nG02 X50. Z-5. R6. F0.1\nG18"),
    "an offset write": ("G10 P1 X0.1", "G10 P1 X0.2"),
}


@pytest.mark.parametrize("name", UNKNOWN)
def test_an_unknown_is_equal_to_itself_whatever_is_written_around_it(name: str) -> None:
    blocks = UNKNOWN[name][0].split("\n")
    old, new = program(*blocks), program(*blocks).replace(b" ", b"").replace(b"G21", b"G21 (SWARF)")
    report = review(old, new)
    assert report.verdict == "same behaviour", shown(old, new, report)
    assert [finding.rule for finding in told(report)] == [], shown(old, new, report)


@pytest.mark.parametrize("name", UNKNOWN)
def test_another_unknown_is_never_the_same(name: str) -> None:
    old, new = (program(*blocks.split("\n")) for blocks in UNKNOWN[name])
    for before, after in ((old, new), (new, old)):
        report = review(before, after)
        assert report.verdict in ("undetermined", "changed behaviour"), shown(before, after, report)
        assert told(report), shown(before, after, report)
        assert report.sign_off.required


@pytest.mark.parametrize("name", UNKNOWN)
def test_an_unknown_against_something_known_is_a_difference(name: str) -> None:
    old, new = program(*UNKNOWN[name][0].split("\n")), program("G01 X50. F0.2")
    for before, after in ((old, new), (new, old)):
        assert review(before, after).verdict != "same behaviour"


@pytest.mark.parametrize("name", UNKNOWN)
def test_what_is_not_understood_stands_among_the_unchecked_or_the_findings(name: str) -> None:
    report = review(program("G01 X50. F0.2"), program(*UNKNOWN[name][0].split("\n")))
    lines = range(7, 7 + len(UNKNOWN[name][0].split("\n")))
    said = [entry.place.line for entry in report.unchecked if entry.place is not None and entry.place.side == "new"]
    said += [p.line for finding in report.findings for p in finding.causes if p.side == "new"]
    assert set(said) & set(lines)


BRANCHES = ("IF[#500EQ1]GOTO90", "WHILE[#1LT5]DO1\nEND1", "GOTO#1")


@few(20)
@given(
    jobs(kinds=("turn", "finish", "groove")),
    st.sampled_from(BRANCHES),
    st.sampled_from(("X", "F", "dwell", "stop", "none")),
)
def test_beside_a_branch_no_change_is_ever_called_the_same(job: Job, branch: str, what: str) -> None:
    plain = text(job)
    cut = plain.rindex(b"M05\n")
    tail = b"N90 " + plain[cut:]
    put = {"X": b"G00 X91.\n", "F": b"F0.5\n", "dwell": b"G04 P100\n", "stop": b"M00\n", "none": b""}[what]
    old = plain[:cut] + branch.encode() + b"\n" + tail
    new = plain[:cut] + put + branch.encode() + b"\n" + tail
    verdict = review(old, new).verdict
    assert verdict == "same behaviour" if what == "none" else verdict in ("undetermined", "changed behaviour")
    wording = review(old, old.replace(b" ", b"  ").replace(b"\n", b"\r\n"))
    assert wording.verdict == "same behaviour"


def test_a_branch_that_differs_is_at_best_undetermined() -> None:
    old, new = (program(f"IF[#500EQ{k}]GOTO90", "G01 X50. F0.2", "N90 G00 X60.") for k in (1, 2))
    report = review(old, new)
    assert report.verdict in ("undetermined", "changed behaviour")
    assert report.sign_off.required
    assert told(report)
