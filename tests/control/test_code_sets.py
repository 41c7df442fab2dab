"""Code sets A, B and C: one text read in three ways, and one job written in three sets. Table of the sets: common practice, no source."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.control.running import codes, doings, ends, events, last, machine, run, state_of
from verifier.control import Kind, Trace
from verifier.machines import FrozenMap, Machine, generic_lathe

IN = {code_set: machine(code_set=code_set) for code_set in "ABC"}

TABLE = {
    "B": {
        "G90": "G77", "G92": "G78", "G94": "G79", "G32": "G33", "G98": "G94", "G99": "G95", "G50": "G92",
    },
    "C": {
        "G90": "G20", "G92": "G21", "G94": "G24", "G32": "G33", "G98": "G94", "G99": "G95", "G50": "G92", "G20": "G70", "G21": "G71",
        "G70": "G72", "G71": "G73", "G72": "G74", "G73": "G75", "G74": "G76", "G75": "G77", "G76": "G78",
    },
}  # fmt: skip
"""What a program of set A is called in the others, where it differs (feed modes of set A read in public sources)."""

START = "G21 G99 G97 S500 M03 F.2\nG00 X62. Z2.\n"
CONTOUR = "N10 G00 X20.\nG01 Z-10. F.1\nX30. Z-20.\nN20 Z-30.\n"
JOBS = {
    "single cycles": "G90 X58. Z-20. R-1.\nX56.\nG94 X40. Z-1.\nG92 X50. Z-20. F1.5\nG00 X70.\n",
    "rough turning": f"G71 U2. R1.\nG71 P10 Q20 U.4 W.1\n{CONTOUR}G70 P10 Q20\n",
    "rough facing": "G72 W2. R.8\nG72 P30 Q40 U.4 W.1\nN30 G00 Z-30.\nG01 X30. F.1\nZ-10. X20.\nN40 Z2.\n",
    "pattern": f"G73 U5. W3. R4\nG73 P10 Q20 U.4 W.1\n{CONTOUR}",
    "pecks": "G75 R.3\nG75 X40. Z-6. P2500 Q2000 R.2\nG74 R.3\nG74 X40. Z-16. P2500 Q4000\n",
    "thread": "G00 X24. Z4.\nG76 P020560 Q50 R.04\nG76 X18.16 Z-20. P920 Q300 F1.5\nG32 Z-30. F2.\n",
    "drilling": "G83 X0 Z-20. Q5000 F.1\nX10.\nG80\n",
    "modes": "G50 S2000\nG96 S180\nG98 F200.\nG01 X50.\nG99 F.2\nZ-5.\nG50 X100.\nG01 X90.\n",
    "inches": "G20\nG00 X1. Z.5\nG01 Z.1 F.01\n",
}


def translated(text: str, code_set: str) -> str:
    """A program of set A in another set; what it says by coordinates is under absolute coordinates there."""
    if code_set == "A":
        return text
    table = TABLE[code_set]
    out = re.sub(r"G\d\d", lambda found: table.get(found[0], found[0]), text)
    return "G90 G98\n" + out


def done(text: str, code_set: str, on: Machine | None = None) -> Trace:
    return run(f"{text}\nM30\n", on or IN[code_set])


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("code_set", "BC")
def test_one_job_written_in_another_set_is_the_same_behaviour(job: str, code_set: str) -> None:
    one, other = done(START + JOBS[job], "A"), done(translated(START + JOBS[job], code_set), code_set)
    assert codes(one) == codes(other) == []
    assert doings(one) == doings(other)
    assert len(one.moves) > 1


READINGS = [
    ("G90 X40. Z-10.", ("turning cycle", "coordinates", "coordinates")),
    ("G20 X40. Z-10.", ("inches", "inches", "turning cycle")),
    ("G70\nG01 X1.", ("refused", "refused", "inches")),
    ("G94\nG01 X40. F100.", ("not set", "per minute", "per minute")),
    ("G99\nG01 X40. F.1", ("per revolution", "not set", "not set")),
    ("G92 S1500\nG96 S100\nG01 X40.", ("no clamp", "clamp", "clamp")),
    ("G76 X40. Z-16. P2500 Q4000", ("refused", "refused", "face pecks")),
    ("G77 X40. Z-10. P2500 Q2000", ("another set", "turning cycle", "grooves")),
    ("G33 Z-10. F2.", ("another set", "thread", "thread")),
    ("G32 Z-10. F2.", ("thread", "another set", "another set")),
]


def reading(trace: Trace) -> set[str]:
    """What a text became, in words."""
    rows = trace.rows()
    state = state_of(trace)
    found = {"another set"} if "code-of-another-set" in codes(trace) else set()
    found |= {"refused"} if "cycle-amount-missing" in codes(trace) or events(trace, "unexecuted") else set()
    calls = {
        "G90": "turning cycle", "G92": "thread", "G76": "thread", "G74": "face pecks", "G75": "grooves",
    }  # fmt: skip
    found |= {calls[call.code] for call in trace.cycles}
    found |= {"thread"} if any(row.kind is Kind.THREAD for row in rows) else set()
    found |= {"inches"} if trace.end_units == "inch" else set()
    found |= {"coordinates"} if len(rows) == 2 and trace.end_distance[0] == "absolute" else set()
    modes = {"per-minute": "per minute", "per-revolution": "per revolution", "lead": "thread", None: "not set"}
    found.add(modes[state.feed_mode])
    found.add("clamp" if trace.end.clamp else "no clamp")
    return found


@pytest.mark.parametrize(("text", "wanted"), READINGS, ids=lambda v: str(v)[:24].replace("\n", " "))
def test_one_text_is_read_in_three_ways(text: str, wanted: tuple[str, str, str]) -> None:
    start = "G97 S500 M03\nG00 X62. Z2.\nF.2\n"
    traces = [done(start + text, code_set) for code_set in "ABC"]
    for trace, words in zip(traces, wanted, strict=True):
        assert words in reading(trace), reading(trace)
    if len(set(wanted)) > 1:
        assert not (doings(traces[0]) == doings(traces[1]) == doings(traces[2]))


@pytest.mark.parametrize("code_set", "BC")
def test_increments_by_mode_are_the_increment_words_of_set_a(code_set: str) -> None:
    one = done(START + "G01 U-2. W-3.\nG00 U4. W5.\nG90 U-10. W-20.\nG00 X70.", "A")
    name = TABLE[code_set]["G90"]
    other = done(
        translated(START, code_set) + f"G91 G01 X-2. Z-3.\nG00 X4. Z5.\n{name} X-10. Z-20.\nG90 G00 X70.", code_set
    )
    assert doings(one) == doings(other)


@pytest.mark.parametrize(("level", "z"), [("G98", 2), ("G99", -1)])
def test_the_return_level_of_a_drilling_cycle(level: str, z: int) -> None:
    trace = done(f"{translated(START, 'B')}{level} G83 X0 Z-20. R-1. F.1\nX10.\nG80", "B")
    assert last(trace) == (10, z)
    assert [where for kind, _, where in ends(trace) if kind == "feed"] == [-20, -20]


def test_r_of_a_drilling_cycle_is_a_coordinate_or_an_increment() -> None:
    text = translated(START, "B") + "{} G83 X{} Z{} R{} F.1\nG80"
    absolute = done(text.format("G90", "0", "-20.", "1."), "B")
    increments = done(text.format("G91", "-62.", "-21.", "-1."), "B")
    assert doings(absolute)[0] == doings(increments)[0]


@pytest.mark.parametrize("code_set", "BC")
def test_without_a_distance_mode_the_reading_is_told(code_set: str) -> None:
    trace = done("G00 X50. Z2.", code_set)
    assert codes(trace) == ["distance-not-established"]
    assert any(entry.what == "G90 or G91" for entry in trace.unchecked)
    generic = generic_lathe()
    on = replace(
        IN[code_set],
        power_on=FrozenMap({**generic.power_on, "units": "G71" if code_set == "C" else "G21", "distance": "G90"}),
        reset_restores=(*generic.reset_restores, "distance"),
    )
    assert codes(done("G00 X50. Z2.", code_set, on)) == []


def test_increment_words_of_set_a_are_not_understood_in_the_others() -> None:
    trace = done(translated(START, "B") + "G01 U-2.", "B")
    assert trace.remarks[trace.rows()[-1].remark] == "U-2."


def test_a_preset_takes_coordinates_whatever_the_distance_mode() -> None:
    trace = done(translated(START, "B") + "G91\nG92 X100.\nG90 G01 X90.", "B")
    assert last(trace) == (90, 2)
    assert ends(trace)[-1] == ("feed", 90, 2)
    assert state_of(trace).frame[1] == -19 * 10**8


@pytest.mark.parametrize(("code_set", "name"), [("A", "G71"), ("B", "G71"), ("C", "G73")])
def test_a_cycle_that_cannot_be_is_told_by_the_machine_s_own_code(code_set: str, name: str) -> None:
    trace = done(translated(START + f"G71 U2. R1.\nG71 P11 Q20 U.4 W.1\n{CONTOUR}", code_set), code_set)
    (told,) = events(trace, "unexecuted")
    assert told.startswith(f"{name} ")


@pytest.mark.parametrize(("code_set", "words"), [("A", "G90 G01"), ("B", "G77 G01"), ("C", "G20 G01")])
def test_contradicting_codes_are_told_as_they_are_written(code_set: str, words: str) -> None:
    trace = done(translated(START, code_set) + f"{words} X50. Z-5.", code_set)
    (fault,) = (fault for fault in trace.faults if fault.code == "two-codes-of-one-group")
    assert fault.message.startswith(" and ".join(words.split()))


def test_a_code_that_is_switched_off_is_named_as_the_machine_names_it() -> None:
    on = machine(code_set="C", g_codes_off=("G73",))
    trace = done(translated(START + "G71 U2. R1.", "C"), "C", on)
    assert any("G73 is switched off" in entry.reason for entry in trace.unchecked)
