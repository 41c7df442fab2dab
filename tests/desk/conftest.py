"""A shop with its desk in this process: a clock turned by hand, people, and the demo shop's north lathe."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from verifier import records
from verifier.desk import Desk, PinLimit
from verifier.machines import Machine, load_machine

SHOP = Path(__file__).parents[2] / "fixtures" / "shop"
PIN = "240613"
PEOPLE = {"pia": ("programmer",), "leo": ("lead",), "both": ("programmer", "lead"), "otto": ("operator",)}


@dataclass
class Counter:
    """Goes on by a step whenever it is asked: the clock in microseconds, or ids."""

    now: int = 1_800_000_000_000_000
    made: list[str] = field(default_factory=list)

    def __call__(self) -> int:
        self.now += 1000
        return self.now

    def new_id(self) -> str:
        self.made.append(f"id{len(self.made)}")
        return self.made[-1]


def profile(name: str = "north-lathe") -> Machine:
    return load_machine(SHOP / "machines" / f"{name}.toml")


def body(name: str, part: str = "drive-shaft") -> bytes:
    return (SHOP / "programs" / part / name).read_bytes()


def add(
    desk: Desk, name: str, *, group: str | None = None, machine: Machine | None = None, takeover: bool = False
) -> None:
    """Add a lathe, by default one more like the north lathe."""
    desk.add_machine(
        "ada", machine or profile(), name=name, folder=f"floor/{name}", group=group, extension=".NC", takeover=takeover
    )


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("desk") / "shop"
    counter = Counter()
    with records.init_shop(folder, "Works", ("ada", "Ada"), clock=counter, new_id=counter.new_id) as shop:
        desk = Desk(shop, counter.new_id)
        for login, roles in PEOPLE.items():
            records.add_person(shop, desk.person("ada").id, login, f"Person {login}", roles)
            desk.set_pin("ada", login, PIN)
        add(desk, "lathe")
    return folder


@pytest.fixture
def desk(made_once: Path, tmp_path: Path) -> Iterator[Desk]:
    folder = tmp_path / "shop"
    shutil.copytree(made_once, folder)
    counter = Counter(1_800_000_100_000_000)
    with records.open_shop(folder, counter) as shop:
        yield Desk(shop, counter.new_id, limit=PinLimit(tries=50))
