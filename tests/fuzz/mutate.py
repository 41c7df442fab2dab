"""Programs changed at random: bytes, words, numbers and blocks, and pieces of one program put into another."""

from __future__ import annotations

import re
from random import Random

_WORD = re.compile(rb"[A-Za-z,#/][+\-]?[0-9.]*|\[|\]|\([^)\n]*\)|[^\n]")
_NUMBER = re.compile(rb"[+\-]?[0-9]+\.?[0-9]*|[+\-]?\.[0-9]+")

NUMBERS = (
    b"0", b"-0.", b"1", b"-1", b".001", b"-.001", b"5.", b"360.", b"1000", b"9999", b"99999999", b"1" + b"0" * 16, b"." + b"0" * 12 + b"1", b"", b".",
    b"-", b"1.2.3", b"9" * 50, b"3000", b"4120", b"#100", b"#0", b"[1/3]", b"[#1+1]", b"-[#500*2]",
)  # fmt: skip
WORDS = (
    *(b"G%02d" % k for k in (0, 1, 2, 3, 4, 10, 17, 18, 19, 20, 21, 24, 28, 29, 30, 32, 33, 34, 40, 41, 42, 50, 52, 53, 54, 59, 61, 64, 65, 66, 67)),
    *(b"G%02d" % k for k in (*range(70, 100), 107, 112, 113)), b"G54.1P2", b"G12.1", b"G13.1", b"G07.1C25.",
    *(b"M%02d" % k for k in (0, 1, 2, 3, 4, 5, 6, 8, 9, 19, 29, 30, 98, 99, 101)), b"M98P1L9", b"M98Q10", b"M99P10", b"M97P10", b"M96", b"G101A1.X2.",
    b"G71U2.R.5", b"G71P10Q20U.4W.1F.2", b"G72W1.R.5", b"G73U3.W1.R3", b"G70P10Q20", b"G74R.5", b"G75R.5", b"G76P020060Q50R.02",
    b"G76X20.Z-20.P900Q300F1.5", b"G83Z-20.R-2.Q5000F.1", b"G90X20.Z-20.R-1.", b"G92X20.Z-20.F2.", b"G94X20.Z-5.", b"G32Z-20.F1.Q90000", b"G28U0W0",
    b"G50S2000", b"G50X100.Z100.", b"G96S200M3", b"G97S500M3", b"G10P1X.1Z.1R.8Q3", b"G65P1A1.B2.", b"G66P1A1.", b",R1.", b",C.5", b",A135.", b"A45.",
    b"N10", b"N20", b"P10", b"Q20", b"T0101", b"T0", b"T0202", b"C90.", b"H45.", b"Y1.", b"K3", b"L9999", b"R-1.", b"I1.", b"J1.", b"K-1.", b"/",
    b"/2",     b";", b"(", b")", b"%", b"O1", b":2", b"E1.", b"D2.", b"F.2", b"F0", b"S", b"X", b"Z-", b"U-1.", b"W-1.", b"X0", b"Z0",
    b"#1=1", b"#1=#1+1", b"#100=#100*2.", b"#500=#5021", b"#3000=1(STOP)", b"#3006=1", b"#[#1]=2", b"IF[#1LT5]GOTO10", b"IF[#500EQ1]GOTO20",
    b"IF[#1GT2]THEN#2=3", b"WHILE[#1LT9]DO1", b"END1", b"DO2", b"END2", b"GOTO10", b"GOTO#1", b"POPEN", b"DPRNT[X#1[43]]", b"X[SQRT[#1]]", b"X[1/0]",
)  # fmt: skip


def mutated(data: bytes, others: list[bytes], chance: Random, longest: int) -> bytes:
    """The program after one change or a few of them, no longer than `longest` bytes."""
    for _ in range(chance.choice((1, 1, 1, 2, 3, 5))):
        data = chance.choice(_CHANGES)(data, others, chance)
    return data[:longest]


def _byte(data: bytes, others: list[bytes], chance: Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    cut = chance.choice((0, 1, 1, 2, 8))
    put = bytes(chance.randrange(256) for _ in range(chance.choice((0, 1, 1, 2))))
    return data[:at] + put + data[at + cut :]


def _word(data: bytes, others: list[bytes], chance: Random) -> bytes:
    """One word of a line exchanged, taken out, doubled, or another one put in before it."""
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    words = _WORD.findall(lines[at]) or [b""]
    k = chance.randrange(len(words))
    what = chance.randrange(4)
    new = chance.choice(WORDS)
    words[k : k + 1] = ([new], [], [words[k], words[k]], [new, words[k]])[what]
    lines[at] = b"".join(words)
    return b"\n".join(lines)


def _number(data: bytes, others: list[bytes], chance: Random) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    place = chance.choice(found)
    text = place.group()
    bare = text.lstrip(b"+-")
    choices = (
        chance.choice(NUMBERS),
        b"-" + bare,
        bare,
        text.replace(b".", b""),
        text + b".",
        text + b"0",
        chance.choice(found).group(),
    )
    return data[: place.start()] + chance.choice(choices) + data[place.end() :]


def _line(data: bytes, others: list[bytes], chance: Random) -> bytes:
    """A block taken out, doubled, moved, cut off with all behind it, or one of another program put in."""
    lines = data.split(b"\n")
    at, to = chance.randrange(len(lines)), chance.randrange(len(lines) + 1)
    what = chance.randrange(5)
    if what == 0:
        del lines[at]
    elif what == 1:
        lines[to:to] = lines[at : at + chance.choice((1, 1, 4))]
    elif what == 2:
        moved = lines.pop(at)
        lines.insert(to, moved)
    elif what == 3:
        lines = lines[: to + 1]
    else:
        other = chance.choice(others).split(b"\n")
        begin = chance.randrange(len(other))
        lines[to:to] = other[begin : begin + chance.choice((1, 2, 6))]
    return b"\n".join(lines)


def _new_block(data: bytes, others: list[bytes], chance: Random) -> bytes:
    lines = data.split(b"\n")
    words = [chance.choice(WORDS) for _ in range(chance.choice((1, 1, 2, 3)))]
    lines.insert(chance.randrange(len(lines) + 1), chance.choice((b"", b" ")).join(words))
    return b"\n".join(lines)


def _splice(data: bytes, others: list[bytes], chance: Random) -> bytes:
    other = chance.choice(others)
    return data[: chance.randrange(len(data) + 1)] + other[chance.randrange(len(other) + 1) :]


_CHANGES = (_byte, _word, _word, _word, _number, _number, _line, _line, _new_block, _splice)
