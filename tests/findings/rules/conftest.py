"""The demo shop's jobs for tests of rules: a base program with words exchanged, judged on its own machine with its setup sheet."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

import verifier
from verifier.compare import side
from verifier.findings import Finding, judge_one, load_policy
from verifier.machines import load_machine, load_setup
from verifier.source import read_source
from verifier.syntax import parse

SHOP = Path(verifier.__file__).parent.parent / "fixtures" / "shop"
JOBS = {part["number"]: part for part in tomllib.loads((SHOP / "shop.toml").read_text())["parts"]}

Judge = Callable[..., tuple[Finding, ...]]


@pytest.fixture
def judged() -> Judge:
    """Calls as `judged(number, (before, after), ...)`: each exchange must find its text exactly once."""

    def judge(number: str, *exchanges: tuple[str, str]) -> tuple[Finding, ...]:
        job = JOBS[number]
        text = (SHOP / job["base"]).read_text()
        for before, after in exchanges:
            assert text.count(before) == 1, f"{before!r} stands {text.count(before)} times"
            text = text.replace(before, after)
        machine = load_machine(SHOP / job["machine"])
        setup = load_setup(SHOP / job["setup"], machine)
        return judge_one(
            side(parse(read_source(text.encode(), number)), machine, setup=setup), load_policy(SHOP / "policy.toml")
        )

    return judge
