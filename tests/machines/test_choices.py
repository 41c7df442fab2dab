"""The table of choices is data that a setter can answer from."""

from verifier.machines import CHOICES, generic_lathe
from verifier.machines.mcodes import CONTROL_MEANINGS, STANDARD


def test_every_choice_has_a_name_values_a_question_and_a_source() -> None:
    for name, row in CHOICES.items():
        assert row.name == name and row.values and row.default == row.values[0]
        assert len(set(row.values)) == len(row.values)
        assert row.question.endswith("?") and row.source
        assert all(set(word) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for word in (name, *row.values))


def test_the_places_where_lathes_differ_are_all_there() -> None:
    assert set(CHOICES) >= {
        "number-without-point",
        "feed-without-point",
        "rapid-path",
        "word-twice",
        "skip-mid-block",
        "tool-with-motion",
        "clamp-limits-rpm-mode",
        "thread-r-unit",
        "d-of-one-block-cycles",
        "dwell-p",
        "dwell-x-u",
        "feed-after-mode-change",
        "rough-infeed",
        "rough-pockets",
        "modal-single-cycles",
        "flank-infeed",
        "semicolon",
        "m-after-motion",
        "coordinate-preset",
        "tool-word",
    }


def test_built_in_codes_act_when_the_national_adoption_of_iso_1056_says() -> None:
    # JB 3208-83, as read in a public list: 03 04 07 08 with the motion of their block, 00 01 02 05 09 30 after it.
    codes = generic_lathe().m_codes
    assert {n for n in (3, 4, 7, 8) if codes[n].when == "with-motion"} == {3, 4, 7, 8}
    assert {n for n in (0, 1, 2, 5, 9, 30) if codes[n].when == "after-motion"} == {0, 1, 2, 5, 9, 30}


def test_every_meaning_that_steers_the_run_belongs_to_a_built_in_code() -> None:
    assert set(CONTROL_MEANINGS) <= {code.meaning for code in STANDARD.values()}


def test_codes_that_move_the_spindle_are_critical() -> None:
    moving = [code for code in STANDARD.values() if any(name == "spindle" for name, _ in code.sets)]
    assert len(moving) == 3 and all(code.weight == "critical" for code in moving)
