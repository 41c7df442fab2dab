"""Every defect that reading knows is shown by one small file, and named at its place."""

from __future__ import annotations

import pytest

from tests.source.damaged import FOLDER, READ, REFUSED, code_of, files
from verifier.source import SourceRefused, read_path
from verifier.syntax import parse
from verifier.syntax.flaws import FAULTS

ONLY_PROBLEMS = {
    "byte-order-mark",
    "code-after-semicolon",
    "mixed-line-ends",
    "not-utf-8",
    "sign-on-a-code",
    "tape-leader",
    "text-after-end",
    "text-before-start",
}


def test_the_folder_holds_exactly_the_files_of_the_table() -> None:
    assert {path.name: path.read_bytes() for path in FOLDER.iterdir()} == files()


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_is_no_program_is_refused_with_its_reason(name: str) -> None:
    with pytest.raises(SourceRefused) as refusal:
        read_path(FOLDER / f"{name}.nc")
    (problem,) = refusal.value.problems
    assert problem.code == code_of(name)
    assert problem.span.line >= 1
    assert problem.span.column >= 1


@pytest.mark.parametrize("name", READ)
def test_a_damaged_file_is_read_and_its_defect_named_at_its_place(name: str) -> None:
    _, line, column = READ[name]
    program = parse(read_path(FOLDER / f"{name}.nc"))
    code = code_of(name)
    assert (code, line, column) in {(p.code, p.span.line, p.span.column) for p in program.problems}


@pytest.mark.parametrize("name", READ)
def test_a_defect_in_code_makes_its_block_a_flawed_one(name: str) -> None:
    data, line, _ = READ[name]
    program = parse(read_path(FOLDER / f"{name}.nc"))
    flawed = {block.line for block in program.blocks if block.flaws}
    harmless = (
        code_of(name) in ONLY_PROBLEMS or "in-a-comment" in name or name in ("nested-comment", "control-character")
    )
    assert (line not in flawed) if harmless else (line in flawed), data


@pytest.mark.parametrize("name", READ)
def test_the_rest_of_a_damaged_file_is_read_as_if_nothing_were_wrong(name: str) -> None:
    program = parse(read_path(FOLDER / f"{name}.nc"))
    texts = [[word.text for word in block.words] for block in program.blocks if not block.flaws]
    assert ["G00", "X42.", "Z2."] in texts
    assert ["M30"] in texts


def test_every_problem_says_what_was_expected_in_the_style_of_messages() -> None:
    for name in READ:
        for problem in parse(read_path(FOLDER / f"{name}.nc")).problems:
            assert problem.expected, problem
            assert not problem.message.endswith("."), problem
            assert problem.span.column >= 1, problem


def test_every_fault_of_the_table_is_shown_by_a_file() -> None:
    shown = {code_of(name) for name in READ}
    assert {told.code for told in FAULTS.values()} <= shown
