"""Findings that no edit brought: the keys of the profile or the setup sheet behind each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from verifier.compare import Side, Tried
from verifier.findings.engine import hazards_of
from verifier.findings.model import Finding, Status
from verifier.findings.policy import Policy
from verifier.findings.registry import rule
from verifier.findings.rule import ProgramRule
from verifier.findings.view import ProgramView


def with_outside(findings: Iterable[Finding], tried: Tried, policy: Policy) -> tuple[Finding, ...]:
    """The findings, those that lie at the profile or the setup sheet with the indices of the keys behind them."""
    if not tried.keys:
        return tuple(findings)
    return tuple(replace(finding, outside=_keys(finding, tried, policy)) for finding in findings)


def _keys(finding: Finding, tried: Tried, policy: Policy) -> tuple[int, ...]:
    effects = [tried.comparison.effects[k] for k in finding.covers]
    keys = {key for effect in effects for key in tried.behind(effect)}
    if keys or finding.edits or finding.status is Status.STANDING:
        return tuple(sorted(keys))
    found = () if finding.status is Status.CHANGE else _of_hazard(finding, tried, policy)
    return found or tuple(range(len(tried.keys)))


def _of_hazard(finding: Finding, tried: Tried, policy: Policy) -> tuple[int, ...]:
    """The keys without which the hazard would not be at its block, as the rule itself sees it."""
    judge = rule(finding.rule)
    if not isinstance(judge, ProgramRule) or not finding.causes:
        return ()
    at = finding.causes[0]

    def stands(side: Side) -> bool:
        return any(
            hazard.block == at.block for _, hazard, _ in hazards_of(judge, ProgramView(side, at.side, policy), policy)
        )

    return tried.without(at.side, stands)
