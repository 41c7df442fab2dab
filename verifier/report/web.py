"""The only place that loads web/, for reports and for the service: from web/ of a checkout, or as it was packed beside the package."""

from __future__ import annotations

import importlib.resources
from functools import cache, partial
from importlib.resources.abc import Traversable
from pathlib import Path

from jinja2 import Environment, FunctionLoader, StrictUndefined

from verifier.findings import all_rules
from verifier.report.accepted_text import counted, moment_of
from verifier.report.change_report import ALIKE_LEAST, SINCE_PROVEN
from verifier.report.feature_words import named
from verifier.report.marked import marked
from verifier.report.part_text import DOUBT, is_diameter
from verifier.source import VerifierError, visible

_CHECKOUT = Path(__file__).resolve().parents[2] / "web"
_PACKED = "_web"


def web_file(name: str) -> str:
    """The text of a file below web/ ("templates/report.html"). Raises VerifierError where the installation has lost it."""
    return web_bytes(name).decode("utf-8")


def web_bytes(name: str) -> bytes:
    """The bytes of a file below web/; `name` comes from code or from `web_names`, never from outside."""
    packed: Traversable = importlib.resources.files("verifier") / _PACKED / name
    for place in (packed, _CHECKOUT / name):
        if place.is_file():
            return place.read_bytes()
    raise VerifierError(f"the page {name} is missing from this installation", "install the package again")


@cache
def web_names(folder: str) -> frozenset[str]:
    """The names of the files in a folder below web/ ("static")."""
    packed: Traversable = importlib.resources.files("verifier") / _PACKED / folder
    places = [place for place in (packed, _CHECKOUT / folder) if place.is_dir()]
    return frozenset(entry.name for place in places[:1] for entry in place.iterdir() if entry.is_file())


def prepare(found: Environment) -> None:
    """Make an environment load from web/, escape everything and know no silent gap: a missing name is an error."""
    found.loader = FunctionLoader(lambda name: web_file(f"templates/{name}"))
    found.autoescape = True
    found.undefined = StrictUndefined
    found.trim_blocks = True
    found.lstrip_blocks = True
    found.filters.update(visible=visible, rule_words=rule_words)
    found.globals.update(feature_name=_feature_name, sized=_sized, part_doubt=DOUBT)
    found.globals.update(marked=marked, alike_least=ALIKE_LEAST, accepted_counted=counted, accepted_at=moment_of)


def _feature_name(kind: str, where: str) -> str:
    return named(kind, where, "")


def _sized(row: object, when: str) -> str:
    """A size of a feature, "before" or "after", a diameter with its sign; the row as a value or as JSON."""
    of = row.get if isinstance(row, dict) else partial(getattr, row)
    value = of(when, None)
    return "" if value is None else ("Ø" if is_diameter(of("kind", ""), of("dimension", "")) else "") + value


@cache
def _rule_titles() -> dict[str, str]:
    return {rule.id: rule.title for rule in all_rules()}


def rule_words(reason: str) -> str:
    """A reason for a sign-off in people's words: of a rule's id its title, of anything else itself."""
    if reason.startswith(SINCE_PROVEN):
        return SINCE_PROVEN + rule_words(reason.removeprefix(SINCE_PROVEN))
    title = _rule_titles().get(reason)
    return reason if title is None else title[:1].lower() + title[1:].removesuffix(".")


@cache
def environment() -> Environment:
    """The templates of reports."""
    found = Environment(autoescape=True)
    prepare(found)
    return found
