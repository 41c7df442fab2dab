"""A profile or sheet that is written out loads back to equal values."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from verifier.machines import CHOICES, generic_lathe, load_machine, load_setup, machine_text, setup_text

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
PROFILES = sorted((SHOP / "machines").glob("*.toml"))
SETUPS = sorted((SHOP / "setups").glob("*.toml"))


@pytest.mark.parametrize("path", PROFILES, ids=lambda p: p.stem)
def test_profiles_round_trip(tmp_path: Path, path: Path) -> None:
    machine = load_machine(path)
    (tmp_path / "written.toml").write_text(machine_text(machine), "utf-8")
    assert load_machine(tmp_path / "written.toml") == machine


def test_the_generic_lathe_round_trips_and_says_that_nothing_is_verified(tmp_path: Path) -> None:
    text = machine_text(generic_lathe())
    (tmp_path / "written.toml").write_text(text, "utf-8")
    assert load_machine(tmp_path / "written.toml") == generic_lathe()
    assert text.count("# not verified") == len(CHOICES)


@pytest.mark.parametrize("path", SETUPS, ids=lambda p: p.stem)
def test_setup_sheets_round_trip(tmp_path: Path, path: Path) -> None:
    setup = load_setup(path, None)
    (tmp_path / "written.toml").write_text(setup_text(setup), "utf-8")
    assert load_setup(tmp_path / "written.toml", None) == setup


note = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\r"), min_size=1, max_size=30)
length = st.decimals(min_value=-9999, max_value=9999, places=7, allow_nan=False, allow_infinity=False)


@given(text=note, x=length, z=length, unit=st.sampled_from(["mm", "inch"]))
def test_any_note_and_length_round_trips(tmp_path_factory: pytest.TempPathFactory, text: str, x, z, unit: str) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path_factory.getbasetemp() / "any.toml"
    quoted = "".join(f"\\U{ord(c):08x}" for c in text)
    path.write_text(
        f'name = "a"\nunits = "{unit}"\n[work_offsets.G54]\nX = {x:f}\nZ = {z:f}\n'
        f'[tools.1]\nkind = "turning"\nnote = "{quoted}"\nholder = [[0.5, 1], [2, 1], [{abs(x):f}, 3]]',
        "utf-8",
    )
    setup = load_setup(path, None)
    assert setup.tools[1].note == text
    assert setup.work_offsets["G54"]["X"] == Fraction(x) * (Fraction("25.4") if unit == "inch" else 1)
    path.write_text(setup_text(setup), "utf-8")
    assert load_setup(path, None) == setup
