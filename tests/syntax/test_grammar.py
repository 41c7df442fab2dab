"""The grammar itself: found, without conflicts, in ASCII only, and counted."""

from __future__ import annotations

import logging
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lark import Lark, logger

import verifier
from verifier.source import VerifierError
from verifier.syntax import grammar
from verifier.syntax.grammar import Counter, grammar_text, plain_grammar


def test_the_grammar_has_no_conflict_that_the_parser_would_settle_in_silence(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG, logger=logger.name):
        Lark(
            grammar_text(),
            parser="lalr",
            lexer="contextual",
            start=["notes", "block"],
            maybe_placeholders=False,
            debug=True,
        )
    assert [record.getMessage() for record in caplog.records if "conflict" in record.getMessage().lower()] == []


def test_no_class_of_the_grammar_takes_letters_or_digits_of_other_scripts() -> None:
    code = re.sub(r"//.*", "", grammar_text())
    assert not re.search(r"\\[dDwWsS]", code)
    assert not re.search(r"/[imsux]+$", code, re.MULTILINE)


@given(st.characters(min_codepoint=0x80))
def test_a_character_beyond_ascii_is_never_a_part_of_a_word(character: str) -> None:
    tokens = list(plain_grammar().block(f"X1{character}", Counter()).scan_values(lambda token: character in token))
    assert [token.type for token in tokens] == ["STRAY"]


def test_the_counter_counts_parses() -> None:
    counter = Counter()
    plain_grammar().block("G01 X1.", counter)
    plain_grammar().notes("(note)", counter)
    assert counter.parses == 2


def test_an_installed_package_reads_the_grammar_packed_beside_it(tmp_path: Path) -> None:
    """The layout of the wheel: verifier/_grammar in the package, and no grammar/ above it."""
    package = Path(verifier.__file__).resolve().parent
    shutil.copytree(package, tmp_path / "site" / "verifier", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(package.parent / "grammar", tmp_path / "site" / "verifier" / "_grammar")
    code = "from verifier.source import read_source; from verifier.syntax import parse; print(len(parse(read_source(b'G01 X1.')).blocks))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path / "site", env={}, capture_output=True, check=True, text=True
    )
    assert done.stdout == "1\n"


def test_a_lost_grammar_is_said_to_be_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(grammar, "FILE", "lost.lark")
    with pytest.raises(VerifierError, match=r"lost\.lark is missing"):
        grammar.grammar_text()
