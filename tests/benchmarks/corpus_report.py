"""What becomes of real programs, as counts and without their text: `python -m tests.benchmarks.corpus_report FOLDER [FILE]`.

One row for each program: blocks, blocks that cannot be read, faults, moves, whether it was executed to its end, and what was unchecked, by kind.
With FILE the table is written there (`corpus_turning.md` beside this module is the one of the collection that the tests use). Nothing is asserted.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from verifier.control import Trace, Unchecked, execute
from verifier.machines import Machine, generic_lathe
from verifier.source import SourceRefused, read_path
from verifier.syntax import Program, parse

_ANY = "|".join
KINDS: tuple[tuple[str, str], ...] = (
    (
        "choice",
        _ANY(("nobody verified", "control's choice", "controls? (?:read|ignore|measure|stop)", "some controls", "taken to")),
    ),
    (
        "typing",
        _ANY(
            (
                "cannot be read", "no block .* (?:follows|is there)", "does not reach", "holds a canned cycle", "unreadable",
                "farther than any machine", "(?:without a|must be a) whole number", "was called without", "two lines at one angle",
                "no next move",
            )
        ),
    ),
    ("live", _ANY(("(?:Y|B) axis", "C axis", "[Ii]nterpolation", "which spindle", "other channel", "second spindle"))),
    (
        "machine",
        _ANY(
            (
                "only the machine knows", "not in the machine profile", "neither in the file nor in the library", "not known",
                "is not among those of this machine", "names no offset",
            )
        ),
    ),
)  # fmt: skip
"""Kinds of what is unchecked and how their reasons read; what none of them fits is "not executed"."""

NAMES = (*(name for name, _ in KINDS), "other")
_AIM = 95


@dataclass(frozen=True, slots=True)
class Row:
    """What became of one program."""

    name: str
    blocks: int
    unreadable: int
    faults: int
    moves: int
    ended: bool
    unchecked: Counter[str]

    @property
    def whole(self) -> bool:
        """Executed to the end with nothing unchecked but live tools, second channels, what only the machine knows, and typing errors by name."""
        return self.ended and not self.unchecked["other"]


def kind_of(entry: Unchecked) -> str:
    """The kind of something unchecked."""
    text = f"{entry.what} {entry.reason}"
    if entry.what.startswith("choice "):
        return "choice"
    return next((name for name, pattern in KINDS if re.search(pattern, text)), "other")


def row_of(name: str, program: Program, machine: Machine) -> tuple[Row, Trace]:
    """Execute a program from the top and count."""
    trace = execute(program, machine)
    ends = ("program-end", "text-end", "repeat")
    unreadable = sum(1 for k in range(len(program.blocks)) if program.blocks[k].flaws)
    ended = bool(trace.events) and trace.events[-1].kind in ends
    counts = Counter(kind_of(entry) for entry in trace.unchecked)
    return Row(name, len(program.blocks), unreadable, len(trace.faults), len(trace.moves), ended, counts), trace


def rows_of(folder: Path, machine: Machine) -> tuple[list[Row], Counter[str], list[str]]:
    """The rows of a folder's programs, the codes of all faults, and what is left of each reason that no kind fits."""
    rows: list[Row] = []
    faults: Counter[str] = Counter()
    other: list[str] = []
    for path in sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".nc", ".tap", ".txt", ".cnc", ".min")):
        name = path.relative_to(folder).with_suffix("").as_posix()
        try:
            row, trace = row_of(name, parse(read_path(path)), machine)
        except SourceRefused:
            rows.append(Row(name, 0, 0, 0, 0, False, Counter(refused=1)))
            continue
        rows.append(row)
        faults.update(fault.code for fault in trace.faults)
        other += [re.sub(r"[A-Z,]*-?[0-9.#]+", "*", u.reason) for u in trace.unchecked if kind_of(u) == "other"]
    return rows, faults, other


def table(rows: Iterable[Row], faults: Counter[str], other: list[str]) -> str:
    """The report as text."""
    rows = list(rows)
    whole = sum(row.whole for row in rows)
    share = 100 * whole // max(len(rows), 1)
    clean = sum(row.whole and not row.unchecked["typing"] for row in rows)
    lines = [
        "# Real turning programs, executed",
        "",
        "Counts only. Made by `python -m tests.benchmarks.corpus_report` on the built-in lathe, of which nothing is verified:",
        "every choice that mattered is unchecked once. `typing` is what the program's writer has to mend, `live` live tools, other",
        "axes and channels, `machine` what only the machine knows, `other` what is not executed.",
        "",
        f"Programs {len(rows)}; blocks {sum(row.blocks for row in rows)}; unreadable blocks {sum(row.unreadable for row in rows)}; "
        f"moves {sum(row.moves for row in rows)}; executed to their end {sum(row.ended for row in rows)}.",
        f"Whole (nothing `other`): {whole} of {len(rows)}, {share} % (aim {_AIM} %); without typing errors among them: {clean}.",
        "",
        "Faults: " + (", ".join(f"{code} {count}" for code, count in sorted(faults.items())) or "none") + ".",
        "",
        "Not executed, by reason: " + ("; ".join(f"{text} ({n})" for text, n in Counter(other).most_common()) or "nothing") + ".",
        "",
        "| program | blocks | unreadable | faults | moves | to its end | " + " | ".join(NAMES) + " |",
        "| --- |" + " ---: |" * (5 + len(NAMES)),
    ]  # fmt: skip
    for row in rows:
        counts = " | ".join(str(row.unchecked[name]) for name in NAMES)
        ended = "yes" if row.ended else "refused" if row.unchecked["refused"] else "no"
        lines.append(
            f"| {row.name} | {row.blocks} | {row.unreadable} | {row.faults} | {row.moves} | {ended} | {counts} |"
        )
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print the table, or write it."""
    folder = Path(sys.argv[1])
    text = table(*rows_of(folder, generic_lathe()))
    if len(sys.argv) > 2:
        Path(sys.argv[2]).write_text(text, "utf-8")
    print(text[: text.index("| program")] if len(sys.argv) > 2 else text)


if __name__ == "__main__":
    main()
