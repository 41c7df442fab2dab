"""Screenshots of every state of the walk, to be looked at: `python -m tests.browser.shots FOLDER`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from browser_hands import DESK, PHONE, TABLET, Floor, Person, chromium, open_browser
from browser_walk import walk
from service_shop import running

SIZES = {"desk": DESK, "tablet": TABLET, "phone": PHONE}


def shots(into: Path) -> int:
    """Walk once, and keep a picture of each state at each size; gives how many states there were."""
    states: dict[str, int] = {}

    def take(person: Person, state: str) -> None:
        states[state] = states.get(state, len(states) + 1)
        for name, size in SIZES.items():
            person.page.set_viewport_size(size)
            person.page.screenshot(path=into / name / f"{states[state]:02}-{state}.png", full_page=True)
        person.page.set_viewport_size(DESK)

    with tempfile.TemporaryDirectory() as place, open_browser() as browser:
        folder = Path(place) / "shop"
        with running(folder, workers=1, settings="[floor]\nwatch_s = 5\n") as server:
            walk(Floor(browser, server.base, take, javascript=True), folder, server.log)
    return len(states)


def main() -> int:
    if len(sys.argv) != 2:
        print("usage: python -m tests.browser.shots FOLDER", file=sys.stderr)
        return 2
    if chromium() is None:
        print("there is no Chromium on this computer", file=sys.stderr)
        return 2
    into = Path(sys.argv[1])
    for name in SIZES:
        (into / name).mkdir(parents=True, exist_ok=True)
    print(f"{shots(into)} states in {into}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
