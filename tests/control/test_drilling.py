"""Drilling, boring and tapping cycles as a program calls them: what is kept, what cancels them, and the same holes written out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.control.running import codes, doings, ends, events, last, machine, path, run, state_of
from verifier.control import Trace
from verifier.machines import FrozenMap, Machine, MCode, generic_lathe

START = "G21 G99 G97 S500 M03 F.2\nG00 X62. Z2.\n"
AXIAL, RADIAL = ("G83", "G84", "G85"), ("G87", "G88", "G89")


def done(body: str, on: Machine | None = None) -> Trace:
    return run(f"{START}{body}\nM30\n", on)


def with_codes(*codes_: MCode) -> Machine:
    generic = generic_lathe()
    return machine(m_codes=FrozenMap({**generic.m_codes, **{code.code: code for code in codes_}}))


@st.composite
def holes(draw: st.DrawFn) -> tuple[str, str, str]:
    """A cycle block, the same hole in single blocks, and the choice of how a peck goes back."""
    code = draw(st.sampled_from((*AXIAL, *RADIAL)))
    radial = code in RADIAL
    initial, letter, other = (Decimal(31), "X", "Z") if radial else (Decimal(2), "Z", "X")
    hundredths = st.integers(1, 600).map(lambda n: Decimal(n) / 100)
    level = initial - draw(st.one_of(st.just(Decimal(0)), hundredths))
    depth = draw(hundredths) + 1
    peck = draw(st.one_of(st.none(), hundredths.map(lambda n: n + 1)))
    dwell, retract = draw(st.sampled_from((0, 300))), draw(st.sampled_from(("small", "full")))
    place = draw(st.sampled_from((Decimal(0), Decimal(20))))
    count = 2 if radial else 1

    def at(value: Decimal, code_: str = "G00") -> str:
        return f"{code_} {letter}{value * count:.3f}\n"

    words = f"{code} {other}{place}. {letter}{(level - depth) * count:.3f} R{level - initial:.3f} F.1"
    words += f" P{dwell}" if dwell else ""
    out = f"G00 {other}{place}.\n" + (at(level) if level != initial else "") + "F.1\n"
    if code in ("G83", "G87"):
        words += f" Q{int(peck * 1000)}" if peck else ""
        here = Decimal(0)
        while here < depth:
            here = min(here + (peck or depth), depth)
            out += at(level - here, "G01")
            if here < depth:
                out += at(level) if retract == "full" else ""
                out += at(min(level - here + Decimal("0.5"), level))
    else:
        out += at(level - depth, "G01")
    out += f"G04 P{dwell}\n" if dwell else ""
    if code in ("G84", "G88"):
        out += "M04\n" + at(level, "G01") + "M03\n"
    elif code in ("G85", "G89"):
        out += at(level, "G01")
    back = at(initial) if level != initial or code in ("G83", "G87") else ""
    return words, out + back + "G00 X70. Z5.", retract


@settings(max_examples=60, deadline=None)
@given(holes())
def test_a_hole_is_the_same_as_its_own_moves_written_out(hole: tuple[str, str, str]) -> None:
    words, out, retract = hole
    on = machine({"drill-retract": retract})
    assert doings(done(f"{words}\nG80\nG00 X70. Z5.", on)) == doings(done(out, on))


def test_a_block_with_a_place_makes_another_hole_with_the_words_kept() -> None:
    kept = done("G87 Z-10. X40. R-2. Q3000 P200 F.1\nZ-20.\nZ-30. X38.\nG80")
    said = done(
        "G87 Z-10. X40. R-2. Q3000 P200 F.1\nG87 Z-20. X40. R-2. Q3000 P200\nG87 Z-30. X38. R-2. Q3000 P200\nG80"
    )
    assert doings(kept) == doings(said)
    assert len(kept.cycles) == 3


def test_a_block_without_a_place_makes_no_hole() -> None:
    trace = done("G83 Z-20. F.1\nS600\nM08\nG80")
    assert len(trace.cycles) == 1


@pytest.mark.parametrize("cancel", ["G80", "G00", "G01"])
def test_a_drilling_cycle_ends_at_its_cancel_or_at_another_motion(cancel: str) -> None:
    trace = done(f"G83 Z-20. F.1\n{cancel}\nX50.")
    assert len(trace.cycles) == 1
    assert last(trace) == (50, 2)


def test_another_cycle_of_the_same_axis_takes_over_the_bottom_and_the_r_level() -> None:
    trace = done("G83 Z-20. R-1. F.1\nG85 X40.\nG80")
    assert ends(trace)[-4:] == [("rapid", 40, 1), ("feed", 40, -20), ("feed", 40, 1), ("rapid", 40, 2)]


@pytest.mark.parametrize(("words", "count"), [("K3", 3), ("L3", 3), ("", 1), ("K0", 0)])
def test_holes_by_number(words: str, count: int) -> None:
    trace = done(f"G87 W-10. X40. F.1 {words}\nG80")
    assert len(trace.cycles) == count
    bottoms = [z for kind, x, z in ends(trace) if kind == "feed"]
    assert bottoms == [2 - 10 * (k + 1) for k in range(count)]


@pytest.mark.parametrize(("choice", "bottom"), [("from-r-level", -19), ("from-initial-level", -18)])
def test_an_increment_for_the_bottom_counts_from_where_the_profile_says(choice: str, bottom: int) -> None:
    trace = done("G83 W-20. R-1. F.1\nG80", machine({"drill-increment": choice}))
    assert min(z for _, _, z in ends(trace)) == bottom


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("G83 X0 R-1. F.1", "cycle-amount-missing"),
        ("G83 Z2. F.1", "hole-without-depth"),
        ("G83 Z-10. R-30. F.1", "r-level-beyond-bottom"),
        ("G83 Z-10. Q-1000 F.1", "peck-not-positive"),
        ("G83 Z-10. P-1 F.1", "amount-negative"),
        ("G83 Z-10. K-1 F.1", "repeats-negative"),
        ("G83 Z-10. Q1 F.1 X0 R-.001", ""),
        ("G83 Z-1000. Q1 F.1", "too-many-strokes"),
    ],
)
def test_a_hole_that_cannot_be_is_a_fault(words: str, code: str) -> None:
    trace = done(f"{words}\nG80")
    assert codes(trace) == ([code] if code else [])
    assert bool(events(trace, "unexecuted")) is bool(code)


def test_after_a_hole_that_was_not_made_the_tool_is_over_its_place() -> None:
    trace = done("G83 X30. Z-10. R-30. F.1\nG80\nG01 Z0.")
    assert last(trace) == (30, 0)


def test_an_r_level_away_from_the_hole_is_told() -> None:
    assert any("leads away" in entry.reason for entry in done("G83 Z-10. R5. F.1\nG80").unchecked)


def test_the_c_axis_is_told_clamped_for_the_hole_and_let_go() -> None:
    on = with_codes(MCode(89, "C axis clamp", "major", "with-motion", (("c-axis", "clamped"),)))
    trace = done("G87 C0 X40. Z-10. F.1 M89\nC90.\nG80\nG00 X70.", on)
    assert events(trace, "machine-code", "auxiliary") == [
        "c-axis angle 0",
        "c-axis clamped",
        "c-axis free",
        "c-axis angle 90",
        "c-axis clamped",
        "c-axis free",
    ]
    assert [dict(state_of(trace, k).auxiliaries).get("c-axis") for k in (2, 4, -1)] == ["clamped", "clamped", "free"]


def test_holes_on_a_circle_each_have_their_own_angle() -> None:
    """One block with H and K makes what four blocks with C make; a hole made at another angle is another behaviour."""
    by_h = done("G83 C0 X40. Z-10. F.1\nH90. K3\nG80")
    by_c = done("G83 C0 X40. Z-10. F.1\nC90.\nC180.\nC270.\nG80")
    assert path(by_h) == path(by_c)
    fed = [k for k, row in enumerate(by_h.rows()) if row.kind.cuts]
    assert [dict(state_of(by_h, k).auxiliaries)["c-axis angle"] for k in fed] == ["0", "90", "180", "270"]
    assert path(by_h) != path(done("G83 C0 X40. Z-10. F.1\nC90.\nC180.\nC280.\nG80"))


def test_holes_beyond_all_limits_are_named_and_the_place_is_lost_where_they_step() -> None:
    still = done("G83 X0 Z-40. R-1. Q5 F.1 K99999\nG80")
    assert codes(still) == ["too-many-strokes"]
    stepping = done("G83 U1. Z-40. R-1. Q5 F.1 K99999\nG80\nG01 W-1.")
    assert codes(stepping) == ["too-many-strokes"]
    assert [row.kind.cuts for row in stepping.rows()][-1]
    assert stepping.bases[stepping.rows()[-1].bx1].endswith("after 99998 more holes")
    assert len(stepping.moves) < 50_000


def test_rigid_tapping_is_in_force_for_the_taps_and_ends_with_the_cycle() -> None:
    on = with_codes(MCode(29, "rigid tapping", "critical", "before-motion", (("tapping", "rigid"),)))
    trace = done("M29 S300\nG84 X0 Z-20. R-2. F1.5\nG80\nG00 X70.", on)
    fed = [k for k, row in enumerate(trace.rows()) if row.kind.cuts]
    assert [dict(state_of(trace, k).auxiliaries) for k in (*fed, -1)] == [{"tapping": "rigid"}] * 2 + [{}]
    assert [state_of(trace, k).sense for k in fed] == ["forward", "reverse"]


def test_a_driven_tap_leaves_the_spindle_as_it_is_and_is_told() -> None:
    trace = done("M05\nG88 X40. Z-10. F1.5\nG80")
    assert events(trace, "auxiliary") == ["tapping spindle turned round"] * 2
    assert {state_of(trace, k).sense for k in range(1, len(trace.moves))} == {"stopped"}


def test_the_clearance_of_a_peck_is_the_profiles() -> None:
    generic = generic_lathe()
    none = machine(cycles=replace(generic.cycles, drill_retract_mm=None))
    assert codes(done("G83 Z-20. Q5000 F.1\nG80", none)) == ["cycle-amount-missing"]
    assert codes(done("G83 Z-20. F.1\nG80", none)) == []


def test_the_dwell_of_a_hole_with_a_point_is_as_the_profile_says() -> None:
    assert codes(done("G83 Z-20. P1.5 F.1\nG80")) == ["integer-word-with-point"]
    on = machine({"dwell-p-with-point": "seconds"})
    assert events(done("G83 Z-20. P1.5 F.1\nG80", on), "dwell") == ["3/2 s"]


@settings(max_examples=40, deadline=None)
@given(st.sampled_from((*AXIAL, *RADIAL)), st.integers(-9000, 9000), st.integers(-2000, 0), st.integers(1, 9000))
def test_a_hole_by_increments_is_the_one_by_coordinates(code: str, place: int, rise: int, depth: int) -> None:
    """The bottom counts from the R level, its place from where the tool is; thousandths of a millimetre, X in diameter."""
    x, z = 62000, 2000
    radial = code in RADIAL
    level = (x + 2 * rise) if radial else z + rise
    bottom = level - depth * (2 if radial else 1)
    words = f"R{rise} F.1 Q3000"
    if radial:
        absolute, increments = f"Z{place} X{bottom}", f"W{place - z} U{bottom - level}"
    else:
        absolute, increments = f"X{2 * place} Z{bottom}", f"U{2 * place - x} W{bottom - level}"
    one, other = (done(f"{code} {name} {words}\nG80\nG00 X70. Z5.") for name in (absolute, increments))
    assert doings(one) == doings(other)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from((*AXIAL, *RADIAL)), st.integers(0, 900), st.integers(1, 900), st.integers(100, 900))
def test_a_hole_in_inches_is_the_one_in_millimetres(code: str, rise: int, depth: int, peck: int) -> None:
    """Thousandths of an inch, times 25.4 in millimetres, exactly."""

    def written(factor: Decimal) -> str:
        def at(thousandths: int) -> str:
            text = f"{Decimal(thousandths) / 1000 * factor:f}"
            return text if "." in text else text + "."

        units = "G20" if factor == 1 else "G21"
        radial = code in RADIAL
        bottom = f"X{at(2000 - 2 * (rise + depth))}" if radial else f"Z{at(100 - rise - depth)}"
        feed = Decimal("0.005") * factor
        return (
            f"{units} G99 G97 S500 M03\nG00 X{at(2000)} Z{at(100)}\n"
            f"{code} {bottom} R{at(-rise)} Q{at(peck)} F{feed}\nG80\nG00 X{at(3000)}\nM30\n"
        )

    inch, metric = run(written(Decimal(1))), run(written(Decimal("25.4")))
    assert doings(inch)[:2] == doings(metric)[:2]
    assert len(inch.cycles) == 1


def test_repeats_without_a_hole_are_told() -> None:
    assert "K3" in [entry.what for entry in run("G21 G99 G97 S500 M03\nG00 X0. Z5.\nG83 K3\nM30\n").unchecked]
