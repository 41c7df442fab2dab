"""Read-backs: a control's own spelling is no difference, everything else is."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.work import calls
from verifier.floor import compare_readback

RELEASE = b"%\nO1000 (SHAFT)\nN10 G00 X25. Z2. (APPROACH)\nG1 Z-10.5 F0.2\nM30\n%\n"


@pytest.mark.parametrize(
    "sent",
    [
        RELEASE,
        RELEASE.replace(b"\n", b"\r\n"),
        RELEASE.replace(b"(SHAFT)", b"").replace(b" (APPROACH)", b""),
        RELEASE.replace(b"G00", b"G0").replace(b"G1 ", b"G01").replace(b"X25.", b"X25.000"),
        RELEASE.replace(b" ", b""),
        RELEASE.lower().replace(b"(shaft)", b"").replace(b"(approach)", b""),
    ],
)
def test_respelling_is_no_difference(sent: bytes) -> None:
    assert compare_readback(RELEASE, sent) == compare_readback(RELEASE, RELEASE)
    assert compare_readback(RELEASE, sent).equal


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"X25.", b"X25"),
        (b"X25.", b"X25.001"),
        (b"G1 ", b"G0 "),
        (b"N10 ", b""),
        (b"N10", b"/N10"),
        (b"M30\n", b""),
        (b"M30\n", b"M30\nM99\n"),
        (b"F0.2", b"F0.2 M8"),
        (b"X25. Z2.", b"Z2. X25."),
    ],
)
def test_every_other_word_is_a_difference_and_told(old: bytes, new: bytes) -> None:
    result = compare_readback(RELEASE, RELEASE.replace(old, new, 1))
    assert not result.equal and len(result.differences) == 1


def test_a_difference_names_lines_and_words_of_both() -> None:
    result = compare_readback(RELEASE, RELEASE.replace(b"Z-10.5", b"Z-10.6"))
    (told,) = result.differences
    assert "line 4" in told and "Z-10.5" in told and "Z-10.6" in told


def test_blocks_that_only_one_side_holds_are_told_as_such() -> None:
    less = compare_readback(RELEASE, RELEASE.replace(b"G1 Z-10.5 F0.2\n", b""))
    more = compare_readback(RELEASE.replace(b"G1 Z-10.5 F0.2\n", b""), RELEASE)
    assert less.differences[0].startswith("the control does not hold line 4")
    assert more.differences[0].startswith("the control holds besides: line 4")


@pytest.mark.parametrize("sent", [b"", b"\x00\x01\x02\xff" * 9, "%\nX1\n".encode("utf-16")])
def test_what_is_no_program_differs_and_says_why(sent: bytes) -> None:
    result = compare_readback(RELEASE, sent)
    assert not result.equal and result.differences


blocks = st.lists(st.sampled_from([b"G1 X1.", b"G0 Z2.", b"M8", b"G1 X1", b"T0101", b"(note)"]), max_size=12)


@given(blocks, blocks)
@settings(max_examples=80, deadline=None)
def test_equal_is_said_exactly_when_the_words_are_the_same(one: list[bytes], two: list[bytes]) -> None:
    words = [[block for block in side if block != b"(note)"] for side in (one, two)]
    texts = [b"%\nO1\n" + b"".join(block + b"\n" for block in side) + b"%\n" for side in (one, two)]
    result = compare_readback(*texts)
    assert result.equal == (words[0] == words[1])
    assert result.equal == (not result.differences)
    assert compare_readback(texts[1], texts[0]).equal == result.equal


def test_long_programs_that_are_alike_nowhere_are_compared_with_work_in_proportion() -> None:
    def pair(blocks: int) -> tuple[bytes, bytes]:
        one, two = ((3, 2), (2, 3))
        return tuple(  # type: ignore[return-value]
            b"%\n" + b"".join(b"G1 X%d. Z%d.\n" % (n % x, n % z) for n in range(blocks)) for x, z in (one, two)
        )

    few, many = pair(2_500), pair(10_000)
    assert len(compare_readback(*many).differences) == 1
    assert calls(lambda: compare_readback(*many)) <= 6 * calls(lambda: compare_readback(*few))
