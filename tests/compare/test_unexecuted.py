"""What is not executed equals only itself, with everything that is in force there."""

from __future__ import annotations

import pytest

from verifier import review

HEAD = "O1\nG21 G40 G97 G99\nT0101\nG97 S900 M03\nG00 X50. Z2. M08\n"
TAIL = "G00 X100. Z50.\nM09\nM05\nM30\n"
OPAQUE = "G83 Z-30. R-3. Q5000 F0.1"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (OPAQUE, OPAQUE.replace("F0.1", "F0.2")),
        (f"G99 {OPAQUE}", f"G98 {OPAQUE}"),
        (f"S900\n{OPAQUE}", f"S1200\n{OPAQUE}\nS900"),
        (f"M08\n{OPAQUE}", f"M09\n{OPAQUE}\nM08"),
        (f"G54\n{OPAQUE}", f"G55\n{OPAQUE}\nG54"),
    ],
)
def test_what_is_in_force_at_something_that_is_not_executed_is_compared(old: str, new: str) -> None:
    before, after = ((HEAD + body + "\nG80\n" + TAIL).encode() for body in (old, new))
    assert review(before, after).verdict == "changed behaviour"


def test_the_same_thing_that_is_not_executed_is_equal_to_itself() -> None:
    before = (HEAD + OPAQUE + "\nG80\n" + TAIL).encode()
    assert review(before, before.replace(b" ", b"")).verdict == "same behaviour"
