"""What a turning program makes a lathe of code set A do, worked out slowly and simply, without the product.

It answers one question only: do two programs differ in what is done? So a cycle stays a cycle (its words, what governs it and its contour's
moves), a call is its lines in line, and what is not read is kept as text. It rather says "different" than "the same". Sources:
modal groups after NISTIR 6556 Table 4; incremental words, clamp and speed words, cycles' words: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from tests.edits.oracle_macros import holds, value, with_numbers
from tests.edits.oracle_parts import (
    COOLANT,
    DRILL,
    ENDS,
    INCH,
    MODAL,
    MOST_STEPS,
    MOTION,
    MULTI,
    RESET,
    SINGLE,
    SPINDLE,
    THREAD,
    Act,
    Doing,
    apart,
    block_number,
    first_infeed,
    goes_on_straight,
    step_size,
    ways_into,
    words_text,
)
from tests.edits.words import Line, Word, line_of, lines_of


@dataclass
class Run:
    """One run from a line on: what is in force, and what has been done so far."""

    lines: Sequence[Line]
    skip: bool = False
    state: dict[str, Any] = field(default_factory=lambda: dict(RESET))
    place: dict[str, Any] = field(default_factory=lambda: {"X": ("start",), "Z": ("start",)})
    kept: dict[str, dict[str, Any]] = field(default_factory=dict)
    done: Doing = field(default_factory=list)
    contour: bool = False
    variables: dict[int, Fraction] = field(default_factory=dict)
    called: set[int] = field(default_factory=set)
    roughing: bool = False
    ended: bool = False
    steps: int = 0

    def go(self, start: int = 0) -> Doing:
        """Run to the program's end; the text behind it is part of the answer."""
        at = start
        while at < len(self.lines):
            line = self.lines[at]
            if self.skip and line.skip:
                at += 1
                continue
            goes_on = self.block(at, line)
            if goes_on is None:
                self.done.append(("end", self.modes(), self.at(), self.left()))
                behind = [words_text(self.lines[k]) for k in range(at + 1, len(self.lines)) if k not in self.called]
                self.done.append(("behind the end", [text for text in behind if text]))
                return self.done
            at = goes_on
            self.steps += 1
            if self.steps > MOST_STEPS:
                self.done.append(("no end in sight",))
                return self.done
        self.done.append(("text ends", self.modes(), self.at(), self.left()))
        return self.done

    def left(self) -> list[tuple[int, Fraction]]:
        """Variables that outlive the program (common ones, from 100 on: common practice, no source)."""
        return sorted((number, value) for number, value in self.variables.items() if number >= 100)

    def modes(self) -> Act:
        return tuple(sorted((key, str(value)) for key, value in self.state.items() if key not in ("S", "F", "motion")))

    def at(self) -> Act:
        return self.place["X"], self.place["Z"]

    def governed(self, *, cutting: bool) -> Act:
        """What is in force during a move."""
        s = self.state
        found = [s.get(key) for key in ("tool", "spindle", "coolant", "compensation", "work offset", "plane", "path")]
        if s.get("spindle") != "off":  # a spindle that was stopped has no speed
            found += [s.get("speed mode"), s.get("S"), None if s.get("speed mode") == "G97" else s.get("clamp")]
        if cutting:
            found += ["lead" if s.get("motion") in THREAD else s.get("feed mode"), s.get("F")]
        return tuple(map(str, found))

    def block(self, at: int, line: Line) -> int | None:
        """Do one line. Returns the next line, or None at the program's end."""
        if not line.plain:
            goes_on = self.statement(at, words_text(line).lstrip("/"))
            if goes_on is not None:
                return goes_on
            read = with_numbers(words_text(line), self.variables) if "#" in line.text or "[" in line.text else None
            if read is None or not line_of(read).plain:
                self.done.append(("text", words_text(line), self.governed(cutting=True)))
                return at + 1
            line = line_of(read)
        words = [word for word in line.words if word.letter not in "NO"]
        if not words:
            return at + 1
        codes = [word.code for word in words if word.letter in "GM"]
        known = MOTION.union(
            *MODAL.values(),
            SPINDLE,
            COOLANT,
            ENDS,
            MULTI,
            {"G04", "G28", "G30", "G50", "G53", "M00", "M01", "M06", "M98"},
        )
        unread = any(word.letter in "ABCEHVYL" for word in words) and "M98" not in codes
        if any(code not in known for code in codes) or unread:
            self.done.append(("text", words_text(line), self.governed(cutting=True), self.at()))
        running = self.at_surface_speed()
        self.modal(codes)
        self.speed_and_feed(words, codes)
        if self.at_surface_speed() and not running:
            self.done.append(("surface speed on", self.state.get("clamp")))
        goes_on = self.motion(at, words, codes)
        return self.after(codes, words, goes_on)

    def at_surface_speed(self) -> bool:
        """Whether the spindle turns at constant surface speed."""
        return self.state.get("spindle") in ("forward", "reverse") and self.state.get("speed mode") == "G96"

    def modal(self, codes: list[str]) -> None:
        for code in codes:
            for group, members in MODAL.items():
                if code in members:
                    if group == "speed mode" and self.state.get(group) != code:
                        self.state["S"] = ("held", self.state.get("S"))
                    self.state[group] = code
            if code in MOTION:
                if self.state.get("motion") != code:
                    self.kept.pop("single", None)
                self.state["motion"] = code
            if code in SPINDLE and code != "M05":
                self.state["spindle"] = SPINDLE[code]
            if code in COOLANT and code != "M09":
                self.state["coolant"] = COOLANT[code]

    def speed_and_feed(self, words: list[Word], codes: list[str]) -> None:
        for word in words:
            if self.roughing and word.letter in "FS":
                continue  # read in course texts: a cycle that roughs along a contour has feed and speed of its own, only a finish uses these
            if word.letter == "S":
                self.state["clamp" if "G50" in codes else "S"] = str(word.value)
            if word.letter == "F" and not MULTI & set(codes):
                self.state["F"] = self.amount(word)
            if word.letter == "T" and self.state.get("tool") != int(word.value):
                self.state["tool"] = int(word.value)
                going = [self.state.get("spindle"), self.state.get("coolant")]
                going += [] if going[0] == "off" else [self.state.get("speed mode")]
                self.done.append(("tool", int(word.value), going, self.at()))
                self.place = {axis: ("by another tool", place) for axis, place in self.place.items()}

    def amount(self, word: Word) -> Act:
        """A number as it counts: with a point in millimetres, without one as written, both with the units that hold."""
        if not word.value:
            return (Fraction(0),)
        units = self.state.get("units", "?")
        if word.pointed:
            return ("mm", word.value * INCH if units == "G20" else word.value) if units != "?" else ("?", word.value)
        return ("no point", units, word.value)

    def add(self, place: Any, word: Word) -> Any:
        step = self.amount(word)
        if step == (Fraction(0),):
            return place
        if len(place) == 2 and len(step) == 2 and place[0] == step[0]:
            return (place[0], place[1] + step[1])
        if place == (Fraction(0),):
            return step
        if len(place) == 3 and place[0] == "from" and place[2][0] == step[0] and len(step) == 2:
            return ("from", place[1], (step[0], place[2][1] + step[1]))
        return ("from", place, step)

    def goal(self, words: list[Word]) -> dict[str, Any]:
        goal = dict(self.place)
        for word in words:
            if word.letter in "XZ":
                goal[word.letter] = self.amount(word)
            if word.letter in "UW":
                axis = "X" if word.letter == "U" else "Z"
                goal[axis] = self.add(self.place[axis], word)
        return goal

    def motion(self, at: int, words: list[Word], codes: list[str]) -> int:
        """What the axis words of a block do."""
        axes = [word for word in words if word.letter in "XZUW"]
        others = {w.letter: self.amount(w) for w in words if w.letter in "IKRPQDAEBCHYV"}
        multi = next((code for code in codes if code in MULTI), None)
        if "M98" in codes:
            others = {}
        if "G04" in codes:
            self.done.append(("dwell", [(w.letter, w.value, w.pointed) for w in words if w.letter in "XUP"]))
        elif "G28" in codes or "G30" in codes:
            self.home(axes, others, codes)
        elif "G50" in codes:
            self.preset(axes)
        elif "G53" in codes:
            for word in axes:
                self.place[word.letter] = ("machine", self.amount(word))
            self.done.append(("machine place", self.at(), self.governed(cutting=False)))
        elif multi:
            return self.multi(at, multi, words)
        elif axes and self.state.get("motion") in SINGLE:
            kept = self.kept.setdefault("single", {})
            goal = self.goal(axes)
            kept.update(
                {
                    axis: goal[axis]
                    for axis in "XZ"
                    if any(w.letter in (axis, "U" if axis == "X" else "W") for w in axes)
                }
            )
            kept.update({letter: value for letter, value in others.items() if letter in "RIK"})
            taper = kept.get("R", kept.get("I", kept.get("K")))
            self.done.append(
                (self.state["motion"], self.at(), kept.get("X"), kept.get("Z"), taper, self.governed(cutting=True))
            )
        elif (axes or others) and self.state.get("motion") in DRILL:
            kept = self.kept.setdefault("drill", {})
            kept.update({w.letter: self.amount(w) for w in axes} | others)
            self.done.append(
                (self.state["motion"], sorted(kept.items(), key=str), self.at(), self.governed(cutting=True))
            )
        elif axes:
            self.travel(axes, others)
        elif others:
            self.done.append(("words", sorted(others.items()), self.state.get("motion")))
        return at + 1

    def travel(self, axes: list[Word], others: dict[str, Any]) -> None:
        goal, kind = self.goal(axes), self.state.get("motion")
        before, self.place = self.at(), goal
        if before == self.at() and kind not in ("G02", "G03"):
            return
        cutting = kind not in (None, "G00")
        act = (kind, before, self.at(), sorted(others.items()), self.governed(cutting=cutting))
        if self.done and kind in ("G00", "G01") and goes_on_straight(self.done[-1], act):
            act = (kind, self.done.pop()[1], *act[2:])
        self.done.append(act)

    def home(self, axes: list[Word], others: dict[str, Any], codes: list[str]) -> None:
        goal = self.goal(axes)
        moved = {"X" if w.letter in "XU" else "Z" for w in axes}
        through = tuple((axis, goal[axis]) for axis in "XZ" if axis in moved)
        if moved and all(self.place[axis] == place == ("reference",) for axis, place in through):
            return  # there already
        self.done.append(
            (
                "home",
                [c for c in codes if c in ("G28", "G30")],
                self.at(),
                through,
                sorted(others.items()),
                self.governed(cutting=False),
            )
        )
        for axis in moved or {"X", "Z"}:
            self.place[axis] = ("reference",)

    def preset(self, axes: list[Word]) -> None:
        if axes:
            goal = self.goal(axes)
            self.done.append(("preset", self.at(), goal["X"], goal["Z"]))
            self.place = goal

    def multi(self, at: int, code: str, words: list[Word]) -> int:
        """A multi-pass cycle: its amounts, what a first line left, its contour, and the line that is done next."""
        amounts = {w.letter: self.amount(w) for w in words if w.letter in "XZUWPQRDIKAF"}
        labelled = code in ("G70", "G71", "G72", "G73")
        if (labelled and not {"P", "Q"} & set(amounts)) or (not labelled and not {"X", "Z", "U", "W"} & set(amounts)):
            self.kept[code] = {**self.kept.get(code, {}), **amounts}
            return at + 1
        if "F" in amounts and not labelled:
            self.state["F"] = amounts["F"]
        if code != "G70":
            amounts["F"] = amounts.get("F", self.state.get("F"))
        inside, goes_on = [], at + 1
        if labelled and self.contour:
            self.done.append(("cycle inside a contour", code, sorted(amounts.items(), key=str)))
            return at + 1
        if labelled:
            names = {w.letter: w.value for w in words if w.letter in "PQ"}
            if "F" in amounts:
                self.state["F"] = amounts["F"]
            inside, goes_on = self.inside(at, code, names.get("P"), names.get("Q"), amounts.get("F"))
            amounts = {letter: value for letter, value in amounts.items() if letter not in "PQ"}
        if code == "G70":
            amounts = {}
        kept = dict(self.kept.get(code, {}))
        self.cap(code, kept, amounts, words, inside)
        motion, self.state["motion"] = self.state.get("motion"), code
        governed = self.governed(cutting=code != "G70")
        self.state["motion"] = motion
        self.done.append(
            (code, sorted(amounts.items(), key=str), sorted(kept.items(), key=str), inside, self.at(), governed)
        )
        return goes_on

    def cap(self, code: str, kept: dict[str, Any], amounts: dict[str, Any], words: list[Word], inside: Doing) -> None:
        """A step or depth of cut beyond the whole way is the whole way: the last step is what is left (common practice)."""
        depths = kept if kept else amounts
        if code == "G76":
            letter = "D" if "K" in amounts else "Q"
            amounts[letter] = first_infeed(amounts.get(letter), amounts.get("K" if "K" in amounts else "P"), kept)
        if code in ("G74", "G75"):
            goal = self.goal([w for w in words if w.letter in "XZUW"])
            for letter, axis, share in (("P", "X", 2), ("Q", "Z", 1)):
                way = apart(goal[axis], self.place[axis])
                step = step_size(amounts.get(letter))
                if way is not None and step is not None and step * share >= way:
                    amounts[letter] = "the whole way"
        if code in ("G71", "G72"):
            axis, letter, share = ("X", "U", 2) if code == "G71" else ("Z", "W", 1)
            places = [act[2][0 if axis == "X" else 1] for act in inside if len(act) == 5 and isinstance(act[2], tuple)]
            ways = ways_into(places, self.place[axis])
            depth = step_size(depths.get("D" if "D" in depths else letter))
            if ways and depth is not None and depth * share >= max(ways):
                depths["D" if "D" in depths else letter] = "the whole way"

    def inside(
        self, at: int, code: str, first: Fraction | None, last: Fraction | None, feed: Act | None
    ) -> tuple[Doing, int]:
        """What the contour's lines do from here, and where the program goes on."""

        def labelled(line: Line, name: Fraction | None) -> bool:
            word = line.word("N")
            return word is not None and name is not None and word.value == name

        order = (
            [*range(at + 1, len(self.lines)), *range(at)]
            if code != "G70"
            else [*reversed(range(at)), *range(at + 1, len(self.lines))]
        )
        opens = next((k for k in order if labelled(self.lines[k], first)), None)
        closes = (
            next((k for k in range(opens, len(self.lines)) if labelled(self.lines[k], last)), None)
            if opens is not None
            else None
        )
        if opens is None or closes is None:
            return [("no contour", str(first), str(last))], at + 1
        inner = Run(self.lines, self.skip, dict(self.state), dict(self.place), {}, [], True, dict(self.variables))
        inner.roughing = code != "G70"
        if code == "G70" and feed is not None:  # in force until the contour sets its own
            inner.state["F"] = feed
        for k in range(opens, closes + 1):
            if not (self.skip and self.lines[k].skip):
                inner.block(k, self.lines[k])
        if code == "G70":
            self.state["F"], self.state["S"] = inner.state.get("F"), inner.state.get("S")
        # Blocks between the cycle and its contour are not executed (read in public course texts); a finish comes back to its own block.
        jumps = code != "G70" and at < opens
        return inner.done, closes + 1 if jumps else at + 1

    def after(self, codes: list[str], words: list[Word], goes_on: int) -> int | None:
        """What happens once the block's motion is made."""
        for code in codes:
            if code == "M05":
                self.state["spindle"] = "off"
            if code == "M09":
                self.state["coolant"] = "off"
            if code in ("M00", "M01"):
                # A preset moves nothing: whether the machine stands in front of it or behind it is the same.
                behind = next((k for k, act in enumerate(reversed(self.done)) if act[0] != "preset"), len(self.done))
                self.done.insert(len(self.done) - behind, (code, self.state.get("spindle"), self.state.get("coolant")))
            if code == "M98" and not self.call(words):
                return None
            if code in ("M02", "M30"):
                self.state |= {"spindle": "off", "coolant": "off", "compensation": "G40"}
            if code in ENDS:
                self.done.append((code, [w.number for w in words if w.letter == "P"]))
                return None
        return goes_on

    def call(self, words: list[Word]) -> bool:
        """The called lines in line, as often as asked; False where the program ended in there."""
        numbers = {w.letter: int(w.value) for w in words}
        times, name = numbers.get("L", 1), numbers.get("P", -1)
        if name >= 10_000:
            times, name = divmod(name, 10_000)
        opens = next((k for k, one in enumerate(self.lines) if (w := one.word("O")) and w.value == name), None)
        if opens is None or times > 99:
            self.done.append(("call", sorted(numbers.items()), self.governed(cutting=True), self.at()))
            self.place = {"X": ("after call", name), "Z": ("after call", name)}
            return True
        for _ in range(times):
            at = opens + 1
            while at < len(self.lines):
                self.called |= {opens, at}
                goes_on = at + 1 if self.skip and self.lines[at].skip else self.block(at, self.lines[at])
                self.steps += 1
                if goes_on is None or self.steps > MOST_STEPS:
                    break
                at = goes_on
            if at >= len(self.lines) or not self.lines[at].has("M99") or self.steps > MOST_STEPS:
                self.done.append(("ended in a call", name))
                return False
            self.done.pop()  # the M99 that led back
        return True

    def statement(self, at: int, text: str) -> int | None:
        """What a statement of the macro language does: the next line, or None where it is none that is read here."""
        found = re.fullmatch(r"(?:N[0-9]+)?#([0-9]+)=(.*)", text)
        if found:
            number = value(found.group(2), self.variables)
            if number is None:
                return None
            self.variables[int(found.group(1))] = number
            return at + 1
        found = re.fullmatch(r"(?:N[0-9]+)?IF\[(.*)\](?:THEN(.*)|(GOTO.*))", text)
        if found:
            true = holds(found.group(1), self.variables)
            if true is None:
                return None
            return self.statement(at, found.group(2) or found.group(3)) if true else at + 1
        found = re.fullmatch(r"(?:N[0-9]+)?GOTO([0-9]+)", text)
        if found:
            # A jump looks forward first, then from the program's start (from memory).
            order = [*range(at + 1, len(self.lines)), *range(at + 1)]
            return next((k for k in order if block_number(self.lines[k]) == int(found.group(1))), None)
        found = re.fullmatch(r"(?:N[0-9]+)?WHILE\[(.*)\]DO([1-3])", text)
        if found:
            true, ends = holds(found.group(1), self.variables), f"END{found.group(2)}"
            behind = next((k for k in range(at, len(self.lines)) if words_text(self.lines[k]).endswith(ends)), None)
            return None if true is None or behind is None else at + 1 if true else behind + 1
        found = re.fullmatch(r"(?:N[0-9]+)?END([1-3])", text)
        if found:
            does = f"DO{found.group(1)}"
            return next((k for k in range(at, -1, -1) if words_text(self.lines[k]).endswith(does)), None)
        return None


def alarms(text: str) -> bool:
    """Whether a program stops with an alarm, or nobody can say what it does.

    A contour that is not there or holds what is no word, a cycle in a contour, no depth of cut.
    """
    done = doing(text)[0]
    broken = any(act[0] in ("no contour", "cycle inside a contour") for act in _inner(done))
    broken = broken or any(inner[0] == "text" for act in done if act[0] in MULTI for inner in act[3])
    roughs = [act for act in done if act[0] in ("G71", "G72")]
    return broken or any("D" not in dict(act[1]) and not {"U", "W"} & set(dict(act[2])) for act in roughs)


def nobody_knows(text: str) -> bool:
    """Whether what a program does is the control's own choice: a clamp of zero is an alarm, no clamp, or a spindle that stands."""
    return any(line.has("G50") and (word := line.word("S")) and not word.value for line in lines_of(text) if line.plain)


def _inner(done: Doing) -> Doing:
    return [inner for act in done if act[0] in MULTI for inner in (act, *act[3])]


def doing(text: str) -> tuple[Doing, Doing]:
    """What a program does with block skips off and on."""
    lines = lines_of(text)
    return Run(lines).go(), Run(lines, skip=True).go()


def forward(at: int, goes_on: int | None) -> int | None:
    """The next line for a walk over a program's lines that does not follow jumps back: None where one is met."""
    return goes_on if goes_on is not None and goes_on > at else None


__all__ = ["Doing", "Run", "doing", "forward", "line_of", "lines_of"]
