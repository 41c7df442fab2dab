"""The shop of the records' tests, with its machines' folders made."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))

from shops import TestShop, make

from verifier import floor


@pytest.fixture
def t(tmp_path: Path) -> Iterator[TestShop]:
    made = make(tmp_path / "shop")
    floor.make_folders(made.shop)
    yield made
    made.shop.close_thread()
