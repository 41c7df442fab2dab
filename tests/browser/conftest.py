"""A real browser, and walks through a shop that were looked at on the way; where there is no browser these tests skip and say so."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

if importlib.util.find_spec("playwright"):  # without it each module here skips by itself, and says why
    from browser_hands import DESK, PHONE, TABLET, Floor, Heard, Person, chromium, open_browser
    from browser_look import Seen, look_at
    from browser_walk import People, walk
    from service_shop import Server, running

    @dataclass
    class Walk:
        """A walk that was made: who walked, what they saw, what their browsers complained about."""

        floor: Floor
        server: Server
        people: People | None = None
        seen: list[Seen] = field(default_factory=list)

        @property
        def heard(self) -> Heard:
            return self.floor.heard

        def of(self, state: str) -> dict[str, Any]:
            return next(one.facts for one in self.seen if one.state == state)

    @pytest.fixture(scope="session")
    def browser() -> Iterator[Any]:
        if chromium() is None:
            pytest.skip("there is no Chromium on this computer: it is looked for as chromium, or where CHROMIUM says")
        with open_browser() as opened:
            yield opened

    @contextmanager
    def _walk(browser: Any, folder: Path, javascript: bool) -> Iterator[Walk]:
        """The whole walk, on an empty folder and a real server: once by workers, once by the threads of one process."""
        arguments, workers = ((), 2) if javascript else (("--threads-only",), 1)
        with running(folder, workers=workers, settings="[floor]\nwatch_s = 5\n", arguments=arguments) as server:
            made = Walk(Floor(browser, server.base, lambda who, state: None, javascript), server)

            def look(person: Person, state: str) -> None:
                made.seen.append(look_at(person, state, (DESK,) if javascript else (PHONE, TABLET, DESK)))

            made.floor.look = look
            made.people = walk(made.floor, folder, server.log)
            yield made

    @pytest.fixture(scope="session")
    def walks(browser: Any) -> Iterator[Callable[[bool], Walk]]:
        """Each walk is made once in a process, whichever modules ask for it; in memory where there is a folder in it."""
        memory = Path("/dev/shm")
        with TemporaryDirectory(dir=memory if memory.is_dir() else None) as place, ExitStack() as kept:
            yield cache(
                lambda javascript: kept.enter_context(_walk(browser, Path(mkdtemp(dir=place)) / "shop", javascript))
            )

    @pytest.fixture(scope="session", params=[False, True], ids=["without JavaScript", "with JavaScript"])
    def walked(request: pytest.FixtureRequest, walks: Callable[[bool], Walk]) -> Walk:
        return walks(bool(request.param))
