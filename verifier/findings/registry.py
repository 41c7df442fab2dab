"""Finds the rules: every class in the modules of `findings/rules`, in the order of their ids."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from verifier.findings.rule import ChangeRule, ProgramRule, Rule


@cache
def all_rules() -> tuple[Rule, ...]:
    """Every rule, once, ordered by id."""
    package = importlib.import_module("verifier.findings.rules")
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"{package.__name__}.{module.name}")
    found = [
        kind() for kind in _leaves(ProgramRule) + _leaves(ChangeRule) if kind.__module__.startswith(package.__name__)
    ]
    return tuple(sorted(found, key=lambda rule: rule.id))


def _leaves(base: type[Rule]) -> list[type[Rule]]:
    found = []
    for kind in base.__subclasses__():
        found += _leaves(kind) or [kind]
    return found


def rule(name: str) -> Rule | None:
    """The rule of that id."""
    return next((r for r in all_rules() if r.id == name), None)


def program_rules() -> tuple[ProgramRule, ...]:
    """The rules over one program."""
    return tuple(r for r in all_rules() if isinstance(r, ProgramRule))


def change_rules() -> tuple[ChangeRule, ...]:
    """The rules over a change, those that catch what is left last."""
    found = [r for r in all_rules() if isinstance(r, ChangeRule)]
    return tuple(sorted(found, key=lambda r: (r.catch_all, r.id)))


def revisions() -> dict[str, int]:
    """Every rule's id and revision."""
    return {r.id: r.revision for r in all_rules()}
