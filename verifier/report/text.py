"""The report for a terminal: verdict and sign-off first, then one card per edit, then what stands, what was not checked, and the time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from textwrap import wrap

from rich.console import Console
from rich.text import Text

from verifier.findings import Finding, Place, Status, Weight
from verifier.report.accepted_text import accepted_lines
from verifier.report.change_report import ALIKE_LEAST, Card, ChangeReport, NotChecked
from verifier.report.clock_text import time_lines
from verifier.report.json_form import CAUTION, to_json
from verifier.report.load_text import load_lines
from verifier.report.part_text import card_part, part_lines, some_of
from verifier.report.seen import to_be_seen
from verifier.report.wording import wording_counts
from verifier.source import visible

CARDS = 7
"""The first screen holds at most seven cards."""
KEYS = 3
"""So many keys of profile or setup sheet stand at the head of a card."""
IDLE = 3
"""So many blocks whose changed words change nothing are shown; the rest is counted."""
WIDTH = 110
_STYLE = {Weight.CRITICAL: "bold", Weight.MAJOR: "bold", Weight.MINOR: ""}
_MARK = {Weight.CRITICAL: "!!!", Weight.MAJOR: "!! ", Weight.MINOR: "!  "}
_VERDICT = {
    "same behaviour": "SAME BEHAVIOUR",
    "changed behaviour": "CHANGED BEHAVIOUR",
    "undetermined": "UNDETERMINED: whether behaviour changes cannot be told",
}


def to_text(report: ChangeReport, *, everything: bool = False, brief: bool = False) -> str:
    """The report as plain text; `everything` shows all cards, standing hazards and unchecked things in full.

    `brief` leaves out what is not about the edits (unchecked, time, caution): for lists of reports that say those once.
    """
    console = Console(width=WIDTH, no_color=True, force_terminal=False, highlight=False, soft_wrap=True)
    with console.capture() as capture:
        print_report(report, console, everything=everything, brief=brief)
    return capture.get()


def print_report(report: ChangeReport, console: Console, *, everything: bool = False, brief: bool = False) -> None:
    """Print the report on a rich console (styles only where the console shows them)."""
    for line in _lines(report, everything=everything, brief=brief):
        console.print(line if isinstance(line, Text) else Text(line))


def _lines(report: ChangeReport, *, everything: bool, brief: bool) -> Iterable[str | Text]:
    yield from _head(report)
    if report.verdict is None:
        yield from _hazards("HAZARDS", report.findings, everything=True)
    else:
        yield from _card_part(report, everything=everything)
        gone = [f for f in report.findings if f.status is Status.GONE and not f.edits]
        yield from _total(report)
        yield from _outside(report, everything=everything)
        yield from _hazards("STOOD BEFORE, STILL THERE", report.told_in_full, everything=everything)
        yield from accepted_lines(report, WIDTH, everything=everything)
        yield from _hazards("GONE", gone, everything=everything)
        yield from _wording(report, everything=everything)
    yield from _to_be_seen(report)
    yield from _watch(report)
    yield from _prove_out(report, everything=everything)
    if brief:
        return
    yield from part_lines(report, WIDTH, everything=everything)
    yield from _load(report, everything=everything)
    yield from _not_checked(report.unchecked, everything=everything)
    yield ""
    yield from time_lines(report.time, WIDTH, everything=everything)
    yield ""
    yield from _wrapped(CAUTION, "")
    yield f"Report {report.digest} · version {report.tool_version}"


def _head(report: ChangeReport) -> Iterable[str | Text]:
    old, new = report.old, report.new
    if report.verdict is None:
        yield Text(f"CHECKED: {visible(new.name)}", style="bold")
    else:
        yield Text(f"VERDICT: {_VERDICT[report.verdict]}", style="bold")
        if report.position not in ("", "block skips off"):
            yield f"  with {report.position}"
    need = report.sign_off
    if need.required:
        yield from _wrapped(f"A lead must sign: {_shortened(need.reasons)}", "  ")
    else:
        yield "  No sign-off needed by this policy."
    if old is not None:
        yield f"  base      {visible(old.name)}  {old.sha256[:12]}  check code {old.check_code}  {old.blocks} blocks"
    yield f"  revision  {visible(new.name)}  {new.sha256[:12]}  check code {new.check_code}  {new.blocks} blocks"
    machine = f"  machine   {report.machine.name}"
    if report.old_machine is not None:
        machine += f" (base on {report.old_machine.name})"
    machine += f" · setup {report.setup.name if report.setup else 'none given'}"
    if report.old_setup is not None:
        machine += f" (base with {report.old_setup.name})"
    machine += f" · policy {report.policy.name}"
    yield machine
    if report.alike is not None and report.alike < ALIKE_LEAST:
        yield f"  Note: only {report.alike * 100:.0f} % of the blocks are alike; these two programs may not belong together."


def _shortened(reasons: tuple[str, ...]) -> str:
    words = [reason for reason in reasons if ": " in reason]
    if len(words) > 3:
        reasons = (*(r for r in reasons if r not in words), f"{len(words)} touched safety-relevant words")
    return ", ".join(reasons[:8]) + (f" and {len(reasons) - 8} more" if len(reasons) > 8 else "")


def _card_part(report: ChangeReport, *, everything: bool) -> Iterable[str | Text]:
    shown = report.cards if everything else report.cards[:CARDS]
    told: dict[int, int] = {}
    for number, card in enumerate(shown, start=1):
        yield ""
        yield from _card(report, number, card, told)
        for index in card.findings:
            told.setdefault(index, number)
    left = len(report.cards) - len(shown)
    if left:
        yield ""
        yield f"... and {left} more edit{'s' if left > 1 else ''} (shown with --all)"
    if not report.cards:
        yield ""
        yield "No edit changes what the machine does."


def _card(report: ChangeReport, number: int, card: Card, told: Mapping[int, int]) -> Iterable[str | Text]:
    """One card; a finding that several edits share is told in full on the first of their cards (`told`: finding -> card)."""
    there = {report.findings[k].rule for k in card.findings}
    findings = [report.findings[k] for k in card.findings if k not in told and not _said(report.findings[k], there)]
    again = [report.findings[k].rule for k in card.findings if k not in told and _said(report.findings[k], there)]
    shared = [f"{report.findings[k].rule} as under [{told[k]}]" for k in card.findings if k in told]
    where = where_told(report, card)
    heaviest = report.findings[card.findings[0]].weight if card.findings else None
    title = f"[{number}] {where}" + (f"   {heaviest.upper()}" if heaviest else "   touched words only")
    for line in _wrapped(title, "", "    "):
        yield Text(line, style="bold")
    for text in keys_told(report, card):
        yield from _wrapped(text, "    ", "      ")
    moved = card.old == card.new
    if moved and card.old:
        yield "    the same blocks, at another place:"
    for text in () if moved else card.old:
        yield Text(f"    - {visible(text)}", style="strike")
    for text in card.new:
        yield Text(f"    {'=' if moved else '+'} {visible(text)}", style="" if moved else "underline")
    seen: dict[str, int] = {}
    for finding in findings:
        seen[_line(finding)] = seen.get(_line(finding), 0) + 1
    for finding in findings:
        times = seen.pop(_line(finding), 0)
        if times:
            more = f" ({times} times)" if times > 1 else ""
            yield from _wrapped(f"{_MARK[finding.weight]} {_line(finding)}{more}", "    ", "        ")
    shared += [f"new with it: {rule}" for rule in again]
    yield from (line for text in card_part(report, card) for line in _wrapped(text, "    ", "        "))
    if shared:
        yield from _wrapped("also " + ", ".join(dict.fromkeys(shared)), "    ", "        ")
    also = also_of(report, card)
    if also:
        yield from _wrapped(f"made by these as well: {also}", "    ", "        ")
    if card.touched:
        yield from _wrapped("touched: " + touched_words(card.touched), "    ", "        ")


_SAYS_ALREADY = {
    "number-without-point": ("decimal-point-lost",),
    "speed-clamp-missing": ("speed-clamp-removed",),
    "tool-and-offset-disagree": ("tool-offset-changed",),
}
"""A hazard that is nothing but the change itself, seen in the new program alone: the change's own finding has said it."""


def _said(finding: Finding, there: set[str]) -> bool:
    return finding.status is Status.NEW and not there.isdisjoint(_SAYS_ALREADY.get(finding.rule, ()))


_ENDINGS = (" at another place", " added", " removed")


def touched_words(touched: Sequence[str], most: int = 4) -> str:
    """Touched words in a row; where whole stretches came, went or moved, each kind of touch once with its words."""
    if len(touched) <= most:
        return "; ".join(touched)
    groups: dict[str, list[str]] = {}
    for text in touched:
        ending = next((end for end in _ENDINGS if text.endswith(end)), "")
        word = text.partition(": ")[2].removesuffix(ending) if ending else text
        groups.setdefault(ending, []).append(word)
    return "; ".join(f"{end} {', '.join(words)}".strip() for end, words in groups.items())


def _line(finding: Finding) -> str:
    status = "" if finding.status is Status.CHANGE else f"{finding.status}: "
    extent = f" [{finding.extent}]" if finding.extent else ""
    position = f" (only with {finding.position})" if finding.position else ""
    return visible(f"{status}{finding.title}{extent}{position}  <{finding.rule}>")


def total_told(report: ChangeReport) -> tuple[str, list[Finding]]:
    """The total change since the proven revision in a sentence, and the findings that the change from the base alone does not have."""
    total = report.total
    if total is None:
        return "", []
    here = {(finding.rule, finding.title) for finding in report.findings if finding.status is not Status.STANDING}
    more = [finding for finding in total.findings if (finding.rule, finding.title) not in here]
    sign = "a lead must sign for it" if total.sign_off.required else "no sign-off needed for it by this policy"
    name = f"{total.proven.name} {total.proven.sha256[:12]}, check code {total.proven.check_code}"
    return visible(f"against {name}: {total.verdict}; {sign}"), more


def _total(report: ChangeReport) -> Iterable[str | Text]:
    told, more = total_told(report)
    if not told:
        return
    yield ""
    yield Text("TOTAL CHANGE SINCE THE REVISION LAST PROVEN THERE", style="bold")
    yield from _wrapped(told, "  ", "    ")
    for finding in more:
        place = f"line {finding.causes[0].line}: " if finding.causes else ""
        yield from _wrapped(f"{_MARK[finding.weight]} {place}{_line(finding)}", "  ", "      ")


def where_told(report: ChangeReport, card: Card) -> str:
    """Where what a card tells of comes from, in words: places in the text, or the names of keys outside it."""
    if not card.outside:
        return where_of(card.places, card.count)
    names: dict[str, list[str]] = {}
    for k in card.outside:
        names.setdefault(report.outside[k].what, []).append(report.outside[k].key)
    return visible(" · ".join(f"{what}: {_some(keys)}" for what, keys in names.items()))


def _some(keys: list[str]) -> str:
    return ", ".join(keys[:KEYS]) + (f" or one of {len(keys) - KEYS} more keys" if len(keys) > KEYS else "")


def keys_told(report: ChangeReport, card: Card) -> list[str]:
    """The keys that a card is about with their values, so many as stand at its head."""
    return [visible(report.outside[k].values) for k in card.outside[: 2 * KEYS]]


def also_of(report: ChangeReport, card: Card) -> str:
    """The keys outside the texts that do the same as an edit at its places, in words."""
    keys = {k for index in card.findings for k in report.findings[index].outside} - {*card.outside}
    return visible(" · ".join(report.outside[k].told for k in sorted(keys)))


def outside_of(report: ChangeReport) -> tuple[list[str], list[str]]:
    """The keys of profile and setup sheet that differ, in words: those that something is told of, and the others."""
    used = {k for finding in report.findings for k in finding.outside}
    told = [visible(key.told) for key in report.outside]
    return [t for k, t in enumerate(told) if k in used], [t for k, t in enumerate(told) if k not in used]


def _outside(report: ChangeReport, *, everything: bool) -> Iterable[str | Text]:
    used, idle = outside_of(report)
    if not report.outside:
        return
    yield ""
    yield Text(f"DIFFERENT OUTSIDE THE TEXTS ({len(report.outside)})", style="bold")
    for text in used:
        yield from _wrapped(f"- {text}", "  ", "    ")
    for text in idle if everything else ():
        yield from _wrapped(f"- no finding comes from it: {text}", "  ", "    ")
    if idle and not everything:
        yield f"  ... and {len(idle)} key{'s' if len(idle) > 1 else ''} from which no finding comes (shown with --all)"


def where_of(places: tuple[Place, ...], count: int) -> str:
    """Where an edit stands, in words: sequence and lines, or how many places."""
    if not places:
        return "no single edit"
    first = places[0]
    sequence = f"{first.label}, " if first.label else ""
    side = " of the base" if first.side == "old" else ""
    if count > 1:
        lines = ", ".join(str(p.line) for p in places[:6]) + (" ..." if count > 6 else "")
        labels = ", ".join(dict.fromkeys(p.label for p in places if p.label))
        return f"{labels + ', ' if labels else ''}changed alike in {count} places, lines {lines}{side}"
    last = places[-1]
    lines = f"line {first.line}" if first.line == last.line else f"lines {first.line} to {last.line}"
    return f"{sequence}{lines}{side}"


def _hazards(title: str, findings: Iterable[Finding], *, everything: bool) -> Iterable[str | Text]:
    found = list(findings)
    if not found:
        return
    yield ""
    yield Text(f"{title} ({len(found)})", style="bold")
    shown = found if everything else [f for f in found if f.weight is not Weight.MINOR][:5]
    for finding in shown:
        place = f"line {finding.causes[0].line}: " if finding.causes else ""
        yield from _wrapped(
            f"{_MARK[finding.weight]} {place}{visible(finding.title)}  <{finding.rule}>", "  ", "      "
        )
    if len(shown) < len(found):
        yield f"  ... and {len(found) - len(shown)} more (shown with --all)"


def _wording(report: ChangeReport, *, everything: bool) -> Iterable[str | Text]:
    if not report.wording:
        return
    counts = wording_counts(entry.kind for entry in report.wording)
    told = ", ".join(f"{kind} {count}" for kind, count in counts)
    yield ""
    yield from _wrapped(f"Wording only, no effect on the machine: {told}", "")
    idle = [entry for entry in report.wording if entry.kind == "no effect"]
    shown = idle if everything else idle[:IDLE]
    for entry in shown:
        place = entry.new or entry.old
        line = f"line {place.line}: " if place else ""
        words = f"{visible(entry.before or 'nothing')}  is now  {visible(entry.after or 'nothing')}"
        yield from _wrapped(f"{line}{words}", "  ", "      ")
    if len(shown) < len(idle):
        yield f"  ... and {len(idle) - len(shown)} more (shown with --all)"


def _to_be_seen(report: ChangeReport) -> Iterable[str | Text]:
    """What a lead names one by one before the revision may go to a machine; never shortened."""
    wanted = to_be_seen(to_json(report))
    if not wanted:
        return
    yield ""
    yield Text(f"NEW AND CRITICAL ({len(wanted)}): who lets it go to a machine names each one as read", style="bold")
    for one in wanted:
        yield from _wrapped(visible(f"{one.told()}  <{one.rule}>"), "  ", "            ")


def _watch(report: ChangeReport) -> Iterable[str | Text]:
    """What to watch at the machine for exactly this change, by sequence."""
    wanted = [f for f in report.findings if f.status in (Status.CHANGE, Status.NEW) and f.weight is not Weight.MINOR]
    if not wanted:
        return
    by_text: dict[str, dict[str, None]] = {}
    for finding in wanted:
        labels = by_text.setdefault(finding.watch, {})
        for place in finding.causes[:1]:
            labels[f"{place.label} line {place.line}".strip()] = None
    yield ""
    yield Text("AT THE MACHINE", style="bold")
    for text, labels in by_text.items():
        shown = ", ".join(list(labels)[:4]) + (" ..." if len(labels) > 4 else "")
        yield from _wrapped(f"- {shown}: {text}" if shown else f"- {text}", "  ", "    ")


def _load(report: ChangeReport, *, everything: bool) -> Iterable[str | Text]:
    """What the cuts ask of tool and spindle, where it changes."""
    if report.load is None:
        return
    lines = list(load_lines(report.load, WIDTH, compared=report.verdict is not None, everything=everything))
    if lines:
        yield ""
        yield Text(lines[0], style="bold")
        yield from lines[1:]


def _prove_out(report: ChangeReport, *, everything: bool) -> Iterable[str | Text]:
    """The prove-out list, of as many sequences as there are cards on the first screen."""
    if not report.prove_out:
        return
    yield ""
    yield Text(f"PROVE-OUT LIST ({len(report.prove_out)})", style="bold")
    shown = report.prove_out if everything else report.prove_out[:CARDS]
    for entry in shown:
        yield from _wrapped(f"- {visible(entry.start)}", "  ", "    ")
        lines = [
            ("why", entry.why[:3]),
            ("slowly", (" ".join(entry.slow),)),
            ("check", (entry.distance,)),
            ("reads", entry.reads),
        ]
        for name, texts in (*lines, ("measure", entry.measure if everything else some_of(entry.measure))):
            if texts:
                yield from _wrapped(f"{name + ':':9}{visible('; '.join(texts))}", "      ", "               ")
    if len(shown) < len(report.prove_out):
        yield f"  ... and {len(report.prove_out) - len(shown)} more sequences (shown with --all)"


def _not_checked(unchecked: tuple[NotChecked, ...], *, everything: bool) -> Iterable[str | Text]:
    if not unchecked:
        return
    yield ""
    yield Text(f"NOT CHECKED ({len(unchecked)})", style="bold")
    shown = unchecked if everything else unchecked[:8]
    for entry in shown:
        place = f"line {entry.place.line}: " if entry.place else ""
        times = f" ({entry.count} times)" if entry.count > 1 else ""
        yield from _wrapped(f"- {place}{visible(entry.what)}: {entry.reason}{times}", "  ", "    ")
    if len(shown) < len(unchecked):
        yield f"  ... and {len(unchecked) - len(shown)} more (shown with --all)"


def _wrapped(text: str, first: str, rest: str | None = None) -> list[str]:
    under = first if rest is None else rest
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=under, break_on_hyphens=False) or [first]
