"""A made shop for every test here."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from shops import TestShop, make


@pytest.fixture
def t(tmp_path: Path) -> Iterator[TestShop]:
    made = make(tmp_path / "shop")
    yield made
    made.shop.close_thread()
