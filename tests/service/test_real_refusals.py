"""Every refusal against the real server with two workers; at the end the ledger is whole, the log clean, no answer a mistake."""

from __future__ import annotations

import sys

import pytest
import refusals_elsewhere  # noqa: F401  it puts its checks on the list
import refusals_repeated  # noqa: F401  so does this
from hands import Hands
from refusals import CHECKS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there the server is one process")


@pytest.mark.parametrize("name", CHECKS)
def test_the_real_server_refuses(real: Hands, name: str) -> None:
    CHECKS[name](real)


def test_all_of_it_left_a_whole_ledger_and_a_clean_log(real: Hands) -> None:
    assert len(real.seen) > 100
    real.settle()
