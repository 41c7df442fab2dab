"""A program as the control sends it back, compared with the release by canonical words and kept whatever it holds."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher

from verifier import records
from verifier.records import ReadbackFacts, Shop
from verifier.source import SourceRefused, read_source
from verifier.syntax import Program, canonical_words, parse

#: Beyond this many blocks between the first and the last difference, the stretch is told as one.
_MATCHED = 600
#: The most differences that are told one by one.
_TOLD = 200


@dataclass(frozen=True, slots=True)
class ReadbackResult:
    """Whether a read-back is the release to a control, and every place where it is not, in words for people."""

    equal: bool
    differences: tuple[str, ...]


def compare_readback(release: bytes, readback: bytes) -> ReadbackResult:
    """Compare two programs block by block in canonical words: respelled numbers and dropped comments are no difference.

    Bytes that are no program at all differ, and the reason is told. Linear in size, but for short stretches that differ.
    """
    if release == readback:
        return ReadbackResult(True, ())
    try:
        wanted = parse(read_source(release, "release"))
    except SourceRefused as error:
        return ReadbackResult(False, (f"the release itself cannot be read: {error.message}",))
    try:
        got = parse(read_source(readback, "read-back"))
    except SourceRefused as error:
        return ReadbackResult(False, (f"the read-back is no program: {error.message}",))
    old, new = _lines(wanted), _lines(got)
    if old == new:
        return ReadbackResult(True, ())
    return ReadbackResult(False, _differences(wanted, got, old, new))


def _lines(program: Program) -> list[bytes]:
    return canonical_words(program).split(b"\n")[:-1]


def _differences(wanted: Program, got: Program, old: list[bytes], new: list[bytes]) -> tuple[str, ...]:
    """Tell each stretch of blocks that differs: lines count from 1 in each file."""
    start = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    end = 0
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    olds, news = old[start : len(old) - end], new[start : len(new) - end]
    if len(olds) > _MATCHED or len(news) > _MATCHED:
        stretches = [(0, len(olds), 0, len(news))]
    else:
        codes = SequenceMatcher(None, olds, news, autojunk=False).get_opcodes()
        stretches = [code[1:] for code in codes if code[0] != "equal"]
    told = [
        _tell(wanted, got, old, new, (a + start, b + start, c + start, d + start)) for a, b, c, d in stretches[:_TOLD]
    ]
    if len(stretches) > _TOLD:
        told.append(f"and {len(stretches) - _TOLD} more stretches that differ")
    return tuple(told)


def _tell(wanted: Program, got: Program, old: list[bytes], new: list[bytes], at: tuple[int, int, int, int]) -> str:
    before, after = _part(wanted, old, at[0], at[1]), _part(got, new, at[2], at[3])
    if not after:
        return f"the control does not hold {before}"
    if not before:
        return f"the control holds besides: {after}"
    return f"instead of {before} the control holds {after}"


def _part(program: Program, lines: list[bytes], start: int, end: int) -> str:
    """Name a stretch of blocks by its lines, with the words of the first two."""
    if start == end:
        return ""
    first, last = program.blocks[start].line, program.blocks[end - 1].line
    where = f"line {first}" if first == last else f"lines {first} to {last}"
    words = " / ".join(line.decode("utf-8") for line in lines[start : min(end, start + 2)])
    return f"{where} ({words}{' ...' if end - start > 2 else ''})"


def take_readback(shop: Shop, operator: int, machine: str, revision: int, sent: bytes) -> ReadbackFacts:
    """Compare what a control sent with a revision that was put at that machine, and record it whatever comes out.

    One that differs marks drift; its bytes are kept and may be submitted as a new revision (`records.body` gives them).
    ActRefused as `records.record_readback`.
    """
    facts = records.revision(shop, revision)
    result = compare_readback(records.body(shop, facts.sha), sent)
    return records.record_readback(shop, operator, machine, revision, sent, result.equal, result.differences)
