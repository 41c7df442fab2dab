"""The edit bench: thousands of hazardous edits and harmless rewrites, each reviewed, and a table of what was told.

    python -m tests.edits.bench [--edits 5000] [--rewrites 3000] [--seed 1] [--page tests/edits/BENCH.md]

An edit counts as hazardous where the oracle (`oracle.py`, without the product) says that the machine does something else. It is a hit if the
review says so, with a finding that is accepted for its kind (`accepted.py`) and has a cause on an edited line.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from itertools import islice
from pathlib import Path
from random import Random

from tests.edits.accepted import ACCEPTED
from tests.edits.hazards import KINDS
from tests.edits.jobs import EACH, generated
from tests.edits.oracle import Doing, doing, nobody_knows
from tests.edits.oracle_entries import entered
from tests.edits.programs import own, real
from tests.edits.rewrites import REWRITES
from tests.edits.rewrites_forms import FORMS
from tests.edits.words import lines_of
from verifier.findings import Status
from verifier.machines import FrozenMap, Machine, MCode, generic_lathe
from verifier.report import review


def _lathe() -> Machine:
    """The lathe that judges: it reads what real programs write (a dwell of P3.), and has a chuck and a quill that a program works."""
    base = generic_lathe()
    codes = {
        10: MCode(10, "chuck open", "critical", "after-motion", (("chuck", "open"),)),
        11: MCode(11, "chuck close", "critical", "before-motion", (("chuck", "closed"),)),
        25: MCode(25, "quill forward", "critical", "before-motion", (("quill", "forward"),)),
        26: MCode(26, "quill back", "critical", "after-motion", (("quill", "back"),)),
        61: MCode(61, "part catcher out", "minor", "with-motion", (("part-catcher", "out"),)),
        62: MCode(62, "part catcher in", "minor", "with-motion", (("part-catcher", "in"),)),
    }
    apart = tuple((("spindle", sense), ("chuck", "open")) for sense in ("forward", "reverse"))
    return replace(
        base,
        choices=FrozenMap({**base.choices, "dwell-p-with-point": "seconds"}),
        m_codes=FrozenMap({**base.m_codes, **codes}),
        never_together=apart,
    )


LATHE = _lathe()

FROM_THE_TOP = frozenset({"block repeated"})
"""Kinds that take nothing from any way in: where a sequence begins may look different, and is no less established."""

CONTROLS_CHOICE = frozenset({"value-missing-or-wrong"})
"""What must be told where the edited program leaves to the control what it does."""

NEITHER = "what the control makes of it could not be computed"
"""Said where neither program can be computed at the words that were changed (an arc that cannot be, a cycle without its contour): both may end in the
same alarm, so that `undetermined` is the truth. Then the words before and after, told at the edited block by a right rule, are what is asked for."""

FOR_PEOPLE = frozenset({"number in a note"})
"""Kinds that change nothing at the machine: told by a finding of their own."""


@dataclass(frozen=True, slots=True)
class Case:
    """One edit to be judged."""

    kind: str
    program: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Answer:
    """How a case came out: "hit", "missed", "wrong rule", "no effect", "open", "same" or "invented"; and what the review told."""

    case: Case
    result: str
    verdict: str
    told: tuple[str, ...]


def edited_lines(old: str, new: str) -> tuple[set[int], set[int]]:
    """Lines (from 1) that differ, on either side: those that difflib names, and where lines changed places the whole stretch."""
    a, b = old.split("\n"), new.split("\n")
    head = next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    tail = next((k for k, (x, y) in enumerate(zip(a[::-1], b[::-1], strict=False)) if x != y), 0)
    before = set(range(head + 1, len(a) - tail + 1))
    after = set(range(head + 1, len(b) - tail + 1))
    for tag, i, j, k, m in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
        if tag != "equal":
            before |= set(range(i + 1, j + 1))
            after |= set(range(k + 1, m + 1))
            before |= _either(a, i, j) if tag == "delete" else set()
            after |= _either(b, k, m) if tag == "insert" else set()
    return before, after


def _either(lines: list[str], start: int, end: int) -> set[int]:
    """Where lines that came or went repeat their neighbours, any of the places at which the text says that they did."""
    first, last = start, end
    while first > 0 and lines[first - 1] == lines[first - 1 + end - start]:
        first -= 1
    while last < len(lines) and lines[last] == lines[last - end + start]:
        last += 1
    return set(range(first + 1, last + 1))


def judge(case: Case) -> Answer:
    """Review one hazardous edit."""
    run_differs = case.kind not in FOR_PEOPLE and done(case.old) != done(case.new)
    meant = run_differs or case.kind in FOR_PEOPLE or doing(case.old) != doing(case.new)
    meant = meant or (case.kind not in FROM_THE_TOP and entered(case.old) != entered(case.new))
    report = review(case.old.encode(), case.new.encode(), machine=LATHE)
    told = [f for f in report.findings if f.status is not Status.STANDING]
    before, after = edited_lines(case.old, case.new)
    rules = tuple(dict.fromkeys(f.rule for f in told))
    if nobody_knows(case.new) and not nobody_knows(case.old):
        # Neither the oracle nor the review can know what comes of it: the review must say that, by the right rule. Never a hit.
        fair = report.verdict != "same behaviour" and any(f.rule in CONTROLS_CHOICE for f in told)
        return Answer(case, "open" if fair else "missed", str(report.verdict), rules)
    if not meant:
        # What the oracle finds the same is the same, on the first way in and on every other: nothing may be told of it as behaviour.
        fine = report.verdict == "same behaviour"
        return Answer(case, "no effect" if fine else "invented", str(report.verdict), rules)
    at_edit = [f for f in told if any(p.line in (before if p.side == "old" else after) for p in f.causes)]
    here = {f.rule for f in at_edit}
    for card in report.cards:
        if any(p.line in (before if p.side == "old" else after) for p in card.places):
            here |= {report.findings[k].rule for k in card.findings}
    wanted = ACCEPTED.get(case.kind, frozenset())
    # Without its point a number may count the same on this machine; that it then rests on how the machine reads numbers is told.
    same_here = "point-rests-on-unverified-choice" in here & wanted
    neither = report.verdict == "undetermined" and any(f.rule in wanted and NEITHER in f.title for f in at_edit)
    if run_differs and report.verdict != "changed behaviour" and not same_here and not neither:
        return Answer(case, "not changed", str(report.verdict), tuple(f"{r}{'*' if r in here else ''}" for r in rules))
    if here & wanted:
        return Answer(case, "hit", str(report.verdict), rules)
    if not told and report.verdict == "same behaviour":
        return Answer(case, "missed", str(report.verdict), rules)
    return Answer(case, "wrong rule", str(report.verdict), tuple(f"{r}{'*' if r in here else ''}" for r in rules))


def done(text: str) -> list[Doing]:
    """What a program does, without what only stands behind its end: that does nothing, and is told by a finding of its own."""
    return [[act for act in run if act[0] != "behind the end"] for run in doing(text)]


QUIET = frozenset({"stopping-points-changed"})
TOUCHED = {"inches as millimetres": frozenset({"units-changed"})}
"""Safety-relevant words that a rewrite touches by what it is."""


def judge_rewrite(case: Case) -> Answer:
    """Review one harmless rewrite."""
    report = review(case.old.encode(), case.new.encode(), machine=LATHE)
    quiet = QUIET | TOUCHED.get(case.kind, frozenset())
    told = tuple(
        dict.fromkeys(f.rule for f in report.findings if f.status is not Status.STANDING and f.rule not in quiet)
    )
    fine = report.verdict == "same behaviour" and not told
    return Answer(case, "same" if fine else "invented", str(report.verdict), told)


def hazards(programs: dict[str, str], seed: int, most: int = 20_000) -> list[Case]:
    """Hazardous edits, kinds and programs in turn so that rare kinds have all their places, at most `most`."""
    places = {(kind, name): _places(kind, name, text, seed) for name, text in programs.items() for kind in KINDS}
    return list(islice(_in_turn(places, seed), most))


def _places(kind: str, name: str, text: str, seed: int) -> list[Case]:
    lines = lines_of(text)
    found = [Case(kind, name, text, new) for new in KINDS[kind](lines) if new != text]
    Random(f"{seed} {kind} {name}").shuffle(found)
    return found


def _in_turn(places: dict[tuple[str, str], list[Case]], seed: int) -> Iterator[Case]:
    by_kind: dict[str, list[list[Case]]] = defaultdict(list)
    for (kind, _), cases in sorted(places.items()):
        if cases:
            by_kind[kind].append(cases)
    queues = {kind: iter(list(_round_robin(lists, Random(f"{seed} {kind}")))) for kind, lists in by_kind.items()}
    while queues:
        for kind in sorted(queues):
            case = next(queues[kind], None)
            if case is None:
                del queues[kind]
            else:
                yield case


def _round_robin(lists: list[list[Case]], chance: Random) -> Iterator[Case]:
    order = chance.sample(lists, len(lists))
    for k in range(max(map(len, order), default=0)):
        yield from (cases[k] for cases in order if k < len(cases))


def rewrites(programs: dict[str, str], seed: int, wanted: int, each: int = EACH) -> list[Case]:
    """Harmless rewrites of these programs, every other one the other way round, and so many of each kind of generated jobs."""
    places: dict[tuple[str, str], list[Case]] = {}
    for name, text in programs.items():
        for kind, rewrite in (REWRITES | FORMS).items():
            made: list[Case] = []
            for again in range(3):
                chance = Random(f"{seed} {kind} {name} {again}")
                made += [
                    Case(kind, name, text, new) for new in islice(rewrite(lines_of(text), chance), 12) if new != text
                ]
            once = enumerate(dict.fromkeys(made))
            places[kind, name] = [Case(kind, name, case.new, case.old) if (k + seed) % 2 else case for k, case in once]
    for kind, name, old, new in generated(seed, each):
        places.setdefault((kind, ""), []).append(Case(kind, name, old, new))
    return list(islice(_in_turn(places, seed), wanted))


EDIT_COLUMNS = ("hit", "wrong rule", "not changed", "missed", "no effect", "open", "invented")
REWRITE_COLUMNS = ("same", "invented")
BAD = frozenset({"wrong rule", "not changed", "missed", "invented"})


def page(edits: list[Answer], same: list[Answer], programs: int, seed: int) -> str:
    """Both tables as Markdown."""
    meant = [a for a in edits if a.result in ("hit", "wrong rule", "not changed", "missed")]
    hits, quiet = sum(a.result == "hit" for a in meant), sum(a.result == "same" for a in same)
    invented = sum(a.result == "invented" for a in edits)
    return f"""# The edit bench

Made by `python -m tests.edits.bench --seed {seed} --page tests/edits/BENCH.md` on {programs} programs: the demo shop's, those in
`tests/edits/made/`, and
real ones where they lie in a folder `shared` beside the checkout.

Hazardous edits: {len(meant)}, told by a right rule at the edited block: {hits} ({100 * hits / max(len(meant), 1):.2f} %).
`no effect`: the oracle says that the
edit changes nothing at that place, and so does the review. `open`: the edited program leaves to the control what it does (a clamp of zero), and
the review says so. Neither is counted. `invented`: the review tells a change where the oracle finds none: {invented}.

{_markdown(edits, EDIT_COLUMNS)}

Harmless rewrites: {len(same)}, called the same with nothing told: {quiet} ({100 * quiet / max(len(same), 1):.2f} %).

{_markdown(same, REWRITE_COLUMNS)}
"""


def _markdown(answers: list[Answer], columns: tuple[str, ...]) -> str:
    count = _counted(answers)
    rows = [f"| kind | {' | '.join(columns)} |", f"| --- |{' ---: |' * len(columns)}"]
    rows += [f"| {kind} | {' | '.join(str(count[kind][name]) for name in columns)} |" for kind in sorted(count)]
    return "\n".join(rows)


def _counted(answers: list[Answer]) -> dict[str, Counter[str]]:
    count: dict[str, Counter[str]] = defaultdict(Counter)
    for answer in answers:
        count[answer.case.kind][answer.result] += 1
    return count


def table(answers: list[Answer], columns: tuple[str, ...]) -> str:
    """The answers by kind."""
    count = _counted(answers)
    rows = [f"{'kind':34}" + "".join(f"{name:>12}" for name in columns)]
    rows += [f"{kind:34}" + "".join(f"{count[kind][name]:12}" for name in columns) for kind in sorted(count)]
    total: Counter[str] = sum(count.values(), Counter())
    rows.append(f"{'all':34}" + "".join(f"{total[name]:12}" for name in columns))
    return "\n".join(rows)


def main() -> int:
    """Run the bench and print its tables; 1 where anything was missed or invented."""
    parser = argparse.ArgumentParser(description="judge thousands of edits")
    parser.add_argument("--edits", type=int, default=5000)
    parser.add_argument("--rewrites", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--page", type=Path, help="write the tables as Markdown to this file")
    asked = parser.parse_args()
    programs = own() | real()
    print(f"{len(programs)} programs; real ones: {'yes' if real() else 'the folder is absent'}")
    with ProcessPoolExecutor(asked.jobs) as pool:
        edits = judged(pool, hazards(programs, asked.seed), asked.edits)
        print(table(edits, EDIT_COLUMNS))
        same = []
        for answer in pool.map(judge_rewrite, rewrites(programs, asked.seed, asked.rewrites), chunksize=8):
            same.append(answer)
            show([answer])
        print(table(same, REWRITE_COLUMNS))
    bad = [a for a in (*edits, *same) if a.result in BAD]
    if asked.page:
        asked.page.write_text(page(edits, same, len(programs), asked.seed), "utf-8")
    return 1 if bad else 0


def judged(pool: ProcessPoolExecutor, cases: list[Case], wanted: int) -> list[Answer]:
    """Answers until so many edits have been judged that mean something (an edit without effect is judged, and not counted)."""
    found: list[Answer] = []
    waiting = iter(cases)
    while wanted > (count := sum(a.result not in ("no effect", "open", "invented") for a in found)):
        more = list(islice(waiting, min(wanted - count, 200)))
        if not more:
            break
        answers = list(pool.map(judge, more, chunksize=8))
        show(answers)
        found += answers
    return found


def show(answers: list[Answer]) -> None:
    """Print what came out wrong, with the edited lines."""
    for answer in answers:
        if answer.result not in BAD:
            continue
        before, after = edited_lines(answer.case.old, answer.case.new)
        print(
            f"\n{answer.result}: {answer.case.kind} in {answer.case.program}: {answer.verdict}; told {', '.join(answer.told) or 'nothing'}"
        )
        for side, text, lines in (("-", answer.case.old, before), ("+", answer.case.new, after)):
            rows = text.split("\n")
            print("\n".join(f"  {side} {k}: {rows[k - 1]}" for k in sorted(lines)[:4]), flush=True)


if __name__ == "__main__":
    sys.exit(main())
