"""The engine does what the model means: generated programs, executed and put together as items, equal the model's own account.

The account (`meaning.py`) is worked out without the product, cycles G74, G75, G90 and G94 written out by rules of their own.
"""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from tests.properties.meaning import Done, meaning
from tests.properties.model import Job
from tests.properties.render import Form, text
from tests.properties.reviewing import traced
from tests.properties.sizes import few
from tests.properties.strategies import jobs
from verifier.compare import Item, items_of
from verifier.control import TICKS_PER_MM
from verifier.machines import generic_lathe

_PLAIN = ("face", "turn", "finish", "groove", "pecked", "pattern", "drill")
_KINDS = {"arc_cw": "clockwise", "arc_ccw": "counterclockwise"}
_EVENTS = {
    "event:tool": "tool", "event:dwell": "dwell", "event:stop": "stop", "event:optional-stop": "stop",
    "event:program-end": "end", "event:repeat": "repeat",
}  # fmt: skip

_FORMS = st.builds(
    Form,
    repeat_motion=st.sampled_from((0, 0.5)),
    repeat_axes=st.sampled_from((0, 0.5)),
    incremental=st.sampled_from((0, 0.5)),
    arc_by_centre=st.sampled_from((0, 0.5)),
    calls=st.sampled_from(("repeats", "leading", "unrolled", "inline")),
    split=st.sampled_from((0, 0.5)),
    shuffle=st.booleans(),
)


@few(40)
@given(jobs(kinds=_PLAIN), _FORMS, st.integers(0, 2**16))
def test_the_items_of_a_program_are_what_its_model_means(job: Job, form: Form, seed: int) -> None:
    data = text(job, form, seed=seed)
    wanted = [_wanted(done) for done in meaning(job)]
    got = [_got(item) for item in items_of(traced(data), generic_lathe()).items]
    assert got == wanted, data.decode()


def _wanted(done: Done) -> tuple[object, ...]:
    if done.kind in ("tool", "dwell", "stop", "end", "repeat"):
        value = f"T{done.detail[0]} offset {done.detail[1]}" if done.kind == "tool" else ""
        value = f"{Fraction(int(str(done.detail[0])), 1000)} s" if done.kind == "dwell" else value
        value = f"M{int(str(done.detail[0])):02d}" if done.kind == "stop" else value
        return (done.kind, value)
    if done.kind == "home":
        return ("home", done.state)
    return (done.kind, done.end, done.detail[0], done.state)


def _got(item: Item) -> tuple[object, ...]:
    if not item.is_move:
        kind = _EVENTS[item.kind]
        return (kind, item.value if kind in ("tool", "dwell", "stop") else "")
    s = item.state
    state = (
        s.speed_mode == "surface" if s.speed_mode else None,
        s.speed, s.clamp, s.sense, s.coolant == "on", s.tool, s.offset, s.work_offset,
    )  # fmt: skip
    if item.end.bx == "X at reference":
        assert item.end.bz == "Z at reference"
        return ("home", state)
    assert (item.end.bx, item.end.bz) == ("", "")
    assert s.feed_mode == (None if item.kind == "rapid" else "per-revolution")
    end = (Fraction(2 * item.end.x, TICKS_PER_MM), Fraction(item.end.z, TICKS_PER_MM))
    return (_KINDS.get(item.kind, item.kind), end, s.feed, state)
