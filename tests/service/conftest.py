"""A shop with people, and its application, for every test here."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from hands import Hands, real_hands
from service_shop import Site, copied, make_shop, site_on


@pytest.fixture(scope="session")
def made_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "shop"
    make_shop(folder)
    return folder


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder in memory where there is one: syncing costs nothing there."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        yield Path(folder)


@pytest.fixture
def folder(made_shop: Path, place: Path) -> Path:
    return copied(made_shop, place / "shop")


@pytest.fixture
def site(folder: Path) -> Iterator[Site]:
    made = site_on(folder)
    yield made
    made.shop.close_thread()


@pytest.fixture(scope="session")
def real(made_shop: Path) -> Iterator[Hands]:
    """People at one real server with two workers, shared by all that leave each other's programs alone."""
    memory = Path("/dev/shm")
    with (
        TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder,
        real_hands(made_shop, Path(folder) / "shop") as hands,
    ):
        yield hands
