"""Counted tries: never more than allowed, in whatever order and from however many processes."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shops import HandClock, TestShop, copy, memory

from verifier import records
from verifier.records import Throttled, Tries

OWN, HERE = Tries("ann", 5, 900), Tries("here", 20, 900)
SECOND = 1_000_000


def test_five_wrong_tries_then_none_for_fifteen_minutes(t: TestShop) -> None:
    for _ in range(5):
        records.take_try(t.shop, [OWN, HERE])
    with pytest.raises(Throttled) as caught:
        records.take_try(t.shop, [OWN, HERE])
    assert 890 <= caught.value.retry_s <= 900
    t.clock.now += 890 * SECOND
    with pytest.raises(Throttled):
        records.take_try(t.shop, [OWN])
    t.clock.now += 11 * SECOND
    for _ in range(5):
        records.take_try(t.shop, [OWN])
    with pytest.raises(Throttled):
        records.take_try(t.shop, [OWN])


def test_a_refused_try_counts_nowhere(t: TestShop) -> None:
    for _ in range(5):
        records.take_try(t.shop, [OWN])
    for _ in range(30):
        with pytest.raises(Throttled):
            records.take_try(t.shop, [OWN, HERE])
    records.take_try(t.shop, [HERE])


def test_slow_tries_are_forgotten_after_the_lock_time(t: TestShop) -> None:
    for _ in range(12):
        records.take_try(t.shop, [OWN])
        t.clock.now += 300 * SECOND


def test_a_right_try_clears_its_person_and_gives_back_one_to_the_place(t: TestShop) -> None:
    for _ in range(4):
        records.take_try(t.shop, [OWN, HERE])
    records.take_try(t.shop, [OWN, HERE])
    records.give_back(t.shop, OWN, [HERE])
    for _ in range(5):
        records.take_try(t.shop, [OWN])
    assert t.shop.database.value("SELECT tries FROM attempt WHERE key='here'") == 4


def test_old_counts_do_not_gather(t: TestShop) -> None:
    for k in range(5):
        records.take_try(t.shop, [Tries(f"somebody {k}", 5, 900)])
        t.clock.now += 4000 * SECOND
    assert t.shop.database.value("SELECT count(*) FROM attempt") == 1


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.booleans(), st.integers(0, 400)), max_size=60))
def test_in_no_stretch_of_the_lock_time_are_more_wrong_tries_looked_at_than_allowed_twice(
    made_once: TestShop, steps: list[tuple[bool, int]]
) -> None:
    """Wrong tries only: a window may begin in the middle of one count and end in the next."""
    with memory() as place:
        t = copy(made_once, place / "s")
        taken: list[int] = []
        for _, wait in steps:
            t.clock.now += wait * SECOND
            try:
                records.take_try(t.shop, [OWN])
            except Throttled:
                continue
            taken.append(t.clock.now)
        for k, first in enumerate(taken):
            assert sum(1 for at in taken[k:] if at - first < 900 * SECOND) <= 2 * OWN.most
        t.shop.close_thread()


def test_four_processes_together_get_five_tries(t: TestShop) -> None:
    t.shop.close_thread()
    reading, writing = os.pipe()
    children = []
    for _ in range(4):
        child = os.fork()
        if child == 0:
            _child(t.shop.folder, t.clock.now, writing)
        children.append(child)
    os.close(writing)
    for child in children:
        assert os.waitpid(child, 0)[1] == 0
    with os.fdopen(reading, "rb") as results:
        assert results.read().count(b"y") == 5


def _child(folder: Path, now: int, writing: int) -> None:
    code = 1
    try:
        with records.open_shop(folder, HandClock(now)) as shop:
            for _ in range(5):
                try:
                    records.take_try(shop, [OWN])
                    os.write(writing, b"y")
                except Throttled:
                    os.write(writing, b"n")
        code = 0
    finally:
        os._exit(code)
