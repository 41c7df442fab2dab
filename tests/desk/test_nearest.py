"""The nearest program of the library for a first submission: the right one, its share counted a second way, and nothing below a third."""

from __future__ import annotations

import random
import re

from tests.desk.conftest import PIN, body
from verifier.desk import Desk, nearest
from verifier.source import read_source
from verifier.syntax import Program, parse, share_alike, sketch


def program(seed: int, blocks: int = 120) -> list[str]:
    """A program of our own: contours at random, with the words that every program has."""
    rng = random.Random(seed)
    cuts = [f"X{rng.randrange(2000, 9000) / 100:.2f} Z-{rng.randrange(100, 9000) / 100:.2f}" for _ in range(blocks - 8)]
    head = ["G21", "N1 G00 G40 G97 G99", "T0101", "G50 S2000", "G96 S180 M03", "G00 X100. Z2. M08"]
    return [*head, *cuts, "G00 X150. Z100. M09", "M30"]


def data(lines: list[str], number: int) -> bytes:
    return "\n".join(["%", f"O{number}", *lines, "%", ""]).encode()


def read(sent: bytes) -> Program:
    return parse(read_source(sent, "test"))


def hand_in(desk: Desk, number: int, lines: list[str]) -> None:
    desk.submit("pia", f"O{number}", "lathe", data(lines, number), "a new part")


def edited(lines: list[str], count: int, seed: int = 1) -> list[str]:
    """The same with so many of its cuts another."""
    rng = random.Random(seed)
    found = list(lines)
    for k in rng.sample(range(6, len(lines) - 2), count):
        found[k] = f"X{rng.randrange(100, 900) / 1000 + 200:.3f}"
    return found


def test_the_program_most_alike_is_proposed_with_its_share(desk: Desk) -> None:
    for number in range(1, 13):
        hand_in(desk, 1000 + number, program(number))
    new = edited(program(7), 8)
    done = desk.submit("pia", "O2000", "lathe", data(new, 2000), "like another one")
    assert done.near is not None
    assert (done.near.program, done.near.n) == ("O1007", 1)
    # 8 of 120 blocks and the program number are others.
    assert done.near.percent == int(100 * (120 - 8) / 121)
    assert "O1007 revision 1 for lathe" in done.near.told()


def test_numbers_of_blocks_and_spelling_take_no_part(desk: Desk) -> None:
    hand_in(desk, 1001, program(3))
    new = [f"N{10 * k} {line.replace(' ', '')}".replace("N10N1G", "N10 G") for k, line in enumerate(program(3))]
    near = nearest(desk.shop, read(data(new, 1002)), "O1002", "lathe")
    assert near is not None
    assert near.percent >= 98


def test_below_a_third_nothing_is_proposed(desk: Desk) -> None:
    hand_in(desk, 1001, program(3))
    assert desk.submit("pia", "O1002", "lathe", data(program(4), 1002), "nothing like it").near is None


def test_its_own_revisions_and_those_taken_back_are_not_proposed(desk: Desk) -> None:
    hand_in(desk, 1001, program(3))
    new = read(data(edited(program(3), 2), 1001))
    assert nearest(desk.shop, new, "O1001", "lathe") is None
    assert nearest(desk.shop, new, "O1009", "lathe") is not None
    desk.withdraw("pia", desk.submit("pia", "O1001", "lathe", data(program(3), 1001), "again").revision, "not needed")
    assert nearest(desk.shop, new, "O1009", "lathe") is None


def test_a_revision_of_a_released_program_asks_for_nothing(desk: Desk) -> None:
    first = desk.submit("pia", "O2101", "lathe", body("base.nc"), "first")
    hand_in(desk, 1001, program(3))
    revision = desk.decide(
        "leo", PIN, first.revision, "approve", "seen", first.revision.report_digest,
        ticked=[],
    )  # fmt: skip
    desk.release("pia", revision, "go")
    assert desk.submit("pia", "O2101", "lathe", body("base.nc") + b" ", "blank").near is None


def test_the_share_is_that_of_counting_lines_by_hand() -> None:
    one, other = program(5), edited(program(5), 30)
    plain = [[re.sub(r"^N[0-9]+ ", "", line) for line in lines] for lines in (one, other)]
    by_hand = sum(a == b for a, b in zip(*plain, strict=True)) / len(one)
    assert share_alike(read("\n".join(one).encode()), read("\n".join(other).encode())) == by_hand


def test_sketches_agree_as_far_as_pairs_of_blocks_do() -> None:
    """Of two programs alike in 9 of 10 blocks in a row the sketches share more than half, of strangers next to nothing."""
    one = read("\n".join(program(5)).encode())
    near = read("\n".join([*program(5)[:108], *program(6)[108:]]).encode())
    far = read("\n".join(program(8)).encode())
    assert len(set(sketch(one)) & set(sketch(near))) > 16
    assert len(set(sketch(one)) & set(sketch(far))) < 6
