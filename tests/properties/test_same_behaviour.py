"""Promise 1: programs that say the same in another way have the same behaviour, and nothing is told but where single block stops and units words.

Each rewrite is one row of a table: how the program is written before and after. Both directions are tried.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.properties.look import Look
from tests.properties.model import Job
from tests.properties.render import Form, text
from tests.properties.reviewing import lathe, review, shown, told
from tests.properties.sizes import few
from tests.properties.strategies import KINDS, job_of, jobs
from tests.properties.through_trace import cycles_as_moves
from verifier.machines import FrozenMap, Machine

PLAIN, WRITTEN = Form(), Look()
QUIET = frozenset(("stopping-points-changed",))


@dataclass(frozen=True, slots=True)
class Rewrite:
    """A way of writing the same again; `kinds` are the sequences that it says something about."""

    name: str
    form: Form = PLAIN
    look: Look = WRITTEN
    first_form: Form = PLAIN
    first_look: Look = WRITTEN
    kinds: tuple[str, ...] = KINDS
    units: tuple[str, ...] = ("mm", "inch")
    allowed: frozenset[str] = QUIET


_CUTS = ("turn", "finish", "face", "groove")
_CYCLES = ("rough", "pecked", "drill", "thread", "turn", "face")

REWRITES = (
    Rewrite("renumbered, labels with their P and Q", look=Look(numbers=(1000, 10), relabel=40)),
    Rewrite("block numbers taken out", first_look=Look(numbers=(1000, 10))),
    Rewrite("no spaces", look=Look(spaces="none")),
    Rewrite("tabs", look=Look(spaces="tabs")),
    Rewrite("many spaces", look=Look(spaces="many")),
    Rewrite("lower case", look=Look(lower=True)),
    Rewrite("codes of one digit", look=Look(codes="one")),
    Rewrite("leading and trailing zeros, plus signs", first_look=Look(zeros="short"), look=Look(zeros="long", plus=True)),
    Rewrite("notes without numbers", look=Look(notes=0.3)),
    Rewrite("blank lines", look=Look(blanks=0.4)),
    Rewrite("carriage returns and line feeds", look=Look(line_end="\r\n")),
    Rewrite("carriage returns alone", look=Look(line_end="\r")),
    Rewrite("line feed and two carriage returns", look=Look(line_end="\n\r\r")),
    Rewrite("no per cent signs", look=Look(percent=False)),
    Rewrite("motion codes and feeds repeated", Form(repeat_motion=0.7, repeat_feed=0.7)),
    Rewrite("coordinates repeated", Form(repeat_axes=0.7)),
    Rewrite("codes in force repeated", Form(repeat_codes=0.5)),
    Rewrite("words in another order", Form(shuffle=True)),
    Rewrite("increments for coordinates", Form(incremental=0.7)),
    Rewrite("arcs by their centre", Form(arc_by_centre=0.8), kinds=("finish", "rough")),
    Rewrite("one block for two", Form(one_block=True), kinds=("rough", "pecked", "thread", "drill")),
    Rewrite("cycles written out by their rule", Form(cycles_out=True), kinds=("turn", "face", "pecked", "drill")),
    Rewrite("calls in line", Form(calls="inline"), kinds=("pattern",)),
    Rewrite("repeated calls one by one", Form(calls="unrolled"), kinds=("pattern",)),
    Rewrite("repeats as leading digits", Form(calls="leading"), kinds=("pattern",)),
    Rewrite("calls one by one against in line", Form(calls="inline", incremental=0.5), first_form=Form(calls="unrolled"), kinds=("pattern",)),
    Rewrite("feed moves split", Form(split=0.8), kinds=_CUTS),
    Rewrite("rapid said again", Form(redundant_rapid=0.6)),
    Rewrite("safety block and tool in one block", Form(join_head=True)),
    Rewrite("inches as millimetres", Form(units="mm"), units=("inch",), allowed=QUIET | {"units-changed"}),
    Rewrite(
        "everything at once",
        Form(
            repeat_motion=0.4, repeat_feed=0.4, repeat_axes=0.3, repeat_codes=0.2, incremental=0.4, arc_by_centre=0.5,
            calls="inline", split=0.3, redundant_rapid=0.3, shuffle=True,
        ),
        Look(spaces="none", zeros="short", codes="one", notes=0.2, blanks=0.2, line_end="\r\n", numbers=(2000, 5)),
        Form(arc_by_centre=0.5, incremental=0.3),
    ),
)  # fmt: skip


@pytest.mark.parametrize("rewrite", REWRITES, ids=lambda r: r.name.replace(" ", "-"))
def test_a_rewrite_has_the_same_behaviour_and_is_not_told(rewrite: Rewrite) -> None:
    @few(5)
    @given(st.data(), st.integers(0, 2**16), st.booleans(), st.booleans())
    def same(data: st.DataObject, seed: int, backwards: bool, skips: bool) -> None:
        # Where blocks are put in and taken out by the dozen, some pair with others, skip marks and all.
        skips = skips and rewrite.name != "everything at once" and rewrite.kinds != ("pattern",)
        job = data.draw(jobs(kinds=rewrite.kinds, units=rewrite.units, skips=skips, repeats=True))
        before = text(job, rewrite.first_form, rewrite.first_look, seed)
        after = text(job, rewrite.form, rewrite.look, seed + 1)
        assume(before != after)
        assert_same(*((after, before) if backwards else (before, after)), rewrite.allowed)

    same()


def assert_same(old: bytes, new: bytes, allowed: frozenset[str] = QUIET, machine: Machine | None = None) -> None:
    report = review(old, new, machine)
    loud = [finding.rule for finding in told(report) if finding.rule not in allowed]
    assert (report.verdict, loud) == ("same behaviour", []), shown(old, new, report)
    assert report.levels["behaviour"] == "same"


@few(12)
@given(st.integers(0, 2**32), st.integers(0, 2**16), st.booleans())
def test_cycles_written_out_as_their_moves_have_the_same_behaviour(seed: int, rendering: int, backwards: bool) -> None:
    job = job_of(seed, "mm", kinds=_CYCLES)
    cycles = text(job, seed=rendering)
    moves = text(cycles_as_moves(job), Form(arc_by_centre=1), seed=rendering)
    assume(cycles != moves)
    # A flank shift is no whole number of increments: written out it has more digits than the control holds. What a thread is meant to be is
    # known from a cycle's amounts only: the rules over threads speak where there is one.
    spoken = {
        "number-finer-than-increment",
        "thread-depth-and-diameter-disagree",
        "thread-height-and-lead-disagree",
        "thread-pass-too-deep",
    }
    assert_same(*((moves, cycles) if backwards else (cycles, moves)), allowed=QUIET | spoken)


@few(8)
@given(jobs(kinds=("turn", "finish", "groove"), units=("inch",), fine=True), st.integers(0, 2**16))
def test_fine_inches_as_exact_millimetres_are_the_same_path(job: Job, seed: int) -> None:
    """0.0001 in is 0.00254 mm: finer than the metric least increment, so that this may be told; the behaviour is the same."""
    old, new = text(job, seed=seed), text(job, Form(units="mm"), seed=seed)
    report = review(old, new)
    assert report.verdict == "same behaviour", shown(old, new, report)


@few(8)
@given(jobs(kinds=("turn", "finish", "groove"), units=("mm",)), st.integers(0, 2**16))
def test_a_lost_point_is_nothing_where_whole_units_are_read(job: Job, seed: int) -> None:
    machine = lathe()
    whole = replace(machine, choices=FrozenMap({**machine.choices, "number-without-point": "whole-units"}))
    old = text(job, seed=seed)
    new = old.replace(b".\n", b"\n").replace(b". ", b" ")
    assume(old != new)
    report = review(old, new, whole)
    assert report.verdict == "same behaviour", shown(old, new, report)


def test_the_number_of_passes_of_a_pattern_is_no_length_without_a_point() -> None:
    from verifier.report import examine

    contour = "N10 G00 X40.\nG01 Z-20. F0.2\nN20 X60.\n"
    for call in ("G73 U2. W1. R3\nG73 P10 Q20 U0.4 W0.1 F0.3\n", "G73 P10 Q20 I2. K1. U0.4 W0.1 D3 F0.3\n"):
        data = (
            f"O1\nG21\nN1 G00 G40 G97 G99\nT0101\nG97 S800 M03\nG00 X62. Z2.\n{call}{contour}G00 X80. Z50.\nM05\nM30\n"
        )
        found = examine(data.encode(), machine=lathe()).findings
        assert [finding.title for finding in found if finding.rule == "number-without-point"] == []
