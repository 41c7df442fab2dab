"""The named choices a profile may make: places where lathes differ, each value a behaviour implemented in Python.

The table is data. The first value of a choice is the commonest on lathes of code set A and is the default; a default
that nobody verified at the machine still counts as an assumption. Source of every row: common practice, no source,
unless its `source` says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from verifier.machines.frozen import FrozenMap

PRACTICE = "common practice, no source"
MANUALS = "machine manuals differ: the same text is read either way"


@dataclass(frozen=True, slots=True)
class Choice:
    """One place where lathes differ: its name, allowed values (first is the default), a question a setter can answer,
    and a source tag.
    """

    name: str
    values: tuple[str, ...]
    question: str
    source: str = PRACTICE

    @property
    def default(self) -> str:
        """The value taken when a profile does not name this choice."""
        return self.values[0]


_ROWS = (
    Choice(
        "number-without-point",
        ("least-increments", "whole-units"),
        "Does X10 without a decimal point move 10 least increments (0.010 mm) or 10 whole units (10 mm)?",
        MANUALS,
    ),
    Choice(
        "feed-without-point",
        ("own-increment", "whole-units"),
        "Does F without a decimal point count the feed's own increment, or whole mm (inches) per minute or revolution?",
    ),
    Choice(
        "rapid-path",
        ("straight", "each-axis"),
        "Does a rapid in two axes run on the straight line, or each axis at its own rate, so that the path bends?",
    ),
    Choice(
        "word-twice",
        ("last-counts", "alarm"),
        "When a block holds one letter twice, or two codes of one group, does the last count, or is it an alarm?",
    ),
    Choice(
        "skip-mid-block",
        ("what-follows", "not-allowed"),
        "Does a slash in the middle of a block skip what follows it, or is it not allowed there?",
    ),
    Choice(
        "tool-with-motion",
        ("index-first", "index-with-motion"),
        "When a block holds both a T word and a movement, does the turret index first, or together with the movement?",
    ),
    Choice(
        "cut-waits-for-speed",
        ("yes", "no"),
        "Before a move at a feed, does the control wait until the spindle has reached its speed, or does it go on at once?",
    ),
    Choice(
        "clamp-limits-rpm-mode",
        ("no", "yes"),
        "Does the speed clamp (G50 S) also limit a speed given in revolutions per minute under G97?",
        "a course text says it does not; the reservation that controls differ is common practice, no source",
    ),
    Choice(
        "thread-r-unit",
        ("millimetres", "least-increments"),
        "Is R in the first line of the two-line threading cycle (G76) in the program's unit, or in least increments?",
        MANUALS,
    ),
    Choice(
        "d-of-one-block-cycles",
        ("decimal", "least-increments"),
        "Is D of the one-line cycles a length like any other, or an integer in least increments?",
    ),
    Choice("dwell-p", ("milliseconds",), "Is P of a dwell (G04 P) in milliseconds?", "course texts agree"),
    Choice(
        "dwell-p-with-point",
        ("error", "seconds"),
        "Is P of a dwell with a decimal point (G04 P1.5) an error, or a time in seconds?",
        MANUALS,
    ),
    Choice(
        "dwell-x-u",
        ("seconds", "revolutions-per-rev-feed"),
        "Is X or U of a dwell (G04 X) always in seconds, or in revolutions while feed per revolution is in force?",
    ),
    Choice(
        "feed-after-mode-change",
        ("kept", "must-be-given-again"),
        "After a change between feed per minute and per revolution, is F kept as a number, or must it be given again?",
    ),
    Choice(
        "rough-infeed",
        ("mode-of-first-contour-block",),
        "Do G71 and G72 go in to each level in the mode (rapid or feed) of the first contour block?",
    ),
    Choice(
        "rough-pockets",
        ("allowed", "not-supported"),
        "When the first contour block of a roughing cycle names both axes, may the contour have pockets?",
    ),
    Choice(
        "modal-single-cycles",
        ("only-with-axis-word", "every-block"),
        "While a single cycle (G90, G92, G94) is in force, does every block repeat it, or only one with an axis word?",
    ),
    Choice(
        "flank-infeed",
        ("single-flank", "plunge", "both-flanks"),
        "Does the multi-pass threading cycle (G76) go in along one flank by the thread angle, straight in, or on either flank in turn?",
    ),
    Choice(
        "thread-start-angle",
        ("thousandths", "degrees"),
        "Is the start angle of a thread (Q of G32, G92) a whole number of thousandths of a degree, or degrees?",
    ),
    Choice(
        "drill-retract",
        ("small", "full"),
        "After each peck of a drilling cycle (Q of G83, G87), does the drill go back by a small clearance, or out to the R level?",
    ),
    Choice(
        "drill-r-level",
        ("by-distance-mode", "increment"),
        "In code set B or C, is R of a drilling cycle a coordinate under G90, or always counted from where the cycle started?",
    ),
    Choice(
        "drill-increment",
        ("from-r-level", "from-initial-level"),
        "Does an increment for the bottom of a drilling cycle (W of G83) count from its R level, or from where it started?",
    ),
    Choice(
        "semicolon",
        ("comment", "end-of-block"),
        "Does a semicolon followed by text open a comment, or end the block?",
    ),
    Choice(
        "m-after-motion",
        ("after", "before"),
        "Are M05 and M09 carried out after the movement of their block, or before it?",
        "JB 3208-83 (the national adoption of ISO 1056): after; NISTIR 6556 section 3.8: before",
    ),
    Choice(
        "coordinate-preset",
        ("shift",),
        "Does G50 with X or Z shift the coordinates so that the present position gets the values given?",
    ),
    Choice(
        "tool-word",
        ("last-two-are-offset", "last-one-is-offset", "last-three-are-offset"),
        "In a T word, are the last two digits the offset (T0101, T10110), the last one (T11), or the last three (T06006)?",
    ),
    Choice(
        "geometry-offset",
        ("by-tool-number", "by-offset-number"),
        "Does the geometry offset come with the first digits of a T word (the tool), or with the last ones, as wear does?",
    ),
    Choice(
        "offset-write-counts",
        ("at-next-call", "at-once"),
        "Does a tool offset written by G10 count from the next T word, or at once for the tool in force?",
    ),
    Choice(
        "reference-without-axis",
        ("all-axes", "nothing-moves"),
        "Does G28 or G30 without an axis word bring all axes to the reference point, or does nothing move?",
        MANUALS,
    ),
    Choice(
        "corner-words",
        ("comma-or-letter", "comma", "letter"),
        "Are chamfers, rounds and angles written with a comma (,C ,R ,A), as plain letters (C R A), or either way?",
    ),
    Choice(
        "arc-without-centre",
        ("straight", "alarm"),
        "Does a move under G02 or G03 with neither R nor I and K go straight, or stop with an alarm?",
        MANUALS,
    ),
    Choice(
        "expression-order",
        ("and-with-products", "and-with-sums"),
        "In an expression without brackets, does AND go before + and - together with * and /, or together with + and -?",
        "common practice, no source; NISTIR 6556 section 3.3.2.3: with + and -",
    ),
    Choice(
        "logic-operators",
        ("bit-by-bit", "true-or-false"),
        "Do AND, OR and XOR of whole numbers work bit by bit, or do they only tell true (1) from false (0)?",
        "common practice, no source; NISTIR 6556 section 3.3.2.3: true or false",
    ),
    Choice(
        "fix-and-fup",
        ("toward-and-away-from-zero", "floor-and-ceiling"),
        "Of a number below zero, does FIX drop the part (FIX[-2.8] is -2), or go down to the whole number below (-3)?",
        "common practice, no source; NISTIR 6556 section 3.3.2.4: floor and ceiling",
    ),
    Choice(
        "arcus-range",
        ("0-to-360", "minus-180-to-180"),
        "Does ATAN with two values (and ASIN below zero) give angles from 0 to 360 degrees, or below zero?",
    ),
    Choice(
        "assignments-in-block",
        ("in-order", "after-all-values"),
        "Does a variable set in a block count for the words and statements behind it in that block, or only after the block?",
        "common practice, no source; NISTIR 6556 section 3.3.3: after the block",
    ),
    Choice(
        "computed-value",
        ("rounded-to-increment", "as-computed"),
        "Is a length that comes from a variable or an expression rounded to the least increment before the axis moves?",
    ),
    Choice(
        "call-repeats",
        ("leading-digits-of-p", "l-only"),
        "Do the digits of M98 P in front of the last four count the repeats (P31000: program 1000 three times), or does only L?",
    ),
    Choice(
        "argument-without-point",
        ("least-increments", "as-written"),
        "Is a length given to a called program without a point (G65 X10) counted in least increments, or as 10 whole units?",
    ),
    Choice(
        "unset-in-address",
        ("word-left-out", "alarm"),
        "Is a word whose variable is not set left out of its block, or is it an alarm?",
    ),
    Choice(
        "common-variables-at-end",
        ("kept", "cleared"),
        "Do common variables (#100 and up) keep their values after a program end or a reset, or are they cleared?",
    ),
)

_COMPENSATION = (
    Choice(
        "compensation-entry",
        ("square", "as-a-corner"),
        "Does the block that switches nose compensation on end square to the next block, and the one before it is switched off square to itself, "
        "or at a corner as between two blocks under compensation?",
    ),
    Choice(
        "compensation-outer-corner",
        ("straight", "arc"),
        "Under nose compensation, does the nose go round an outer corner on straight lines, or on an arc about it?",
        "an arc: NISTIR 6556 section 3.5.10; straight lines: common practice, no source",
    ),
    Choice(
        "compensation-look-ahead",
        ("one-block-without-motion", "unlimited"),
        "Do two or more blocks without motion between two moves hide the second one from nose compensation, so that the corner is lost?",
    ),
    Choice(
        "compensation-side-change",
        ("as-entry", "at-the-corner"),
        "When G41 follows G42 without G40 between them, is the new side reached by the end of that block, or at its start?",
    ),
    Choice(
        "compensation-in-roughing",
        ("ignored", "applied"),
        "Do G71, G72 and G73 rough the contour as it is written, or as nose compensation moves it (G70 always applies it)?",
    ),
)

CHOICES: FrozenMap[str, Choice] = FrozenMap((row.name, row) for row in (*_ROWS, *_COMPENSATION))
"""Every choice by its name, in the order in which a profile is shown."""
