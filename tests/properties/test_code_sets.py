"""A job written for a machine of code set B or C does what it does in set A: generated programs, exchanged code by code.

The table of the exchange is this test's own (common practice, no source); the way home is written as an increment by mode.
"""

from __future__ import annotations

import re
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from tests.properties.model import Job
from tests.properties.render import Form, text
from tests.properties.reviewing import lathe
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from verifier.machines import FrozenMap, Machine, content_digest
from verifier.report import review

_B = {"G90": "G77", "G92": "G78", "G94": "G79", "G32": "G33", "G98": "G94", "G99": "G95", "G50": "G92"}
_C = {
    "G90": "G20", "G92": "G21", "G94": "G24", "G32": "G33", "G98": "G94", "G99": "G95", "G50": "G92", "G20": "G70", "G21": "G71",
    "G70": "G72", "G71": "G73", "G72": "G74", "G73": "G75", "G74": "G76", "G75": "G77", "G76": "G78",
}  # fmt: skip
_SETS = {"B": _B, "C": _C}
_KINDS = ("face", "turn", "finish", "rough", "groove", "pecked", "drill", "thread")


def machine_of(code_set: str) -> Machine:
    """The lathe of the property tests with another set's codes."""
    one = lathe()
    names = FrozenMap((group, _SETS[code_set].get(code, code)) for group, code in one.power_on.items())
    other = replace(one, code_set=code_set, power_on=names)
    return replace(other, digest=content_digest(other))


def exchanged(data: bytes, code_set: str) -> bytes:
    """The program in the codes of another set, by coordinates from its first block on."""
    out = re.sub(r"G\d\d", lambda found: _SETS[code_set].get(found[0], found[0]), data.decode())
    out = re.sub(r"G28 U0\.? W0\.?", "G91 G28 X0. Z0.\nG90", out)
    head, rest = out.split("\n", 2)[:2], out.split("\n", 2)[2]
    return "\n".join((*head, "G90", rest)).encode()


@few(10)
@given(jobs(kinds=_KINDS), st.integers(0, 2**16), st.sampled_from("BC"), st.booleans())
def test_a_job_in_another_code_set_has_the_same_behaviour(job: Job, seed: int, code_set: str, one_block: bool) -> None:
    data = text(job, Form(one_block=one_block), seed=seed)
    other = exchanged(data, code_set)
    report = review(data, other, old_machine=lathe(), machine=machine_of(code_set))
    assert report.levels["behaviour"] == "same", (data.decode(), other.decode(), [f.title for f in report.findings])
