"""Alive and ready: red with a reason for each thing that is wrong, and without a word too many."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from service_shop import Site, site_on

from verifier import records
from verifier.service import health


def ready(site: Site) -> tuple[int, list[str]]:
    answer = site.app.test_client().get("/readyz")
    return answer.status_code, answer.json["reasons"]


def test_alive_says_nothing_but_that(site: Site) -> None:
    answer = site.app.test_client().get("/healthz")
    assert answer.json == {"status": "ok"} and answer.headers["Cache-Control"] == "no-store"


def test_a_shop_in_order_is_ready(site: Site) -> None:
    assert ready(site) == (200, [])


def test_without_a_shop_it_is_not_ready_and_alive_all_the_same(place: Path) -> None:
    site = site_on(place / "none")
    assert ready(site) == (503, ["there is no shop yet"])
    assert site.app.test_client().get("/healthz").status_code == 200


def test_a_guard_that_is_gone_is_red(site: Site) -> None:
    assert ready(site)[0] == 200
    site.shop.database.run("DROP TRIGGER ledger_fixed")
    status, (reason,) = ready(site)
    assert status == 503 and "verify the ledger" in reason and str(site.folder) not in reason


def test_a_disk_that_cannot_be_written_is_red(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "ROOM", 1 << 62)
    status, (reason,) = ready(site)
    assert status == 503 and "disk" in reason


def test_looking_leaves_nothing_behind(site: Site) -> None:
    ready(site)
    before = sorted(path.name for path in site.folder.iterdir())
    ready(site)
    assert sorted(path.name for path in site.folder.iterdir()) == before
    assert not any("probe" in name for name in before)


def test_records_that_are_older_than_a_machines_manifest_are_red(site: Site) -> None:
    side = site.folder / "floor" / "L1.manifest"
    side.mkdir()
    point = records.checkpoint(site.shop)
    manifest = {
        "schema": "machine-manifest/1", "shop": point.shop, "machine": "L1", "serial": 1, "files": [],
        "ledger": {"size": point.size + 5, "head": "0" * 64},
    }  # fmt: skip
    (side / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    status, (reason,) = ready(site)
    assert status == 503 and "old copy" in reason and "L1" not in reason


def test_a_floor_that_nobody_looked_at_lately_is_red_where_a_publisher_should(folder: Path) -> None:
    site = site_on(folder, publish=lambda _: ())
    assert ready(site) == (503, ["the machines' folders have not been looked at lately"])
    assert records.claim_look(site.shop, 60)
    records.keep_look(site.shop, [])
    assert ready(site) == (200, [])
    site.clock.add(3 * 60 + 11)
    assert ready(site)[0] == 503


def test_a_stale_cookie_and_a_wrong_token_do_not_disturb_it(site: Site) -> None:
    site.shop.database.run("DROP TRIGGER ledger_fixed")
    client = site.app.test_client()
    client.set_cookie("verifier", "gone")
    assert client.get("/healthz", headers={"Authorization": "Bearer x"}).status_code == 200
    assert client.get("/readyz").status_code == 503
