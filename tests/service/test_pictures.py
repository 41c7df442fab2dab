"""The picture at the page of a revision: drawn from what its report compared, or words that say that it is no longer that."""

from __future__ import annotations

from xml.etree import ElementTree

from page_walk import SMALLER, newest, released, submit
from service_shop import Site

from verifier.findings import default_policy, policy_text


def test_the_page_shows_the_picture_of_its_report(site: Site) -> None:
    released(site)
    submit(site.client("pia"), SMALLER)
    found, leo = newest(site), site.client("leo")
    address = f"/revisions/{found.id}/picture/1.svg"
    page = leo.get(f"/revisions/{found.id}").text
    assert f'<img src="{address}"' in page and 'alt="Half section' in page
    answer = leo.get(address)
    assert answer.status_code == 200 and answer.mimetype == "image/svg+xml"
    root = ElementTree.fromstring(answer.text)
    assert any("47.6" in "".join(node.itertext()) for node in root)
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert f'<img class="small" src="{address}#card-1"' in page and '<view id="card-1"' in answer.text
    assert 'id="part">Finished part' in page


def test_a_first_submission_has_the_picture_of_its_path(site: Site) -> None:
    submit(site.client("pia"), SMALLER)
    answer = site.client("leo").get(f"/revisions/{newest(site).id}/picture/1.svg")
    assert "The path of the program" in answer.text


def test_a_picture_that_would_be_another_one_is_not_drawn(site: Site) -> None:
    released(site)
    submit(site.client("pia"), SMALLER)
    other = policy_text(default_policy()).replace("version = 1", "version = 2").encode()
    site.desk.set_policy("leo", other, "policy", "another one")
    answer = site.client("leo").get(f"/revisions/{newest(site).id}/picture/1.svg")
    assert answer.status_code == 200 and "cannot be drawn any more" in answer.text


def test_what_is_not_there_is_not_found_and_nobody_sees_it_without_signing_in(site: Site) -> None:
    submit(site.client("pia"), SMALLER)
    number = newest(site).id
    assert [site.client("leo").get(f"/revisions/{number}/picture/{k}.svg").status_code for k in (0, 2)] == [404, 404]
    assert site.client("leo").get("/revisions/999/picture/1.svg").status_code == 404
    assert site.app.test_client().get(f"/revisions/{number}/picture/1.svg").status_code in (302, 303)
