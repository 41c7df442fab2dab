"""Lines of programs to try: sound ones, damaged ones, and whatever the grammar itself can make."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.extra.lark import from_lark
from lark import Lark

from verifier.syntax.grammar import grammar_text

_LARK = Lark(grammar_text(), parser="lalr", lexer="contextual", start=["notes", "block"], maybe_placeholders=False)
_BREAKS = dict.fromkeys(map(ord, "\r\n\x00"))

NUMBERS = st.from_regex(r"[+-]?(?:[0-9]{1,9}\.?[0-9]{0,9}|\.[0-9]{1,9})", fullmatch=True)
WORDS = st.builds(
    lambda letter, blank, number: letter + blank + number,
    st.sampled_from("NGXZUWIKRFSTMxz"),
    st.sampled_from(["", "", "", " "]),
    NUMBERS,
)
COMMENTS = st.sampled_from(
    [
        "(ROUGH)",
        "()",
        "( x 10. )",
        "; note",
        ";",
        "(a;b)",
        "(a (b) c)",
        "(open",
        "(é)",
        "( s to (9) X1 )",
        ";G1X2",
        ";(a",
        ")",
    ]
)
PIECES = st.sampled_from(
    [
        *(
            "X1.5",
            "Y-2",
            "Z.5",
            "G1",
            "G01",
            "N10",
            "X+0.500",
            "x1.",
            " ",
            "  ",
            "\t",
            "/",
            "/2",
            "%",
            "O1234",
            ":12",
            "T0101",
            "X 10",
            "X     10",
        ),
        *(
            "X",
            "-",
            ".",
            "1",
            "X1.2.3",
            "X-+1",
            "X1-2",
            "F.",
            "X123456789",
            "X1.123456789",
            ",C2.",
            ",R.5",
            ",",
            "X1,5",
            "GO1",
            "X1O.",
            "N1O2",
        ),
        *(
            "#1=2",
            "#[#1+2]=#3*2.",
            "IF[#1GT2]GOTO5",
            "IF[#1EQ2]THEN#3=4",
            "WHILE[#1LT3]DO1",
            "END1",
            "GOTO#1",
            "X#5",
            "X[1+2]",
            "X-[#1]",
            "S[850]",
        ),
        *(
            "[",
            "]",
            "#",
            "=",
            '"',
            "é",
            "１",
            "−",
            "\xa0",
            "\x11",
            "\x1b",
            "\x7f",
            "\x1a",
            "<<<<<<< A",
            "roughing pass",
            "DPRNT[X#1[53](a)]",
            "POPEN",
        ),
    ]
)
JUNK = st.lists(st.one_of(WORDS, PIECES, PIECES, COMMENTS), max_size=6).map("".join)
FROM_GRAMMAR = st.one_of(from_lark(_LARK, start="block"), from_lark(_LARK, start="notes")).map(
    lambda text: text.translate(_BREAKS)
)
SOUND = st.lists(WORDS, min_size=1, max_size=5).map(" ".join)
LINES = st.one_of(JUNK, FROM_GRAMMAR, SOUND)
LINE_ENDS = st.sampled_from(["\n", "\n", "\r\n", "\r", "\r\r\n", "\n\r\r"])
PROGRAMS = st.builds(
    lambda lines, end, last: end.join(lines) + (end if last else ""),
    st.lists(LINES, max_size=12),
    LINE_ENDS,
    st.booleans(),
)
