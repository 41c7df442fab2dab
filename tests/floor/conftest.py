"""The shop of the records' tests, with its machines' folders made."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "records"))

from shops import TestShop, copy, make, memory

from verifier import floor


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> TestShop:
    made = make(tmp_path_factory.mktemp("once") / "shop")
    floor.make_folders(made.shop)
    made.shop.close_thread()
    return made


@pytest.fixture
def place() -> Iterator[Path]:
    with memory() as folder:
        yield folder


@pytest.fixture
def t(made_once: TestShop, place: Path) -> Iterator[TestShop]:
    made = copy(made_once, place / "shop")
    yield made
    made.shop.close_thread()
