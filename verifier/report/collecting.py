"""The cyclic collector kept out of work that builds very many small values."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collection() -> Iterator[None]:
    """For executing, comparing and drawing: beside what they build all else lives on, and the collector would walk it again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
