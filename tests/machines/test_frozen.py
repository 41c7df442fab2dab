"""A frozen mapping is a value: equal by content, hashable, picklable, and without a way to change it."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.machines import FrozenMap, generic_lathe

tables = st.dictionaries(st.text(max_size=3), st.integers(), max_size=5)


@given(tables)
def test_equal_and_hashed_by_content_whatever_the_order(table: dict[str, int]) -> None:
    one, other = FrozenMap(table), FrozenMap(reversed(list(table.items())))
    assert one == other == table and hash(one) == hash(other)
    assert pickle.loads(pickle.dumps(one)) == one


def test_there_is_no_way_to_write() -> None:
    with pytest.raises(TypeError):
        FrozenMap({"a": 1})["a"] = 2  # type: ignore[index]


def test_a_source_that_changes_later_does_not_change_it() -> None:
    source = {"a": 1}
    frozen = FrozenMap(source)
    source["a"] = 2
    assert frozen["a"] == 1


def test_a_machine_is_hashable_and_survives_pickling() -> None:
    machine = generic_lathe()
    again = pickle.loads(pickle.dumps(machine))
    assert again == machine and hash(again) == hash(machine)
