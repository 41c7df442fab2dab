"""The first page shows each person what waits for them."""

from __future__ import annotations

from page_walk import BASE, SMALLER, act, decide, newest, released, submit
from service_shop import Site


def test_what_is_held_waits_for_leads_but_not_for_its_author(site: Site) -> None:
    submit(site.client("lena"), BASE)
    number = newest(site).id
    leo, lena = site.client("leo").get("/").text, site.client("lena").get("/").text
    assert f"/revisions/{number}" in leo and "Nothing waits for your decision" not in leo
    assert "Nothing waits for your decision" in lena and f"/revisions/{number}" in lena
    assert f"/revisions/{number}" not in site.client("pia").get("/").text


def test_a_release_waits_for_operators_until_it_is_confirmed(site: Site) -> None:
    released(site)
    otto = site.client("otto")
    assert "/at/L1/O42" in otto.get("/").text and "No release waits to be written" in otto.get("/").text
    assert "/at/L1/O42" not in site.client("pia").get("/").text


def test_a_release_whose_file_cannot_be_written_is_shown_as_not_yet_at_the_machine(site: Site) -> None:
    released(site)
    submit(site.client("pia"), SMALLER)
    decide(site.client("leo"), newest(site).id)
    floor = site.folder / "floor" / "L1" / "O42.NC"
    floor.write_text("edited by hand")
    assert act(site.client("pia"), f"/revisions/{newest(site).id}/release").status_code == 303
    assert floor.read_text() == "edited by hand"
    shown = site.client("pia").get("/").text
    assert "/at/L1/O42" in shown and "No release waits to be written" not in shown
    assert "not yet at the machine" in site.client("otto").get("/at/L1").text
    assert "Do not run it" in site.client("otto").get("/at/L1/O42").text
