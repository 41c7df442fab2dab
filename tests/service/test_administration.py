"""Administrators' pages: people, machines, screens at machines, and the policy that a lead puts in force."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pytest
from service_shop import PASSWORD, PIN, Site

from verifier import records
from verifier.findings import default_policy, policy_text
from verifier.machines import generic_lathe, machine_text

PROFILE = machine_text(generic_lathe()).encode()


def test_a_person_is_added_and_comes_in_by_the_code_shown(site: Site) -> None:
    admin = site.client("ada")
    given = {"login": "New.One", "full_name": "New One", "role": ["lead", "operator"], "pin": PIN}
    answer = admin.post("/people", given)
    code = re.search(r'class="keep">([0-9A-Z-]{19})<', answer.text)
    assert code and site.person("new.one").roles == ("lead", "operator")
    assert code.group(1) not in admin.get("/people").text
    secrets = {
        "password": "several plain words",
        "password_again": "several plain words",
        "pin": "771204",
        "pin_again": "771204",
    }
    assert site.client().post("/welcome", {"login": "new.one", "code": code.group(1), **secrets}).status_code == 303
    assert site.client().sign_in("new.one", "several plain words").status_code == 303


@pytest.mark.parametrize(
    ("given", "status"),
    [
        ({"pin": "000001"}, 403),
        ({"pin": ""}, 403),
        ({"login": "Bad Login"}, 422),
        ({"login": "pia"}, 409),
        ({"role": []}, 422),
        ({"role": ["king"]}, 422),
        ({"full_name": " "}, 422),
        ({"full_name": "a\x1bb"}, 422),
    ],
)
def test_a_person_who_cannot_be_added_is_told_and_nothing_is_lost(
    site: Site, given: dict[str, Any], status: int
) -> None:
    admin = site.client("ada")
    answer = admin.post("/people", {"login": "new", "full_name": "Typed Before", "role": ["lead"], "pin": PIN} | given)
    assert answer.status_code == status and len(records.people(site.shop)) == 5
    assert 'role="alert"' in answer.text
    if "full_name" not in given:
        assert "Typed Before" in answer.text


def test_roles_and_leaving_need_a_reason_and_the_pin_and_stand_in_the_ledger(site: Site) -> None:
    admin, otto = site.client("ada"), site.person("otto").id
    assert (
        admin.post(f"/people/{otto}", {"what": "roles", "role": ["lead"], "reason": "", "pin": PIN}).status_code == 422
    )
    done = admin.post(f"/people/{otto}", {"what": "roles", "role": ["lead"], "reason": "trained", "pin": PIN})
    assert done.status_code == 303 and site.person("otto").roles == ("lead",)
    assert admin.post(f"/people/{otto}", {"what": "leave", "reason": "moved", "pin": PIN}).status_code == 303
    assert not site.person("otto").active
    assert admin.post(f"/people/{otto}", {"what": "back", "reason": "returned", "pin": PIN}).status_code == 303
    acts = [(e.act, e.person) for e in records.whole_history(site.shop)][-3:]
    assert acts == [("person changed", "Administrator A")] * 3 or acts == [("person changed", "ada")] * 3


def test_the_last_administrator_stays(site: Site) -> None:
    ada = site.person("ada").id
    answer = site.client("ada").post(f"/people/{ada}", {"what": "leave", "reason": "x", "pin": PIN})
    assert answer.status_code == 409 and site.person("ada").active


@pytest.mark.parametrize("path", ["/people", "/people/1", "/machine-files", "/machine-files/L1"])
@pytest.mark.parametrize("login", ["pia", "leo", "otto"])
def test_these_pages_are_for_administrators(site: Site, path: str, login: str) -> None:
    browser = site.client(login)
    assert browser.get(path).status_code == 403
    assert browser.post(path, {"pin": PIN, "what": "code"}).status_code == 403
    assert path.split("/")[1] not in browser.get("/account").text


def _machine(**changes: Any) -> dict[str, Any]:
    given = {"name": "L2", "folder": "floor/L2", "group": "", "extension": ".NC", "takeover": "no", "pin": PIN}
    return {**given, "profile": (BytesIO(PROFILE), "lathe.toml"), **changes}


def test_a_machine_is_added_with_its_profile_and_folder(site: Site) -> None:
    admin = site.client("ada")
    assert admin.post("/machine-files", _machine()).status_code == 303
    assert records.machine(site.shop, "L2").folder == "floor/L2" and (site.folder / "floor" / "L2").is_dir()
    assert "code_set" in admin.get("/machine-files/L2").text


def test_every_mistake_of_a_profile_is_told_at_once(site: Site) -> None:
    wrong = b'kind = "lathe"\ncode_set = "Q"\nno_such_key = 1\nname = "x"\n'
    answer = site.client("ada").post("/machine-files", _machine(profile=(BytesIO(wrong), "../<b>x.toml")))
    assert answer.status_code == 422
    assert "code_set" in answer.text and "no_such_key" in answer.text
    assert "&lt;b&gt;x.toml" in answer.text and "<b>x" not in answer.text and "../" not in answer.text


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({"profile": (BytesIO(b""), "x.toml")}, 422),
        ({"profile": ""}, 422),
        ({"name": "CON"}, 422),
        ({"name": "L1"}, 409),
        ({"folder": "../outside"}, 422),
        ({"folder": "floor/L1"}, 422),
        ({"pin": "111222"}, 403),
    ],
)
def test_a_machine_that_cannot_be_added_is_told(site: Site, changes: dict[str, Any], status: int) -> None:
    answer = site.client("ada").post("/machine-files", _machine(**changes))
    assert answer.status_code == status and len(records.machines(site.shop)) == 1


def test_profile_and_folder_are_changed_with_a_reason(site: Site) -> None:
    admin = site.client("ada")
    before = records.machine(site.shop, "L1").profile_sha
    other = PROFILE.replace(b"maximum_rpm", b"maximum_rpm")
    given = {"what": "profile", "reason": "measured", "pin": PIN, "profile": (BytesIO(other), "x.toml")}
    assert admin.post("/machine-files/L1", given).status_code == 303
    moved = admin.post("/machine-files/L1", {"what": "folder", "folder": "floor/NEW", "reason": "new disk", "pin": PIN})
    assert moved.status_code == 303 and (site.folder / "floor" / "NEW").is_dir()
    assert records.machine(site.shop, "L1").profile_sha == before
    assert admin.get("/machine-files/NOPE").status_code == 404


def test_a_machines_screen_opens_for_its_operators_by_pin_and_closes_by_itself(site: Site) -> None:
    browser = site.client("ada")
    assert browser.post("/machine-files/L1", {"what": "screen", "screen": "left one", "pin": PIN}).status_code == 303
    browser.post("/sign-out")
    assert "L1" in browser.get("/here").text
    assert browser.post("/here", {"login": "pia", "pin": PIN}).status_code == 403
    assert browser.post("/here", {"login": "otto", "pin": "999000"}).status_code == 403
    assert browser.post("/here", {"login": "otto", "pin": PIN}).status_code == 303
    page = browser.get("/")
    assert page.status_code == 200 and "screen at L1" in page.text
    site.clock.add(121)
    assert browser.get("/").status_code == 303


def test_at_a_machines_screen_people_are_operators_and_nothing_else(site: Site) -> None:
    ada, leo = site.person("ada").id, site.person("leo").id
    records.change_person(site.shop, ada, leo, roles=["lead", "operator", "administrator"], reason="all of it")
    browser = site.client("ada")
    browser.post("/machine-files/L1", {"what": "screen", "screen": "left one", "pin": PIN})
    browser.post("/sign-out")
    browser.get("/here")
    assert browser.post("/here", {"login": "leo", "pin": PIN}).status_code == 303
    browser.get("/")
    assert browser.get("/policy").status_code == 403 and browser.get("/people").status_code == 403
    new = {"new_password": "quite another one", "new_password_again": "quite another one", "password": PASSWORD}
    assert browser.post("/account", new).status_code == 403


def test_a_screen_that_was_taken_away_opens_no_more(site: Site) -> None:
    browser, admin = site.client("ada"), site.client("ada")
    browser.post("/machine-files/L1", {"what": "screen", "screen": "left one", "pin": PIN})
    browser.post("/sign-out")
    browser.get("/here")
    browser.post("/here", {"login": "otto", "pin": PIN})
    number = records.terminals(site.shop)[0].id
    assert admin.post("/machine-files/L1", {"what": "end", "screen": str(number), "pin": PIN}).status_code == 303
    assert browser.get("/").status_code == 303
    assert browser.get("/here").status_code == 404


def test_a_lead_puts_a_policy_in_force(site: Site) -> None:
    text = policy_text(default_policy()).replace('tolerance_class = "m"', 'tolerance_class = "f"')
    assert text != policy_text(default_policy())
    lead = site.client("leo")
    given = {"policy": (BytesIO(text.encode()), "p.toml"), "reason": "finer work", "pin": PIN}
    assert lead.post("/policy", given).status_code == 303
    assert "tolerance_class = &#34;f&#34;" in lead.get("/policy").text
    assert site.desk.policy().tolerance_class == "f"


def test_a_policy_with_a_rule_that_does_not_exist_is_refused(site: Site) -> None:
    text = policy_text(default_policy()).replace("[weights]", '[weights]\nno-such-rule = "minor"')
    if "no-such-rule" not in text:
        text += '\n[weights]\nno-such-rule = "minor"\n'
    given = {"policy": (BytesIO(text.encode()), "p.toml"), "reason": "x", "pin": PIN}
    answer = site.client("leo").post("/policy", given)
    assert answer.status_code == 422 and "no-such-rule" in answer.text
    assert records.policy_bytes(site.shop) is None


def test_an_administrator_sees_the_policy_and_cannot_set_it(site: Site) -> None:
    admin = site.client("ada")
    assert admin.get("/policy").status_code == 200
    given = {"policy": (BytesIO(b"name = 'x'"), "p.toml"), "reason": "x", "pin": PIN}
    assert admin.post("/policy", given).status_code == 403


def test_what_people_typed_is_shown_as_text(site: Site) -> None:
    records.add_person(site.shop, site.person("ada").id, "x", "<script>alert(1)</script>", ["lead"])
    page = site.client("ada").get("/people").text
    assert "<script>" not in page and "&lt;script&gt;" in page


def test_a_machine_is_drawn_on_its_page(site: Site) -> None:
    admin = site.client("ada")
    assert '<img src="/machine-files/L1/picture.svg"' in admin.get("/machine-files/L1").text
    answer = admin.get("/machine-files/L1/picture.svg")
    assert answer.status_code == 200 and answer.mimetype == "image/svg+xml" and 'role="img"' in answer.text
    assert admin.get("/machine-files/L99/picture.svg").status_code == 404
    assert site.client("otto").get("/machine-files/L1/picture.svg").status_code == 403
