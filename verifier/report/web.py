"""The only place that loads web/ for reports: from web/ of a checkout, or as it was packed beside the package."""

from __future__ import annotations

import importlib.resources
from functools import cache
from importlib.resources.abc import Traversable
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined

from verifier.source import VerifierError, visible

_CHECKOUT = Path(__file__).resolve().parents[2] / "web"
_PACKED = "_web"


def web_file(name: str) -> str:
    """The text of a file below web/ ("templates/report.html"). Raises VerifierError where the installation has lost it."""
    packed: Traversable = importlib.resources.files("verifier") / _PACKED / name
    for place in (packed, _CHECKOUT / name):
        if place.is_file():
            return place.read_text(encoding="utf-8")
    raise VerifierError(f"the page {name} is missing from this installation", "install the package again")


@cache
def environment() -> Environment:
    """Templates that escape everything and know no silent gap: a name that is not there is an error."""
    found = Environment(
        loader=FunctionLoader(lambda name: web_file(f"templates/{name}")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters["visible"] = visible
    return found
