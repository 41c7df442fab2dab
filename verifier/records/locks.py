"""A lock between processes on a file of its own; the kernel queues the waiting ones and frees it when a holder dies."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> None:
        # LK_LOCK gives up after ten tries of one second; a lock is waited for, so it is asked for again.
        while True:
            try:
                msvcrt.locking(descriptor, msvcrt.LK_LOCK, 1)
                return
            except OSError:
                time.sleep(0.05)

    def _give_back(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _take(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX)

    def _give_back(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


_FLAGS = os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOFOLLOW", 0)


@contextmanager
def file_lock(path: Path) -> Iterator[None]:
    """Hold the lock of `path` (created if absent, never a file that anything else opens). Raises OSError."""
    descriptor = os.open(path, _FLAGS, 0o600)
    try:
        _take(descriptor)
        try:
            yield
        finally:
            _give_back(descriptor)
    finally:
        os.close(descriptor)
