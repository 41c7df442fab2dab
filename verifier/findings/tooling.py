"""Tool calls as they are executed: which tool, with which offset, at which block, and what the turret held before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from verifier.findings.view import ProgramView


@dataclass(frozen=True, slots=True)
class ToolCall:
    """One tool word that changes tool or offset: numbers (offset 0 cancels, None is not named), the block, the moves made before it."""

    tool: int
    offset: int | None
    before: int | None
    block: int
    at: int


def tool_calls(program: ProgramView) -> Iterator[ToolCall]:
    """Every tool call in order; those whose number only the machine knows are left out."""
    trace = program.trace
    before: int | None = None
    for event in trace.events:
        if event.kind != "tool":
            continue
        state = trace.states[event.state]
        tool, offset = state.tool, state.offset
        if isinstance(tool, int) and not isinstance(offset, str):
            yield ToolCall(tool, offset, before, event.block, event.at)
        before = tool if isinstance(tool, int) else None
