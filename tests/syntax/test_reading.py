"""What one line is read as: words, statements, skip marks, comments; expressions with their order."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.syntax.strategies import LINES
from verifier.syntax import Binary, Block, Call, Expression, Literal, Unary, Variable, canonical_number, read_number
from verifier.syntax.grammar import Counter
from verifier.syntax.reading import Reading, read_line

_SKIP = re.compile(r"/[ \t]*[1-9]?")


def _read(line: str) -> Reading:
    return read_line(line, Counter())


def _block(line: str) -> Block:
    reading = _read(line)
    assert not reading.flaws
    return reading.block(0, 1)


def _shown(expression: Expression | None) -> str:
    """An expression in full brackets: its tree as text."""
    match expression:
        case Literal(number):
            return number.text
        case Variable(index):
            return f"#{_shown(index)}"
        case Unary(operator, operand):
            return f"({operator}{_shown(operand)})"
        case Binary(operator, left, right):
            return f"({_shown(left)} {operator} {_shown(right)})"
        case Call(name, arguments):
            return f"{name}({', '.join(map(_shown, arguments))})"
    return "-"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("N10 G01 X-.5 Z5. F+.2", ["N10", "G01", "X-.5", "Z5.", "F+.2"]),
        ("n10g01x-.5z5.", ["n10", "g01", "x-.5", "z5."]),
        ("O01010(NAME)", ["O01010"]),
        (":1234", [":1234"]),
        ("N1 O2 (NAME)", ["N1", "O2"]),
        ("%O1234", ["O1234"]),
        ("N10O1234", ["N10", "O1234"]),
        ("T06006G54", ["T06006", "G54"]),
        ("G71P100Q101U320W50F.02", ["G71", "P100", "Q101", "U320", "W50", "F.02"]),
        ("X1. ,C1. ,R.5 ,A45.", ["X1.", ",C1.", ",R.5", ",A45."]),
        ("X 10 Z - 2.5", ["X 10", "Z - 2.5"]),
        ("N180 G00 Z52 Z3", ["N180", "G00", "Z52", "Z3"]),
        ("M30%", ["M30"]),
        ("G01 X1. ;", ["G01", "X1."]),
        ("M98P1000L#528", ["M98", "P1000", "L#528"]),
        ("S [ 850 ] M03", ["S [ 850 ]", "M03"]),
        ("G00\tX1.\t", ["G00", "X1."]),
    ],
)
def test_words_in_order_as_written(line: str, words: list[str]) -> None:
    assert [word.text for word in _block(line).words] == words


@pytest.mark.parametrize(
    ("text", "value", "pointed"),
    [
        ("X-.5", Fraction(-1, 2), True),
        ("X5.", Fraction(5), True),
        ("X+3", Fraction(3), False),
        ("X00010", Fraction(10), False),
        ("X0.059055", Fraction(59055, 1_000_000), True),
        ("X123456789.123456789", Fraction(123456789123456789, 10**9), True),
    ],
)
def test_a_number_is_exact_and_knows_its_point(text: str, value: Fraction, pointed: bool) -> None:
    (word,) = _block(text).words
    assert word.number is not None
    assert (word.number.value, word.number.pointed) == (value, pointed)


@given(st.integers(-(10**20), 10**20), st.integers(-1, 15))
def test_reading_a_number_and_spelling_it_are_inverse(mantissa: int, decimals: int) -> None:
    digits = str(abs(mantissa)).rjust(max(decimals, 0) + 1, "0")
    cut = len(digits) - max(decimals, 0)
    text = ("-" if mantissa < 0 else "") + digits[:cut] + ("." + digits[cut:] if decimals >= 0 else "")
    number = read_number(text)
    assert (number.mantissa, number.decimals) == (mantissa, decimals)
    again = read_number(canonical_number(number))
    assert (again.value, again.pointed) == (number.value, number.pointed)


@pytest.mark.parametrize(
    ("line", "tree"),
    [
        ("X[-#4/2-#9]", "(((-#4) / 2) - #9)"),
        ("X#1", "#1"),
        ("F-#2", "(-#2)"),
        ("X##2", "##2"),
        ("X#[#1+2]", "#(#1 + 2)"),
        ("S[850]", "850"),
        ("X[1+2*3-4/5]", "((1 + (2 * 3)) - (4 / 5))"),
        ("X[2.0/3*1.5-5.5/11.0]", "(((2.0 / 3) * 1.5) - (5.5 / 11.0))"),
        ("X[1--3]", "(1 - (-3))"),
        ("X[3**2+4**2]", "((3 ** 2) + (4 ** 2))"),
        ("X[-2**2]", "((-2) ** 2)"),
        ("X[15 MOD 4.0]", "(15 MOD 4.0)"),
        ("X[2 or 2]", "(2 OR 2)"),
        ("X[#1 AND [#2+1]]", "(#1 AND (#2 + 1))"),
        ("X[atan[1.7321]/[1.0]]", "ATAN(1.7321, 1.0)"),
        ("X[ATAN[1,2]]", "ATAN(1, 2)"),
        ("X[ATAN[1]/2]", "(ATAN(1) / 2)"),
        ("X[SQRT[3**2]+SIN[30]*FIX[#1]]", "(SQRT((3 ** 2)) + (SIN(30) * FIX(#1)))"),
        ("X[ROUND[1]+FUP[2]+LN[3]+EXP[4]+ABS[5]]", "((((ROUND(1) + FUP(2)) + LN(3)) + EXP(4)) + ABS(5))"),
        ("X[[#1 EQ 0] XOR [#2 LE 3]]", "((#1 EQ 0) XOR (#2 LE 3))"),
        ("X[2+asin[1/2.1+-0.345]]", "(2 + ASIN(((1 / 2.1) + (-0.345))))"),
    ],
)
def test_expressions_bind_as_the_published_levels_say(line: str, tree: str) -> None:
    (word,) = _block(line).words
    assert word.number is None
    assert _shown(word.expression) == tree


def test_a_slash_is_a_division_in_an_expression_and_a_skip_mark_behind_a_value() -> None:
    assert [_shown(macro.value) for macro in _block("#1=#2/3").macros] == ["(#2 / 3)"]
    block = _block("X#1/2 Y3")
    assert [word.text for word in block.words] == ["X#1", "Y3"]
    assert [(skip.level, skip.before, skip.column) for skip in block.skips] == [(2, 1, 4)]


@pytest.mark.parametrize(
    ("line", "level", "before"),
    [
        ("/G01", 0, 0),
        ("/2M98P8001", 2, 0),
        ("N5/3 G01", 3, 1),
        ("G01 / X1.", 0, 1),
        ("/ 9 M00", 9, 0),
        ("/IF[#1EQ1]GOTO5", 0, 0),
    ],
)
def test_skip_marks_know_their_switch_and_place(line: str, level: int, before: int) -> None:
    (skip,) = _block(line).skips
    assert (skip.level, skip.before) == (level, before)


@pytest.mark.parametrize(
    ("line", "kind", "parts"),
    [
        ("#1=2.*#3", "assign", ("#1", "-", "(2. * #3)")),
        ("#[#1+2] = 5", "assign", ("#(#1 + 2)", "-", "5")),
        ("GOTO 130", "goto", ("130", "-", "-")),
        ("GOTO[#1*10]", "goto", ("(#1 * 10)", "-", "-")),
        ("GOTO#1", "goto", ("#1", "-", "-")),
        ("WHILE [#1 LT 5] DO 2", "while", ("2", "(#1 LT 5)", "-")),
        ("DO 1", "do", ("1", "-", "-")),
        ("END1", "end", ("1", "-", "-")),
        ("IF[[#606NE0]OR[#1002NE1]]GOTO130", "if-goto", ("130", "((#606 NE 0) OR (#1002 NE 1))", "-")),
        ("IF[#1EQ1]THEN GOTO 5", "if-goto", ("5", "(#1 EQ 1)", "-")),
        ("IF [#1 EQ #2] THEN #3=4.", "if-then", ("#3", "(#1 EQ #2)", "4.")),
        ("IF [ #1 EQ #2 ] S900. F500.", "if-then", ("-", "(#1 EQ #2)", "-")),
        ("DPRNT[X#100[53] (A)]", "output", ("-", "-", "-")),
        ("POPEN", "output", ("-", "-", "-")),
        ("SETVN[NAME]", "other", ("-", "-", "-")),
    ],
)
def test_statements_and_their_parts(line: str, kind: str, parts: tuple[str, str, str]) -> None:
    (macro,) = _block(line).macros
    assert macro.kind == kind
    assert (_shown(macro.target), _shown(macro.condition), _shown(macro.value)) == parts
    assert macro.text == "".join(line.split()).upper()


def test_words_behind_a_condition_hang_on_it() -> None:
    block = _block("N7 IF [ #1 EQ #2 ] S900. F500.")
    assert [word.text for word in block.words] == ["N7"]
    assert [word.text for word in block.macros[0].then] == ["S900.", "F500."]


def test_comments_have_their_text_place_and_kind_wherever_they_stand() -> None:
    block = _block("IF [#1(A)EQ 2] (B) GOTO 5 ; C (D")
    assert [(c.text, c.column, c.kind) for c in block.comments] == [
        ("A", 7, "bracket"),
        ("B", 16, "bracket"),
        (" C (D", 27, "semicolon"),
    ]


def test_what_stands_before_a_fault_is_still_read() -> None:
    reading = _read("N100 G01 X[1+*2] Z5.")
    assert [word.text for word in reading.words] == ["N100", "G01"]
    (flaw,) = reading.flaws
    assert (flaw.code, flaw.span.column, flaw.expected) == ("unreadable-block", 14, "a variable, a number")


def test_a_control_character_in_a_word_is_told_once() -> None:
    reading = _read("G01 Z\x1b-30.")
    assert [p.code for p in reading.flaws + reading.problems].count("control-character") == 1


@pytest.mark.parametrize(
    "keyword", ["GOTO", "DO", "WHILE [#1 LT 5] DO", "IF [#1 EQ 1] GOTO", "#", "X", "#1=", "IF [#1 EQ 1] THEN #"]
)
def test_a_number_that_is_too_long_is_a_flaw_wherever_it_stands(keyword: str) -> None:
    digits = "1" * 41 + ("=2" if keyword.endswith("#") else "")
    assert {flaw.code for flaw in _read(keyword + digits).flaws} & {"number-too-long", "unreadable-block"}


@pytest.mark.parametrize("line", ["", "   ", "%", "%%", ";", " ; ;", "(note)", "\x00\x00%", "\x11", "%\x1a"])
def test_lines_without_code_are_no_blocks(line: str) -> None:
    assert not _read(line).is_block


@given(LINES)
def test_each_character_of_a_line_is_read_or_named(line: str) -> None:
    """Nothing is skipped in silence: blank out all that was found, and nothing but blanks, marks and fillers is left."""
    reading = _read(line)
    left = list(line)
    starts = [(w.column, len(w.text)) for w in reading.words] + [(c.column, len(c.text) + 2) for c in reading.comments]
    starts += [(p.span.column, max(len(p.text), p.span.length)) for p in reading.flaws + reading.problems]
    starts += [(s.column, _skip_length(line, s.column)) for s in reading.skips]
    for macro in reading.macros:
        starts.append((macro.column, _reach(line, macro.column - 1, macro.text)))
    for column, length in starts:
        left[column - 1 : column - 1 + length] = " " * len(left[column - 1 : column - 1 + length])
    rest = "".join(left)
    if not any(flaw.code in ("unreadable-block", "bracket-depth") for flaw in reading.flaws):
        assert not rest.strip("% ;\t\x00\x11\x12\x13\x14\x7f\x1a"), (line, rest)


def _skip_length(line: str, column: int) -> int:
    mark = _SKIP.match(line, column - 1)
    assert mark is not None
    return len(mark[0])


def _reach(line: str, start: int, text: str) -> int:
    """How many characters of the line a statement's canonical text covers."""
    taken = at = 0
    while taken < len(text) and start + at < len(line):
        taken += line[start + at].upper() == text[taken] and not line[start + at].isspace()
        at += 1
    return at
