"""Each limit of load and surface that an edit can newly cross has a difficult pair: told as new, with the amounts before and after."""

from __future__ import annotations

import pytest

from tests.report.pairs import pairs
from verifier.findings import Status

CROSSED = {
    "power of the machine": (
        "load-depth-doubled-beyond-the-spindle",
        "power-beyond-spindle",
        ("18.2 kW", "15.0 kW", "8.7 kW"),
    ),
    "limit of the tool": (
        "load-feed-beyond-the-blade",
        "feed-above-tool-maximum",
        ("0.2 mm/rev", "0.15 mm/rev", "before: 0.08 mm/rev"),
    ),
    "roughness of the drawing": ("load-feed-doubled-beyond-roughness", "roughness-above-drawing", ("before",)),
    "grip at speed": (
        "load-clamp-raised-beyond-the-grip",
        "grip-lost-at-speed",
        ("3500 rev/min", "before: 2500 rev/min"),
    ),
}
"""The pair, the rule, and words of its sentence."""
PAIRS = {pair.folder.name: pair for pair in pairs()}


@pytest.mark.parametrize("limit", CROSSED)
def test_a_limit_newly_crossed_is_found_with_both_amounts(limit: str) -> None:
    name, rule, words = CROSSED[limit]
    report = PAIRS[name].report()
    found = [f for f in report.findings if f.rule == rule]
    assert found and all(f.status is Status.NEW for f in found)
    assert any(all(word in f.title for word in words) for f in found), [f.title for f in found]
    assert report.sign_off.required


def test_the_jaws_lose_what_their_moment_at_speed_takes() -> None:
    """By hand: F = M w^2, M = 0.6 kg m, at 2500 rev/min 41.1 kN of 69.9 kN, at 3500 rev/min 80.6 kN, more than there is; 67 % are lost at 2669."""
    (finding,) = (
        f for f in PAIRS["load-clamp-raised-beyond-the-grip"].report().findings if f.rule == "grip-lost-at-speed"
    )
    assert "keep nothing of 69947 N" in finding.title and "2669 rev/min are permitted" in finding.title


def test_every_pair_about_load_is_in_the_table() -> None:
    assert {name for name in PAIRS if name.startswith("load-")} == {name for name, _, _ in CROSSED.values()}
