"""Where a trace changes its tool: before which move, from which tool to which."""

from __future__ import annotations

from dataclasses import dataclass

from verifier.control import Trace


@dataclass(frozen=True, slots=True)
class ToolChange:
    """A tool word that puts another tool to work: `at` moves have been made before it."""

    at: int
    before: int
    tool: int


def tool_changes(trace: Trace) -> tuple[ToolChange, ...]:
    """Every change from one known tool to another, in order. The first tool of a program is no change; neither is T0."""
    found, before = [], None
    for event in trace.events:
        if event.kind != "tool":
            continue
        tool = trace.states[event.state].tool
        if isinstance(tool, int) and tool and isinstance(before, int) and before and tool != before:
            found.append(ToolChange(event.at, before, tool))
        before = tool
    return tuple(found)
