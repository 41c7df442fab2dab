"""Small whole programs for the examples of rules: one complete, harmless sequence around the words that matter.

Beside them variants of the generic lathe and small setup sheets, for hazards that only show with those.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from verifier.findings.policy import Policy, default_policy
from verifier.machines import (
    FrozenMap,
    KeepOut,
    Machine,
    Setup,
    Stock,
    Tool,
    WorkHolding,
    code_name,
    content_digest,
    generic_lathe,
)

HEAD = """O1000 (SPACER)
N1 G00 G21 G40 G54 G97 G99
T0101
G50 S2000
G96 S180 M03
G00 X62. Z2. M08
"""

TAIL = """G00 X100. Z50.
M09
M05
G97
M30
"""


def turning(body: str, *, head: str = HEAD, tail: str = TAIL) -> str:
    """A complete program: a safe start (lines 1 to 6), the body (from line 7 on), and an end clear of the stock."""
    return head + body.strip("\n") + "\n" + tail


def lathe(*, choices: Mapping[str, str] | None = None, **parts: Any) -> Machine:
    """The generic lathe with other choices and other parts (fields of `Machine`)."""
    base = generic_lathe()
    if "code_set" in parts:
        names = {group: code_name(code, parts["code_set"]) for group, code in base.power_on.items()}
        parts = {"power_on": FrozenMap(names), **parts}
    changed = replace(base, choices=FrozenMap({**base.choices, **(choices or {})}), **parts)
    return replace(changed, digest=content_digest(changed))


def asks_for(*habits: str) -> Policy:
    """The built-in policy with habits that a shop keeps."""
    changed = replace(default_policy(), house=tuple(sorted(habits)))
    return replace(changed, digest=content_digest(changed))


def sheet(*tools: Tool, work_offsets: Mapping[str, Mapping[str, int]] | None = None) -> Setup:
    """A setup sheet with these tools and work offsets (machine positions in mm by code and axis) and nothing else."""
    offsets = FrozenMap((code, FrozenMap(_exact(axes.items()))) for code, axes in (work_offsets or {}).items())
    stations = FrozenMap((tool.station, tool) for tool in tools)
    setup = Setup("example", None, None, offsets, FrozenMap(), stations, (), "")
    return replace(setup, digest=content_digest(setup))


INSERT = Tool(
    1,
    "turning",
    nose_radius=Fraction(4, 5),
    orientation=3,
    shape="C",
    edge_length=Fraction(12),
    approach_angle=Fraction(95),
)
"""An outside turning tool whose outline is known."""


def on_bar(*tools: Tool, zones: tuple[KeepOut, ...] = ()) -> Setup:
    """A setup sheet with these tools, a bar of 60 by 100 mm faced at Z0, and zones to keep out of."""
    bar = Stock("bar", Fraction(60), None, Fraction(100), Fraction(0))
    held = replace(sheet(*tools), stock=bar, work_holding=WorkHolding("chuck", None, None, "", zones))
    return replace(held, digest=content_digest(held))


def _exact(values: Iterable[tuple[str, int]]) -> Iterable[tuple[str, Fraction]]:
    return ((name, Fraction(value)) for name, value in values)
