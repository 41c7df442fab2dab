"""The rules as a whole by pages and API: random acts answered as the model answers them, and planted mistakes found by them."""

from __future__ import annotations

import shutil
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from page_driver import PageDriver
from page_shop import make_model_shop, with_kept_reports
from planted import CHEAP, planted
from service_shop import START, HandClock, Ids

from verifier import records
from verifier.records import Shop
from verifier.source import StoreError

SEEDS = 6
SEARCHED = 12
"""So many runs look for a planted mistake; most are found by the first."""

STEPS = 60
SETTINGS = "[throttle]\ntries = 100\naddress_tries = 1000\n"
SAME = ("verifier.desk.desk", "        self.shop = shop\n", "        self.shop = shop\n")
"""A place that is left as it is: the whole service is then imported anew, unchanged."""


@pytest.fixture(scope="module")
def model_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    from verifier.desk import secrets

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets, "_HASHER", CHEAP)
        folder = tmp_path_factory.mktemp("model") / "shop"
        make_model_shop(folder)
    yield folder


def run(service: ModuleType, made: Path, folder: Path, seed: int) -> PageDriver:
    """One run on a copy of the shop."""
    shutil.copytree(made, folder)
    file = folder.parent / f"{folder.name}.toml"
    file.write_text(SETTINGS, encoding="utf-8")
    clock = HandClock(START + 10_000_000)
    app = service.create_app(service.load_config(file, shop=folder), clock=clock, new_id=Ids(1000))
    shop = Shop(folder, clock)
    try:
        driver = PageDriver(app, shop, clock, seed)
        for _ in range(STEPS):
            driver.step()
        return driver
    finally:
        shop.close_thread()


def test_random_acts_by_pages_and_programs_are_answered_as_the_rules_say(model_shop: Path, place: Path) -> None:
    answers: Counter[str] = Counter()
    with planted(*SAME) as service:
        with_kept_reports(sys.modules["verifier.desk.reviewing"])
        for seed in range(SEEDS):
            answers.update(line.split(": ")[-1] for line in run(service, model_shop, place / str(seed), seed).told)
            assert records.verify_ledger(place / str(seed)).ok
    wanted = {"done", "wrong_role", "own_revision", "stale_report", "stale_base", "already_decided", "changed_since"}
    wanted |= {"not_cleared", "needs_readback", "stale_page", "sign_in_again"}
    assert wanted <= set(answers) and len(answers) >= 20, f"the runs never met {sorted(wanted - set(answers))}"
    assert answers["done"] > SEEDS * STEPS // 4


DESK, SERVICE = "verifier.desk.desk", "verifier.service."

#: What is wrong then; the module; the place; what stands there instead.
FAULTS: list[tuple[str, str, str, str]] = [
    ("any PIN is right", DESK, "if stored is None or not pin_proven(key, stored, pin):", "if stored is None:"),
    ("ticks are not passed on", DESK, "ticked=ticked,", "ticked=[one.name for one in records.wanted_ticks(self.shop, revision.id)],"),
    ("a prove-out that reaches no folder", DESK, "        self.publish()\n        return decided", "        return decided"),
    ("another revision than the one named", SERVICE + "api_views", "records.find_revision(shop(), program, target, n)",
     "records.find_revision(shop(), program, target, max(1, n - 1))"),
    ("a revision withdrawn in its author's name", SERVICE + "decide", "desk().withdraw(login, ", "desk().withdraw(\"ann\", "),
    ("a form without its token", SERVICE + "cookies", "if not wanted or not hmac.compare_digest(", "if not wanted and hmac.compare_digest("),
    ("a form sent twice acts twice", SERVICE + "once", "    if claim.kind == \"new\":", "    if True:"),
    ("keys of programs are not looked at", SERVICE + "api", "        if key is None:", "        if True:"),
    ("a read-back of something else than was sent", SERVICE + "floor", "sent = given_bytes(\"sent\", \"text\")",
     "sent = records.body(shop(), _revision(name, program).sha)"),
    ("small steps are not added up", "verifier.desk.reviewing", "    proven = ground.proven_sha\n", "    proven = None\n"),
    ("another verdict than was chosen", SERVICE + "api_views", "found, given.verdict, given.reason", "found, \"approve\", given.reason"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "module", "right", "wrong"), FAULTS, ids=[one[0] for one in FAULTS])
def test_a_planted_mistake_is_found(
    model_shop: Path, place: Path, what: str, module: str, right: str, wrong: str
) -> None:
    with planted(module, right, wrong) as service:
        with_kept_reports(sys.modules["verifier.desk.reviewing"])
        for seed in range(SEARCHED):
            try:
                run(service, model_shop, place / str(seed), seed)
            except (AssertionError, StoreError) as error:
                print(f"by seed {seed}: {str(error)[:200]}")
                return
    pytest.fail(f"{SEARCHED} runs did not notice: {what}")
