"""Threads read back from what the cycles did: root, height, side, and the diameter turned where they come to lie."""

from __future__ import annotations

from fractions import Fraction

from verifier.control import execute
from verifier.findings.threads import Thread, threads, turned_radii
from verifier.machines import generic_lathe
from verifier.source import read_source
from verifier.syntax import parse

START = "G21 G40 G97 G99\nT0101\nS700 M03\n"
TURN = "G00 X62. Z2.\nG00 X30.\nG01 Z-26. F0.2\nX62.\nG00 Z6.\n"
BORE = "G00 X18. Z6.\nG00 X20.\nG01 Z-60. F0.2\nX18.\nG00 Z6.\n"
DRILL = "G00 X0. Z6.\nG01 Z-60. F0.2\nG00 Z6.\n"
OUTSIDE = "G00 X36. Z6.\nG76 P010060 Q50 R0.05\nG76 X27.546 Z-20. P1227 Q300 F2.\n"


def run(text: str) -> tuple[list[Thread], list[Fraction]]:
    trace = execute(parse(read_source((START + text + "M30\n").encode(), "case")), generic_lathe())
    found = threads(trace)
    return found, [radius for thread in found for _, radius in turned_radii(trace, thread)]


def test_a_cycle_gives_root_height_first_pass_and_lead() -> None:
    (thread,), _ = run(OUTSIDE)
    assert (thread.root, thread.height, thread.first, thread.lead) == (
        Fraction("13.773"),
        Fraction("1.227"),
        Fraction("0.3"),
        Fraction(2),
    )
    assert thread.outside


def test_the_turned_diameter_is_the_deepest_cut_from_outside() -> None:
    _, radii = run(TURN.replace("X30.", "X32.") + TURN + OUTSIDE)
    assert set(radii) == {Fraction(15)}


def test_a_bore_and_a_drill_under_an_outside_thread_are_none_of_it() -> None:
    _, radii = run(TURN + DRILL + BORE + OUTSIDE)
    assert set(radii) == {Fraction(15)}


def test_an_outside_diameter_over_an_inside_thread_is_none_of_it() -> None:
    inside = "G00 X18. Z6.\nG76 P010060 Q50 R0.05\nG76 X22. Z-20. P1000 Q300 F2.\n"
    (thread,), radii = run(TURN + BORE + inside)
    assert not thread.outside
    assert set(radii) == {Fraction(10)}


def test_without_a_cut_there_is_no_turned_diameter() -> None:
    assert run(OUTSIDE)[1] == []


def test_single_passes_to_one_end_are_one_thread_with_the_deepest_root() -> None:
    (thread,), radii = run(TURN + "G00 X36.\nG92 X29.4 Z-20. F2.\nX28.9\nX28.4\nX27.546\n")
    assert thread.height is None
    assert thread.root == Fraction("13.773")
    assert len(thread.blocks) == 4
    assert set(radii) == {Fraction(15)}


def test_a_tapered_thread_has_its_root_on_the_line_between_its_ends() -> None:
    (thread,), _ = run("G00 X36. Z6.\nG76 P010060 Q50 R0.05\nG76 X28. Z-20. R-1. P1000 Q300 F2.\n")
    assert thread.root == 14
    assert [thread.root_at(Fraction(k, 2)) for k in range(3)] == [13, Fraction(27, 2), 14]
