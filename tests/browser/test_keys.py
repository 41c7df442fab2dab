"""The keyboard alone is enough: what has the focus can be seen, Tab goes through a page in the order in which it is read."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from browser_hands import Person
from playwright.sync_api import expect

if TYPE_CHECKING:
    from conftest import Walk

_FOCUSED = """() => { const e = document.activeElement, s = getComputedStyle(e);
  return {tag: e.tagName, type: e.type || '', name: e.name || e.innerText || '', outline: parseFloat(s.outlineWidth) || 0,
          style: s.outlineStyle, top: Math.round(e.getBoundingClientRect().top + scrollY)}; }"""
_WANTED = """() => [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
  .filter(e => e.type !== 'hidden' && !e.hidden && !e.disabled && e.tabIndex >= 0).length"""


def tabbed(person: Person) -> list[dict[str, Any]]:
    """Everything that gets the focus, from the top of the page on."""
    person.page.reload()
    found: list[dict[str, Any]] = []
    for _ in range(person.page.evaluate(_WANTED)):
        person.page.keyboard.press("Tab")
        found.append(person.page.evaluate(_FOCUSED))
        if found[-1]["tag"] == "BODY":
            break
    return [one for one in found if one["tag"] != "BODY"]


def test_what_has_the_focus_is_seen_and_comes_in_the_order_of_reading(walked: Walk) -> None:
    assert walked.people
    leo = walked.people.leo
    leo.follow("To decide").follow("O2102 revision 3")
    found = tabbed(leo)
    assert [one["name"].strip() for one in found[:3]] == ["To the content", "Home", "Programs"]
    assert {"reason", "pin", "verdict", "machine", "days"} <= {one["name"] for one in found}
    assert [one for one in found if one["outline"] < 2 or one["style"] == "none"] == []
    tops = [one["top"] for one in found[1:]]
    assert all(after >= before - 60 for before, after in pairwise(tops)), tops


def test_somebody_signs_in_and_out_by_keyboard_alone(walked: Walk) -> None:
    assert walked.people
    keys = walked.floor.person("Lead L", "leo", walked.people.leo.password, walked.people.leo.pin)
    keys.open("/")
    keyboard = keys.page.keyboard
    expect(keys.page.get_by_label("Login")).to_be_focused()  # from the start, so that typing can begin
    keyboard.type(keys.login)
    keyboard.press("Tab")
    keyboard.type(keys.password)
    with keys.page.expect_navigation():
        keyboard.press("Enter")
    keys.sees("What waits")
    keyboard.press("Tab")
    assert keys.page.evaluate(_FOCUSED)["name"] == "To the content"
    with keys.page.expect_navigation():
        keyboard.press("Enter")
    assert keys.page.url.endswith("#content")
    focused = ""
    while focused != "Sign out":
        keyboard.press("Shift+Tab")
        focused = keys.page.evaluate(_FOCUSED)["name"].strip()
    with keys.page.expect_navigation():
        keyboard.press("Enter")
    keys.sees("Sign in")
    keys.page.context.close()
