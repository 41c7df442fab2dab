"""Edits by hand that no maker of the bench makes, each with what is true of it: a compact table, program by program.

Each was thought out as hands go wrong, or as somebody would hide a change: two edits that undo each other, a bracket that swallows a word, a per
cent sign in the middle, a loop asked the other way round. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

SAME, CHANGED, UNDETERMINED = "same behaviour", "changed behaviour", "undetermined"


class Told(NamedTuple):
    """What a review must say: its verdict, rules that must be told as change or new, and words of a title (each in one of them)."""

    verdict: str
    rules: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    """Rules that must not be told: a difference that is none, or one that only follows from what cannot be computed."""
    first: str = ""
    """The rule that the first card begins with."""
    cards: int = 0
    """How many cards tell it (0: it does not matter)."""


@dataclass(frozen=True)
class ByHand:
    """One edit: the program (of the demo shop, with its machine and setup sheet, or of the bench), what is replaced, and what is true of it."""

    name: str
    program: str
    changes: tuple[tuple[str, str], ...]
    told: Told
    before: tuple[tuple[str, str], ...] = ()
    """What the base has beside the program as it stands in its file."""


def one(name: str, program: str, old: str, new: str, told: Told, before: tuple[tuple[str, str], ...] = ()) -> ByHand:
    """An edit at one place."""
    return ByHand(name, program, ((old, new),), told, before)


_SHAFT, _SLEEVE, _GROOVES, _PIN = "drive-shaft", "flanged-sleeve", "macro-grooves", "stepped-pin"
_FACE = "G01 X35. F0.08\nG04 P500\nG00 X42.\nZ-45."

BY_HAND: tuple[ByHand, ...] = (
    # -- what stands where a control may read no further ------------------------------------------------------------------
    one(
        "per cent sign in the middle", _SHAFT, "(THREAD M30X2", "%\n(THREAD M30X2",
        Told(UNDETERMINED, ("text-problem", "behaviour-changed-otherwise"), ("stands behind the end mark",)),
    ),
    one("semicolon in the middle", _SHAFT, "G00 X80. Z20.", "G00 X80. ;Z20.", Told(CHANGED, ("text-behind-semicolon",))),
    one("text behind the program end", _SHAFT, "M30\n%", "M30\nG00 X0. Z-50.\n%", Told(SAME, ("unreached-block-changed",))),
    one(
        "another program in the file", _SHAFT, "M30\n%", "M30\nO2103\nG00 X0. Z-50.\nM99\n%",
        Told(SAME, ("program-number-changed",), ("holds another program now: O2103",)),
    ),
    one("program number of another job", _SHAFT, "O2101", "O2110", Told(SAME, ("program-number-changed",))),
    # -- brackets and letters ---------------------------------------------------------------------------------------------
    one(
        "bracket swallows the spindle start", _SHAFT, "G96 S220 M03", "(G96 S220 M03)",
        Told(CHANGED, ("spindle-state-changed", "not-turning-while-cutting"), first="spindle-state-changed", cards=1),
    ),
    one(
        "bracket swallows an end of a move", _SHAFT, "G00 X64. Z5. M08", "G00 X64. (Z5.) M08",
        Told(CHANGED, ("moves-removed",), ("A word became a note, which the machine does not read: Z5.",), cards=1),
    ),
    one(
        "bracket swallows a feed that is in force", _SHAFT, "G01 X35. F0.08", "G01 X35. (F0.08)",
        Told(SAME, ("setup-note-changed",), ("A word became a note",), cards=1),
    ),
    one(
        "bracket swallows a whole block", _SHAFT, "G00 X80. Z20.", "(G00 X80. Z20.)",
        Told(CHANGED, ("moves-removed",), ("Words became a note",), cards=1),
    ),
    one(
        "bracket around a tool word taken away", _SHAFT, "(T0202)", "T0202",
        Told(CHANGED, ("tool-changed",), ("A note became a word that the machine reads: T0202",), cards=1),
        before=(("\nT0202", "\n(T0202)"),),
    ),
    one(
        "bracket moved to the front of a feed", _SHAFT, "G01 X35. F0.08 (FLOOR)", "G01 X35. (F0.08 FLOOR)",
        Told(SAME, ("setup-note-changed",), ("A word became a note",), cards=1),
        before=(("G01 X35. F0.08", "G01 X35. F0.08 (FLOOR)"),),
    ),
    one("bracket swallows the clamp", _SHAFT, "G50 S1500", "G50 (S1500)", Told(CHANGED, ("speed-clamp-raised",))),
    one(
        "bracket not closed", _SHAFT, "G50 S1500", "G50 (S1500",
        Told(CHANGED, ("text-problem", "behaviour-changed-otherwise")),
    ),
    one(
        "letter lost behind a block number", _SHAFT, "N7 X42.\n(RELIEF", "N742.\n(RELIEF",
        Told(CHANGED, ("integer-word-with-point",), ("N742. must be a whole number, without a point",)),
        before=(("X42.\n(RELIEF", "N7 X42.\n(RELIEF"),),
    ),
    one("blanks inside words", _SHAFT, "G96 S180 M03", "G96\tS 1 80\tM 0 3", Told(CHANGED, ("unreadable-block",))),
    one("blank behind a sign", _SHAFT, "Z-80.", "Z- 80.", Told(SAME)),
    one("letter O in a number", _SHAFT, "Z-80.", "Z-8O.", Told(CHANGED, ("unreadable-block",), first="unreadable-block")),
    # -- values that undo each other --------------------------------------------------------------------------------------
    one(
        "two increments that undo each other", _SHAFT, "W0.4\nG04 P500\nG00 X42.\nW0.6", "W0.5\nG04 P500\nG00 X42.\nW0.5",
        Told(CHANGED, ("position-changed",), ("takes it back",), cards=1),
        before=(("G04 P500\nG00 X42.\nZ-45.", "W0.4\nG04 P500\nG00 X42.\nW0.6"),),
    ),
    one("a second clamp behind a wild one", _SHAFT, "G50 S2000\n", "G50 S4000\nG50 S2000\n", Told(SAME)),
    one("a word moved to the block behind it", _SHAFT, "G01 X35. F0.08\nG04 P500", "G01 X35.\nG04 P500 F0.08", Told(SAME)),
    one(
        "a feed moved to the block behind it", _SHAFT, "G01 X-0.8 F0.12\nG00 Z2.", "G01 X-0.8\nG00 Z2. F0.12",
        Told(CHANGED, ("feed-changed",), first="feed-changed"),
    ),
    one("start word moved to the block before it", _SHAFT, "G97 S750 M03", "M03\nG97 S750", Told(SAME)),
    one(
        "unit changed and changed back", _SHAFT, "X42.\n(RELIEF", "G20 X1.6535\nG21\n(RELIEF",
        Told(CHANGED, ("units-changed", "approach-clearance-changed"), ("what it scales is told beside this",)),
    ),
    one(
        "a safety block twice", _SHAFT, "N2 G00 G21 G40 G97 G99\n", "N2 G00 G21 G40 G97 G99\nN2 G00 G21 G40 G97 G99\n",
        Told(SAME, silent=("units-changed", "speed-mode-changed", "feed-mode-changed")),
        before=(("N2 G00 G40", "N2 G00 G21 G40"),),
    ),
    one("the unit twice", _SHAFT, "\nG21\n", "\nG21\nG21\n", Told(SAME, silent=("units-changed",))),
    one("unit not changed back", _SHAFT, "N5 G00", "N5 G20 G00", Told(CHANGED, ("units-changed", "travel-limit"))),
    one(
        "feed per minute in one block, and its feed kept", _SHAFT, _FACE, "G98 G01 X35. F80.\nG04 P500\nG99 G00 X42.\nZ-45.",
        Told(CHANGED, ("feed-mode-changed", "feed-changed", "feed-at-rapid-rate"), ("goes 8 % slower",)),
    ),
    one("feed beyond the slide's rapid", _SHAFT, "G01 X-0.8 F0.12", "G98 G01 X-0.8 F99000.", Told(CHANGED, ("feed-at-rapid-rate",))),
    one("speed beyond the chuck", _SHAFT, "G97 S750", "G97 S7500", Told(CHANGED, ("speed-above-limit",))),
    # -- amounts of cycles, labels ----------------------------------------------------------------------------------------
    one(
        "a point in P of a thread", _SHAFT, "P1227 Q300", "P1.227 Q300",
        Told(CHANGED, ("integer-word-with-point",), first="integer-word-with-point"),
    ),
    one(
        "a point in the peck of a drill", _SLEEVE, "Q8000", "Q8.",
        Told(CHANGED, ("integer-word-with-point",), silent=("holder-into-material", "rapid-into-material", "bore-retract-outward"),
             first="integer-word-with-point"),
    ),
    one(
        "a label twice in a contour", _SHAFT, "X40. Z-27.234", "N110 X40. Z-27.234",
        Told(CHANGED, ("contour-label-moved", "arc-not-possible"), silent=("loose-piece-met", "work-cut-free"), first="contour-label-moved"),
    ),
    one(
        "the first label of a contour lost", _SHAFT, "N100 G00 X21.481", "G00 X21.481",
        Told(CHANGED, ("contour-label-missing",), silent=("loose-piece-met", "work-cut-free", "power-beyond-spindle"),
             first="contour-label-missing", cards=1),
    ),
    one(
        "the last block of a contour lost", _SHAFT, "N110 G01 X61.\n", "",
        Told(CHANGED, ("contour-label-missing",), silent=("loose-piece-met", "work-cut-free", "power-beyond-spindle"),
             first="contour-label-missing", cards=1),
    ),
    one("P and Q of a finish cycle exchanged", _SHAFT, "G70 P100 Q110", "G70 P110 Q100", Told(CHANGED, ("contour-label-missing",))),
    one("a cycle not ended before the retract", _SLEEVE, "X45.8\nG00 X80.", "X45.8\nX80.", Told(CHANGED, ("moves-added",))),
    # -- what can no longer be computed is told by its words -------------------------------------------------------------
    one(
        "a lead longer than its thread", "threads", "P920 Q250 F1.5", "P920 Q250 F150.",
        Told(CHANGED, ("cycle-amount-changed", "cycle-not-possible"), ("G76 F from 1.5 to 150.; what the control makes of it now cannot",),
             silent=("behaviour-changed-otherwise", "moves-removed")),
    ),
    one(
        "a peck below zero", _SHAFT, "P1500 Q2000", "P-1500 Q2000",
        Told(CHANGED, ("cycle-amount-changed",), ("G75 P from 1500 to -1500; what",), silent=("behaviour-changed-otherwise", "moves-removed")),
    ),
    one(
        "a depth of cut below zero", _SHAFT, "U2.5 R0.5", "U-2.5 R0.5",
        Told(CHANGED, ("sign-lost",), ("U2.5 is now U-2.5; what the control makes of it now cannot",), silent=("behaviour-changed-otherwise",)),
    ),
    one(
        "a fillet too small for its ends", "bored-bush", "X46. Z-16. R1.", "X46. Z-16. R.5",
        Told(CHANGED, ("curve-changed", "arc-not-possible"), ("R from 1. to .5; what",), silent=("remark-changed",)),
    ),
    one(
        "another fillet too small for its ends", "bored-bush", "X46. Z-16. R.5", "X46. Z-16. R.6",
        Told(UNDETERMINED, ("curve-changed",), ("R from .5 to .6; what the control makes of it could not be computed",), silent=("remark-changed",)),
        before=(("X46. Z-16. R1.", "X46. Z-16. R.5"),),
    ),
    one(
        "a dwell below zero", "tail-shaft", "G97\nG04 X2.", "G97\nG04 X-2.",
        Told(CHANGED, ("dwell-changed", "value-missing-or-wrong"), ("from 2 s to X-2.; what",), silent=("behaviour-changed-otherwise",)),
    ),
    one(
        "a spindle turned to its place in the mode of another way in", _SHAFT, "N2 G00 G40 G97 G99", "N2 G00 G40 G99",
        Told(SAME, ("sequence-start-incomplete",), ("Started alone at N2: not established: speed mode",)),
        before=(("G96 S220 M03\nG00 X64. Z5. M08\n", "S1000 M03\nG00 X64. Z5. M08\nG96 S220\n"),),
    ),
    # -- offsets ----------------------------------------------------------------------------------------------------------
    one(
        "an offset write taken out", _SHAFT, "G10 L2 P1 Z-500.\n", "",
        Told(CHANGED, ("offset-write-changed", "work-offset-changed"), ("from what the machine holds, before it from what G10 L2 P1 Z-500. writes",)),
        before=(("G28 U0. W0.\n\n(ROUGH", "G28 U0. W0.\nG10 L2 P1 Z-500.\n\n(ROUGH"),),
    ),
    one(
        "one of two offsets of a tool", _SHAFT, "T0313\n", "T0303\n", Told(CHANGED, ("tool-offset-changed",)),
        before=(("(SEAL GROOVE 35.", "T0313\n(SEAL GROOVE 35."),),
    ),
    one(
        "another level of a skip", _SHAFT, "/G00 X66.", "/2G00 X66.", Told(CHANGED, ("skip-changed",)),
        before=(("G00 X66.", "/G00 X66."),),
    ),
    one(
        "one unknown code for another", _SHAFT, "G187 P1", "G188 P1", Told(UNDETERMINED, ("unknown-code",)),
        before=(("G50 S2500", "G187 P1\nG50 S2500"),),
    ),
    # -- calls, loops, conditions -----------------------------------------------------------------------------------------
    one("a subprogram called from two places", _PIN, "G01 U-2. W-1.", "G01 U-3. W-1.", Told(CHANGED, ("position-changed",))),
    one("a step that does not come back whole", _PIN, "G00 W20.", "G00 W19.", Told(CHANGED, ("position-changed",))),
    one("the count written into P", _PIN, "M98 P8102 L4", "M98 P48102", Told(SAME)),
    one("one run fewer", _PIN, "M98 P8102 L4", "M98 P8102 L3", Told(CHANGED, ("repeat-count-changed",))),
    one("a variable that a condition asks", _GROOVES, "#104=3(", "#104=4(", Told(CHANGED, ("moves-added", "variable-changed"), first="moves-added")),
    one("brackets around both sides", _GROOVES, "IF[#110GE#111]", "IF[[#110]GE[#111]]", Told(SAME)),
    one("the order of an expression", _GROOVES, "X[#101-4.*#1]", "X[[#101-4.]*#1]", Told(CHANGED, ("position-changed",))),
    one(
        "the sides of a condition exchanged", _GROOVES, "IF[#110GE#111]", "IF[#111GE#110]",
        Told(CHANGED, ("moves-removed", "dwell-changed"), ("9 moves removed", "3 times")),
    ),
    one("a jump past the loop", _GROOVES, "IF[#110GE#111]GOTO30", "IF[#110GE#111]GOTO32", Told(CHANGED, ("moves-removed",))),
    one("a block number twice", _GROOVES, "G00 X64. Z5. M08\n#110", "N32 G00 X64. Z5. M08\n#110", Told(SAME, ("jump-or-loop-wrong",))),
    one(
        "the wrong variable counted", _GROOVES, "#110=#110-#112", "#101=#110-#112",
        Told(CHANGED, ("run-does-not-end",), first="run-does-not-end"),
    ),
    one(
        "the end of another loop", _GROOVES, "#1=#1+1\nEND1", "#1=#1+1\nEND2",
        Told(CHANGED, ("jump-or-loop-wrong", "moves-removed"), first="jump-or-loop-wrong"),
    ),
    one("one more round", _GROOVES, "WHILE[#1LT#104]", "WHILE[#1LE#104]", Told(CHANGED, ("moves-added",))),
    # -- stops, dwells, ways ----------------------------------------------------------------------------------------------
    one("the point of a dwell lost", "tail-shaft", "G97\nG04 X2.", "G97\nG04 X2", Told(CHANGED, ("dwell-changed",), ("X2. is now X2",))),
    one(
        "a place of the machine read as one of the part", "tail-shaft", "G53 G00 X-10. Z-20.\n", "G00 X-10. Z-20.\n",
        Told(CHANGED, ("datum-return-changed",), ("X-10. Z-20. is a place of the part now",)),
        before=(("G28 U0. W0.\nG97\nM30", "G53 G00 X-10. Z-20.\nG97\nM30"),),
    ),
    one("the work offset not put back", "bored-bush", "Z20.\nG54\n", "Z20.\n", Told(CHANGED, ("work-offset-changed",))),
    one("compensation ended a block early", "bored-bush", "Z-30.\nG40 X54.", "G40 Z-30.\nX54.", Told(CHANGED, ("compensation-changed",))),
    one("a spring pass more", "threads", "X33.546\nG00 X40.", "X33.546\nX33.546\nG00 X40.", Told(CHANGED, ("thread-depth-changed",))),
)  # fmt: skip
