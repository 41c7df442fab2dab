"""Tool calls as they are executed: which tool, with which offset, at which block, and what the turret held before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from verifier.findings.view import ProgramView
from verifier.machines import Setup


@dataclass(frozen=True, slots=True)
class ToolCall:
    """One tool word that changes tool or offset: numbers (offset 0 cancels, None is not named), the block, the moves made before it."""

    tool: int
    offset: int | None
    before: int | None
    block: int
    at: int


def offset_is_of(setup: Setup | None, offset: int) -> tuple[int, ...]:
    """The stations whose tool this offset was measured on, as the setup sheet says: the one of its number, and those that list it."""
    tools = setup.tools.values() if setup is not None else ()
    listed = tuple(tool.station for tool in tools if offset in tool.offsets)
    return listed or tuple(tool.station for tool in tools if tool.station == offset)


def group_of(setup: Setup | None, *stations: object) -> str:
    """The group of the setup sheet that all these stations' tools belong to; empty if there is none."""
    tools = setup.tools if setup is not None else {}
    groups = {tools[s].group if isinstance(s, int) and s in tools else None for s in stations}
    return (groups.pop() or "") if len(groups) == 1 else ""


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
