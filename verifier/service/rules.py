"""Pages on the rules, made from the rules themselves: what each looks for, why it matters, and its examples."""

from __future__ import annotations

from flask import Blueprint
from werkzeug.wrappers import Response

from verifier.findings import RETIRED, ChangeRule, Rule, Weight, all_rules, rule
from verifier.service.context import desk, needs, page
from verifier.source import ActRefused

rule_pages = Blueprint("rules", __name__, url_prefix="/rules")


@rule_pages.get("", endpoint="all_rules")
@needs()
def everything() -> Response:
    """Every rule, heaviest first as this shop weighs them."""
    policy = desk().policy()
    rows = [(Weight(policy.weight(found.id, found.weight)), found) for found in all_rules()]
    return page("rules.html", rows=sorted(rows, key=lambda row: (row[0].rank, row[1].id)))


@rule_pages.get("/<name>")
@needs()
def one(name: str) -> Response:
    """One rule; an id that is no longer in use says what replaced it."""
    found = rule(name)
    if found is None:
        hint = f"it was replaced by {RETIRED[name]}" if name in RETIRED else ""
        raise ActRefused("not_found", "there is no such rule", hint)
    weight = Weight(desk().policy().weight(found.id, found.weight))
    return page("rule.html", rule=found, weight=weight, first=_first_line(found), mirror=_mirror(found))


def _first_line(found: Rule) -> str:
    return (found.__doc__ or "").strip().split("\n", 1)[0]


def _mirror(found: Rule) -> str | None:
    """The rule that says the opposite, where that is another one."""
    return found.mirror if isinstance(found, ChangeRule) and found.mirror != found.id else None
