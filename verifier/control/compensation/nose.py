"""The nose in force: from what the program wrote for the offset, else from the setup sheet's tool at the station, else named as missing."""

from __future__ import annotations

from typing import NamedTuple

from verifier.control.state import Modal
from verifier.control.trace import TICKS_PER_MM
from verifier.machines import Setup, Tool

_WRITTEN = "nose"


class NoseData(NamedTuple):
    """Radius in ticks and direction number (None where nobody gives them), what is missing in words ("" for nothing), and who wrote them (origin)."""

    radius: int | None
    orientation: int | None
    missing: str
    origin: int


def write_nose(
    modal: Modal, offset: int, *, radius: int | None = None, orientation: int | None = None, origin: int
) -> None:
    """The program writes a nose radius (ticks), a direction number (0 to 9) or both for a tool offset: from here on before the setup sheet."""
    before = modal.cycle.get(_WRITTEN, {})
    old_radius, old_orientation = before.get(offset, (None, None))
    entry = (old_radius if radius is None else radius, old_orientation if orientation is None else orientation)
    modal.cycle[_WRITTEN] = {**before, offset: entry}
    modal.origins[f"{_WRITTEN} {offset}"] = origin


def nose_in_force(modal: Modal, setup: Setup | None) -> NoseData:
    """The nose that compensation would be made with now. A nose without a radius needs no direction."""
    tool, offset = modal.values.get("tool"), modal.values.get("offset")
    if not isinstance(tool, int):
        return NoseData(None, None, "no tool is known here, so no nose radius", -1)
    name = f"T{tool:02d}" + (f"{offset:02d}" if isinstance(offset, int) else "")
    radius, orientation = modal.cycle.get(_WRITTEN, {}).get(offset, (None, None))
    origin = modal.origins.get(f"{_WRITTEN} {offset}", -1)
    sheet = setup.tools.get(tool) if setup is not None else None
    if sheet is not None and radius is None and sheet.nose_radius is not None:
        radius = round(sheet.nose_radius * TICKS_PER_MM)
    if sheet is not None and orientation is None:
        orientation = sheet.orientation
    missing = ""
    if offset == 0:
        radius, missing = None, f"{name} calls offset 00; nose data come with an offset"
    elif radius is None:
        missing = _lacking("radius", name, tool, setup, sheet)
    elif orientation is None and radius:
        missing = _lacking("direction", name, tool, setup, sheet)
    return NoseData(radius, orientation, missing, origin)


def _lacking(what: str, name: str, tool: int, setup: Setup | None, sheet: Tool | None) -> str:
    if setup is None:
        return f"no setup sheet gives the nose {what} of {name}"
    if sheet is None:
        return f"no nose {what} for {name}: the setup sheet has no tool {tool}"
    return f"no nose {what} for {name} in the setup sheet"
