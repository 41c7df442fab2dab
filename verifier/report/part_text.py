"""The finished part in words: on the cards what an edit moves, and as a whole what changed, what to measure, and what could not be told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

from rich.text import Text

from verifier.report.change_report import Card, ChangeReport
from verifier.report.part_report import FeatureRow, PartReport, ToMeasure

ON_CARD = 6
"""So many sizes of the part stand on one card."""
IN_DOUBT = 2
"""So many, where it is not certain what is left: the rest of the card says why."""
IN_LIST = 3
"""So many features to measure stand in an entry of the prove-out list."""
_SHOWN, _MEASURED = 12, 12
_HEAVY = ("major", "minor")
_OUTSIDE = ("outside it", "now inside it, outside it before")
"""What is held against a limit of the drawing and leaves it stands before what is held against a general tolerance."""

DOUBT = "Not every cut could be swept, or a tool met what it must not: what is said of the finished part holds only as far as the cuts were swept."


def sizes_of(report: ChangeReport, card: Card) -> tuple[FeatureRow, ...]:
    """The sizes of the finished part that a card moves, the heaviest first."""
    if report.part is None:
        return ()
    rows = [report.part.features[k] for k in card.features if not unseen(report.part.features[k])]
    return tuple(sorted(rows, key=lambda row: (_rank(row), row.judgement not in _OUTSIDE)))


def _rank(row: FeatureRow) -> int:
    return _HEAVY.index(row.weight) if row.weight in _HEAVY else 0


def unseen(row: FeatureRow) -> bool:
    """Whether a size is, as it is shown, what it was: its difference lies below the digits."""
    return row.before is not None and row.before == row.after


def feature_told(row: FeatureRow, *, compared: bool) -> str:
    """A size of a feature in words: where, before, after, difference, and how it is judged."""
    sign = "Ø" if is_diameter(row.kind, row.dimension) else ""
    name = row.dimension + " " if row.dimension not in ("", row.kind) else ""
    if compared and row.before is not None and row.after is not None:
        change = f"{name}{sign}{row.before} -> {sign}{row.after}"
    else:
        one = row.after or row.before
        change = f"{name}{sign}{one}" if one else "it differs"
    moved = f" ({row.difference})" if row.difference else ""
    judged = f"; {row.judged}" if row.judged else ""
    return f"{row.feature_name} at {row.place}: {change}{moved}{judged}"


def measure_told(one: ToMeasure) -> str:
    """A feature to measure in words."""
    limit = f"; {one.limit}" if one.limit else ""
    return f"{one.name} at {one.place}: {one.sizes}{limit} ({one.why})"


def is_diameter(kind: str, dimension: str) -> bool:
    """Whether a size is a diameter."""
    return dimension.endswith("diameter") or (kind == "diameter" and not dimension)


def card_part(report: ChangeReport, card: Card) -> Iterable[str]:
    """The lines of a card about the finished part."""
    rows = sizes_of(report, card)
    doubt = report.part is not None and in_doubt(report.part)
    most, name = (IN_DOUBT, "part, in doubt") if doubt else (ON_CARD, "part")
    for row in rows[:most]:
        yield f"{name}: {feature_told(row, compared=True)}"
    if len(rows) > most:
        yield f"part: ... and {len(rows) - most} more sizes (under finished part)"


def part_lines(report: ChangeReport, width: int, *, everything: bool) -> Iterable[str | Text]:
    """The finished part: whether it is the same, what changed, and what to measure on the first piece."""
    if report.part is None:
        return
    level = report.levels.get("part", "")
    yield ""
    yield Text("FINISHED PART" + (f": {level}" if level else ""), style="bold")
    if in_doubt(report.part):
        yield from _wrapped(DOUBT, "  ", width)
    yield from _some(
        [feature_told(row, compared=bool(level)) for row in report.part.features if not unseen(row)],
        _SHOWN,
        width,
        all_=everything,
    )
    if report.part.measure:
        yield f"  To measure on the first piece ({len(report.part.measure)}):"
        told = [measure_told(one) for one in report.part.measure]
        yield from _some(told, _MEASURED, width, all_=everything)


def some_of(texts: tuple[str, ...]) -> tuple[str, ...]:
    """The first features that a sequence leaves, and how many more there are."""
    more = len(texts) - IN_LIST
    if more < 1:
        return texts
    return *texts[:IN_LIST], f"and {more} more feature{'s' if more > 1 else ''} (under finished part)"


def in_doubt(part: PartReport) -> bool:
    """Whether one of the two sides was not swept to its end."""
    return not part.certain_after or part.certain_before is False


def _some(texts: Sequence[str], most: int, width: int, *, all_: bool) -> Iterable[str]:
    for text in texts if all_ else texts[:most]:
        yield from _wrapped(f"- {text}", "  ", width)
    if not all_ and len(texts) > most:
        yield f"  ... and {len(texts) - most} more (shown with --all)"


def _wrapped(text: str, first: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent=first, subsequent_indent=first + "  ", break_on_hyphens=False)
