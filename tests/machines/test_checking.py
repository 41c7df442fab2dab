"""Whatever a file holds, the answer is a machine or a list of lines, never another exception."""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from importlib import resources
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from verifier.machines.checking import checked
from verifier.machines.edge import Table
from verifier.machines.profile import _built
from verifier.machines.profile_file import ProfileTable
from verifier.machines.reading import parse_toml
from verifier.machines.setup import _built as setup_of
from verifier.machines.setup_file import SetupTable
from verifier.machines.setup_model import Setup
from verifier.machines.stock import raw_piece

GENERIC = parse_toml(resources.files("verifier.machines").joinpath("generic-lathe.toml").read_bytes(), "generic")
WORDS = [
    "\n",
    "",
    "X",
    "Z",
    "50",
    "050",
    "5",
    "kind",
    "tube",
    "G54",
    "minimum",
    "maximum",
    "when",
    "spindle",
    "forward",
    "on",
]

words = st.sampled_from(WORDS) | st.text(max_size=4)
leaves = st.one_of(
    words,
    st.booleans(),
    st.integers(),
    st.decimals(),
    st.just(date(2026, 1, 2)),
    st.sampled_from([10**60, Decimal("1e-900000"), Decimal("NaN"), -1, 0]),
)
values = st.recursive(leaves, lambda v: st.lists(v, max_size=3) | st.dictionaries(words, v, max_size=3), max_leaves=8)
PROFILE_KEYS = sorted(ProfileTable.model_fields)
SETUP_KEYS = sorted(SetupTable.model_fields)


def grafted(base: Any, path: list[str], value: Any) -> Any:
    """A copy of `base` with `value` put at a path, or as near to it as the base has tables."""
    if not path or not isinstance(base, dict):
        return value
    return base | {path[0]: grafted(base.get(path[0], {}), path[1:], value)}


def outcome(model: type[Table], data: Any, build: Any) -> None:
    table, mistakes = checked(model, data)
    assert (table is None) == bool(mistakes)
    for mistake in mistakes:
        line = mistake.line("file")
        assert line.startswith("file: ") and ": got " in line and ", expected " in line and "\n" not in line
    if table is not None:
        assert len(build(table).digest) == 64


@settings(max_examples=300)
@given(key=st.sampled_from(PROFILE_KEYS), rest=st.lists(words, max_size=2), value=values)
def test_any_value_anywhere_in_a_profile(key: str, rest: list[str], value: Any) -> None:
    outcome(ProfileTable, grafted(GENERIC, [key, *rest], value), _built)


def built_setup(table: SetupTable) -> Setup:
    return setup_of(table, raw_piece(table.stock, Fraction(1), None)[0] if table.stock else None)


@settings(max_examples=300)
@given(key=st.sampled_from(SETUP_KEYS), rest=st.lists(words, max_size=2), value=values)
def test_any_value_anywhere_in_a_setup_sheet(key: str, rest: list[str], value: Any) -> None:
    outcome(SetupTable, grafted({"name": "a", "units": "mm"}, [key, *rest], value), built_setup)
