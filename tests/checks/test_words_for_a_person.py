"""Words whose change needs a person: every group of such words, each change in it told by its own rule, weighed, and held for a lead.

The groups and why they matter: common practice, no source (grip and speed: VDI 3106 and EN 1550 treat why a spindle must not run faster than its
work-holding allows). The programs are our own.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from verifier import ChangeReport, review
from verifier.findings.examples import HEAD, TAIL, lathe, turning
from verifier.machines import Machine, MCode, generic_lathe

CRITICAL, MAJOR, MINOR = "critical", "major", "minor"


@dataclass(frozen=True)
class Change:
    """One change: its group and name, the text before and after, the rules that must speak with their weights, and words told as touched."""

    group: str
    name: str
    old: str
    new: str
    told: dict[str, str]
    touched: tuple[str, ...] = ()
    machine: Machine | None = field(default=None, repr=False)


CUT = "G01 X58. F0.2\nZ-30.\nX62.\n"
NEXT = "M01\nN2 T0303\nG97 S800 M03\nG00 X62. Z-20.\nG01 X50. F0.1\nG04 U0.5\nG00 X62."
PLAIN = turning(CUT)
HOME = turning(f"{CUT}G28 U0.\nG28 W0.\n{NEXT}")
MACHINE_PLACE = turning(f"{CUT}G53 G00 X-20.\nG53 Z-50.\n{NEXT}")
PLACE = turning(f"{CUT}G00 X100. Z50.\n{NEXT}")
PRESET = turning(CUT, head=HEAD.replace("G50 S2000\n", "G50 X200. Z100.\nG50 S2000\n"))
WRITE = turning("G10 P1 X0.1\n" + CUT)
NOSE = turning("G42 G01 X58. F0.2\nZ-30.\nX60. Z-40.\nG40 X62.\n")
GROOVE = turning("G00 X62. Z-20.\nG01 X50. F0.1\nG00 X62.\nZ2.")
BORE = turning("G00 X20. Z2.\nG01 Z-30. F0.1\nX19.\nG00 Z5.\nX60.")
THREAD_START = "G97 S800\nG00 X22. Z4.\n"
SINGLE = turning(THREAD_START + "G92 X19.3 Z-20. F1.5\nX18.9\nX18.6\nG00 X62.")
MULTI = turning(THREAD_START + "G76 P010060 Q50 R0.02\nG76 X18.16 Z-20. P920 Q300 F1.5\nG00 X62.")
BLOCKS = turning("G97 S800\nG00 X19.3 Z4.\nG32 Z-20. F1.5\nG00 X22.\nZ4.\nX18.9\nG32 Z-20. F1.5\nG00 X62.")
CALL = turning("M98 P2000 L2", tail="G00 X100. Z50.\nM09\nM05\nM30\nO2000\nG01 U-2. F0.1\nG00 U2.\nM99\n")

_CODES = {
    10: ("chuck closed", "chuck", "closed"),
    11: ("chuck open", "chuck", "open"),
    12: ("quill forward", "tailstock", "forward"),
    13: ("quill back", "tailstock", "back"),
    38: ("door open", "door", "open"),
    39: ("door closed", "door", "closed"),
    52: ("bar feed on", "bar-feed", "on"),
    53: ("bar feed off", "bar-feed", "off"),
    68: ("sub-spindle chuck closed", "sub-spindle", "closed"),
    69: ("sub-spindle chuck open", "sub-spindle", "open"),
    88: ("steady closed", "steady", "closed"),
    89: ("steady open", "steady", "open"),
}


def _machine() -> Machine:
    """A lathe whose builder's table says that each of these codes is worth knowing only: what it holds must make it critical."""
    own = {
        n: MCode(n, meaning, MINOR, "after-motion", ((name, state),)) for n, (meaning, name, state) in _CODES.items()
    }
    return lathe(m_codes={**generic_lathe().m_codes, **own})


def edit(
    group: str,
    name: str,
    before: str,
    after: str,
    told: dict[str, str],
    old: str = PLAIN,
    touched: tuple[str, ...] = (),
) -> Change:
    assert old.count(before) >= 1, (name, before)
    return Change(group, name, old, old.replace(before, after, 1), told, touched)


def _holding(name: str, on: int, off: int) -> list[Change]:
    base = turning(f"M{on}\n{CUT}")
    there = [
        ("exchanged", base.replace(f"M{on}", f"M{off}")),
        ("removed", base.replace(f"M{on}\n", "")),
        ("added in mid-cut", base.replace("Z-30.\n", f"Z-30.\nM{off}\n")),
    ]
    return [
        Change("what holds the work", f"{name} {what}", base, new, {"auxiliary-changed": CRITICAL}, machine=_machine())
        for what, new in there
    ]


SPINDLE = [
    edit("clamp", "removed", "G50 S2000\n", "", {"speed-clamp-removed": CRITICAL}),
    edit("clamp", "raised", "S2000", "S3000", {"speed-clamp-raised": CRITICAL}),
    edit(
        "clamp", "moved behind the speed word", "G50 S2000\nG96 S180 M03\n", "G96 S180 M03\nG50 S2000\n",
        {"speed-clamp-after-speed-word": CRITICAL}, touched=("speed clamp",),
    ),
    edit("clamp", "G96 became G97", "G96 S180", "G97 S180", {"speed-mode-changed": CRITICAL}),
    edit("clamp", "G97 became G96", "G97 S800", "G96 S800", {"speed-mode-changed": CRITICAL}, HOME),
    edit("speed", "raised by a third", "S180", "S240", {"speed-changed": MAJOR}),
    edit("speed", "doubled", "S180", "S360", {"speed-changed": CRITICAL}),
    edit("speed", "M03 became M04", "M03", "M04", {"spindle-sense-changed": CRITICAL}),
    edit("speed", "M03 missing", " M03", "", {"spindle-state-changed": CRITICAL, "not-turning-while-cutting": CRITICAL}),
]  # fmt: skip

MOTION = [
    edit("motion", "feed became rapid", "G01 X58. F0.2", "G00 X58.", {"feed-became-rapid": CRITICAL}),
    edit("motion", "rapid became feed", "G00 X62. Z2.", "G01 X62. Z2. F0.2", {"rapid-became-feed": MINOR}, touched=("rapid against feed",)),
]  # fmt: skip

CENTRE = {"datum-return-changed": CRITICAL, "home-through-centre-line": CRITICAL}
AT_WORK = {"tool-change-position-changed": MAJOR, "tool-change-near-work": MAJOR}
SPEEDS = {"speed-changes-within-thread": MAJOR, "speed-changed": MINOR}
PLACES = [
    edit("geometry", "T0101 became T0102", "T0101", "T0102", {"tool-offset-changed": CRITICAL}),
    edit("geometry", "T0101 became T0202", "T0101", "T0202", {"tool-changed": CRITICAL}),
    edit("geometry", "G54 became G55", "G54", "G55", {"work-offset-changed": CRITICAL}),
    edit("geometry", "G54 taken out", " G54", "", {}, touched=("work offset",)),
    edit("geometry", "G10 with another value", "X0.1", "X0.2", {"offset-write-changed": CRITICAL}, WRITE),
    edit("geometry", "G10 put in", "G01 X58.", "G10 L2 P1 Z-10.\nG01 X58.", {"offset-write-changed": CRITICAL}),
    edit("geometry", "G10 taken out", "G10 P1 X0.1\n", "", {"offset-write-changed": CRITICAL}, WRITE),
    edit("geometry", "preset with another value", "X200.", "X210.", {"work-offset-changed": CRITICAL}, PRESET),
    edit("geometry", "preset put in", "G50 S2000\n", "G50 S2000\nG50 X200. Z100.\n", {"work-offset-changed": CRITICAL}),
    edit("geometry", "preset taken out", "G50 X200. Z100.\n", "", {"work-offset-changed": CRITICAL}, PRESET),
    edit("geometry", "G28 by way of another point", "G28 U0.", "G28 U10.", {"datum-return-changed": MAJOR}, HOME),
    edit("geometry", "G28 by way of the centre line", "G28 U0.", "G28 X0.", CENTRE, HOME),
    edit("geometry", "G28 with both axes at once", "G28 U0.\nG28 W0.", "G28 U0. W0.", {"datum-return-changed": MAJOR}, HOME),
    edit("geometry", "G28 in another order", "G28 U0.\nG28 W0.", "G28 W0.\nG28 U0.", {"datum-return-changed": MAJOR}, HOME),
    edit("geometry", "G28 became G30", "G28 U0.", "G30 P2 U0.", {"datum-return-changed": MAJOR}, HOME),
    edit("geometry", "G53 to another place", "X-20.", "X-2.", {"datum-return-changed": MAJOR}, MACHINE_PLACE),
    edit("geometry", "G53 taken out of its block", "G53 G00", "G00", {"datum-return-changed": CRITICAL}, MACHINE_PLACE),
    edit("scale", "G21 became G20", "G21", "G20", {"units-changed": CRITICAL}),
    edit("scale", "point missing", "Z-30.", "Z-30", {"decimal-point-lost": CRITICAL}),
    edit("scale", "X became U", "G01 X58.", "G01 U58.", {"increment-word-exchanged": CRITICAL}),
    edit("scale", "Z became W", "Z-30.", "W-30.", {"increment-word-exchanged": CRITICAL}),
    edit("scale", "G99 became G98", "G99", "G98", {"feed-mode-changed": MAJOR}),
    edit("scale", "G98 became G99", "G98", "G99", {"feed-mode-changed": CRITICAL}, PLAIN.replace("G99", "G98").replace("F0.2", "F200.")),
    edit("nose", "other side", "G42", "G41", {"compensation-changed": CRITICAL}, NOSE),
    edit("nose", "taken out", "G42 ", "", {"compensation-changed": CRITICAL}, NOSE),
    edit("nose", "G40 taken out", "G40 X62", "X62", {"compensation-changed": CRITICAL}, NOSE),
]  # fmt: skip

HOLDING = [
    change
    for name, on, off in (
        ("chuck", 10, 11), ("tailstock", 12, 13), ("door", 39, 38), ("bar feed", 53, 52), ("sub-spindle", 68, 69), ("steady", 88, 89),
    )
    for change in _holding(name, on, off)
]  # fmt: skip

FLOW = [
    edit("stops", "M01 taken out", "M01\n", "", {"stop-removed": MAJOR}, HOME),
    edit("stops", "M00 taken out", "M00\n", "", {"stop-removed": MAJOR}, HOME.replace("M01", "M00")),
    edit("stops", "slash put in", "Z-30.", "/Z-30.", {"skip-changed": MAJOR}),
    edit("stops", "slash taken out", "/Z-30.", "Z-30.", {"skip-changed": MAJOR}, PLAIN.replace("Z-30.", "/Z-30.")),
    edit("stops", "slash at a stop", "M01", "/M01", {"skip-changed": MAJOR}, HOME),
    edit("coolant and dwell", "M08 taken out", " M08", "", {"coolant-changed": MAJOR}),
    edit("coolant and dwell", "M09 taken out", "M09\n", "", {}, touched=("coolant",)),
    edit("coolant and dwell", "dwell taken out", "G04 U0.5\n", "", {"dwell-changed": MAJOR}, HOME),
    edit("coolant and dwell", "dwell in thousandths", "G04 U0.5", "G04 P50", {"dwell-changed": MAJOR}, HOME),
    edit("coolant and dwell", "dwell put in", "F0.1\nG00", "F0.1\nG04 U0.5\nG00", {"dwell-changed": MAJOR}, HOME.replace("G04 U0.5\n", "")),
    edit("room to index", "another place", "Z50.\nM01", "Z5.\nM01", {"tool-change-position-changed": MAJOR}, PLACE),
    edit("room to index", "a place farther off", "Z50.\nM01", "Z90.\nM01", {"tool-change-position-changed": MAJOR}, PLACE),
    edit("room to index", "retract taken out", "G00 X100. Z50.\nM01", "M01", AT_WORK, PLACE),
    edit("room to index", "return home taken out", "G28 U0.\nG28 W0.\n", "", {"datum-return-changed": CRITICAL}, HOME),
    edit("room to index", "return home along Z taken out", "G28 W0.\n", "", {"datum-return-changed": CRITICAL}, HOME),
    edit("room to index", "return home put in", "Z50.\nM01", "Z50.\nG28 U0.\nG28 W0.\nM01", {"datum-return-changed": MAJOR}, PLACE),
    edit("room to index", "groove left sideways", "X62.\nZ2.", "Z2.\nX62.", {"retract-order-changed": CRITICAL}, GROOVE),
    edit("room to index", "groove left slantwise", "X62.\nZ2.", "X62. Z2.", {"retract-order-changed": CRITICAL}, GROOVE),
    edit("room to index", "bore left sideways", "Z5.\nX60.", "X60.\nZ5.", {"retract-order-changed": CRITICAL}, BORE),
    edit("room to index", "bore left slantwise", "Z5.\nX60.", "X60. Z5.", {"retract-order-changed": CRITICAL}, BORE),
    edit("end and calls", "M30 became M99", "M30", "M99", {"program-end-became-repeat": CRITICAL}),
    edit("end and calls", "M99 became M30", "M99", "M30", {"repeat-became-program-end": MAJOR}, turning(CUT, tail=TAIL.replace("M30", "M99"))),
    edit("end and calls", "M30 taken out", "M30\n", "", {"program-end-changed": MAJOR, "program-end-missing": MAJOR}),
    edit("end and calls", "another subprogram", "P2000", "P2001", {"call-changed": MAJOR, "subprogram-missing": CRITICAL}, CALL),
    edit("end and calls", "another count", "L2", "L3", {"repeat-count-changed": MAJOR}, CALL),
    edit("end and calls", "count lost", " L2", "", {"repeat-count-changed": MAJOR}, CALL),
    edit("end and calls", "call taken out", "M98 P2000 L2\n", "", {"call-changed": MAJOR}, CALL),
    edit("end and calls", "another program number", "O1000", "O1001", {"program-number-changed": MAJOR}),
]  # fmt: skip

THREADS = [
    edit("threads", "lead, single passes", "F1.5", "F1.75", {"thread-lead-changed": MAJOR}, SINGLE),
    edit("threads", "lead, cycle", "F1.5", "F1.75", {"thread-lead-changed": MAJOR}, MULTI),
    edit("threads", "lead, one pass of two", "X18.9\nG32 Z-20. F1.5", "X18.9\nG32 Z-20. F1.25", {"thread-lead-changed": MAJOR}, BLOCKS),
    edit("threads", "start, single passes", "Z4.", "Z3.", {"thread-start-changed": MAJOR}, SINGLE),
    edit("threads", "start, cycle", "Z4.", "Z3.", {"thread-start-changed": MAJOR}, MULTI),
    edit("threads", "start nearer to the crest", "X22.", "X20.", {"thread-start-changed": MAJOR}, SINGLE),
    edit("threads", "start of one pass of two", "X22.\nZ4.", "X22.\nZ4.5", {"thread-start-changed": MAJOR}, BLOCKS),
    edit("threads", "P: height", "P920", "P820", {"thread-depth-changed": MAJOR}, MULTI),
    edit("threads", "Q: first pass ten times", "Q300", "Q3000", {"thread-depth-changed": MAJOR}, MULTI),
    edit("threads", "P: finish passes", "P010060", "P020060", {"thread-depth-changed": MAJOR}, MULTI),
    edit("threads", "P: angle", "P010060", "P010055", {"thread-depth-changed": MAJOR}, MULTI),
    edit("threads", "Q: least pass", "Q50", "Q100", {"thread-depth-changed": MAJOR}, MULTI),
    edit("threads", "first single pass", "X19.3", "X18.9", {"thread-depth-changed": MAJOR}, SINGLE),
    edit("threads", "a single pass taken out", "X18.9\n", "", {"thread-depth-changed": MAJOR}, SINGLE),
    edit("threads", "S between single passes", "X18.9\n", "X18.9\nS900\n", SPEEDS, SINGLE),
    edit("threads", "S between passes", "G00 X22.\nZ4.", "S900\nG00 X22.\nZ4.", SPEEDS, BLOCKS),
    edit("threads", "surface speed", "G97 S800\nG00 X22.", "G00 X22.", {"speed-mode-changed": CRITICAL, "thread-at-surface-speed": MINOR}, SINGLE),
]  # fmt: skip

CHANGES = [*SPINDLE, *MOTION, *PLACES, *HOLDING, *FLOW, *THREADS]


def _id(change: Change) -> str:
    return f"{change.group}: {change.name}"


def _report(change: Change) -> ChangeReport:
    return review(change.old.encode(), change.new.encode(), machine=change.machine)


@pytest.mark.parametrize("change", CHANGES, ids=_id)
def test_a_change_that_needs_a_person_is_told_by_its_rule_weighed_and_held(change: Change) -> None:
    report = _report(change)
    found = {(f.rule, str(f.weight)) for f in report.findings if f.status in ("change", "new")}
    assert set(change.told.items()) <= found, [(f.weight, f.rule, f.title) for f in report.findings]
    assert set(change.touched) <= {touch.kind for touch in report.touched}
    assert change.told or change.touched
    assert report.sign_off.required


@pytest.mark.parametrize("change", CHANGES, ids=_id)
def test_the_finding_stands_on_the_edit_and_no_catch_all_speaks(change: Change) -> None:
    report = _report(change)
    for found in report.findings:
        if found.rule in change.told:
            assert found.causes and found.title
        assert found.rule not in ("rule-failed", "behaviour-changed-otherwise")


@pytest.mark.parametrize("change", [c for c in CHANGES if c.told], ids=_id)
def test_saying_it_in_other_words_is_no_such_change(change: Change) -> None:
    again = change.old.replace("G0", "G").replace("M0", "M").replace(" M3", "  M03").encode()
    report = review(change.old.encode(), again, machine=change.machine)
    assert report.verdict == "same behaviour"
    assert not report.sign_off.required
    assert [f.rule for f in report.findings if f.status in ("change", "new", "gone")] == []
