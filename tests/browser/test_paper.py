"""On paper a page says what it says on a screen, without what can only be clicked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from browser_hands import Person

from verifier.report import CAUTION

if TYPE_CHECKING:
    from conftest import Walk

_ON_PAPER = """() => ({
  text: document.body.innerText,
  clickable: [...document.querySelectorAll('button, input, textarea, select, nav a')].filter(e => e.offsetParent).length,
  cut: [...document.querySelectorAll('body *')].filter(e => e.offsetParent && e.scrollWidth > e.clientWidth + 1
        && getComputedStyle(e).overflowX !== 'visible' && !e.matches('.aside')).map(e => e.tagName + '.' + e.className),
  wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
})"""
A4_AT_96_DPI = {"width": 718, "height": 1047}
"""210 by 297 mm less 10 mm on every side, in CSS pixels (96 to the inch, CSS Values and Units 3, section 6.2)."""


def paper(person: Person) -> dict[str, Any]:
    """The page as it would be printed."""
    person.page.set_viewport_size(A4_AT_96_DPI)
    person.page.emulate_media(media="print")
    found: dict[str, Any] = person.page.evaluate(_ON_PAPER)
    assert person.page.pdf(format="A4")[:5] == b"%PDF-"
    person.page.emulate_media(media="screen")
    return found


def test_a_report_is_readable_on_paper(walked: Walk) -> None:
    assert walked.people
    leo = walked.people.leo.follow("Programs").follow("O2102").follow("Revision 2")
    found = paper(leo)
    for text in ("Changed behaviour", "F0.6", "Speed clamp removed", "Not checked", "Prove-out list", CAUTION):
        assert text in found["text"], text
    assert found["clickable"] == 0 and found["cut"] == [] and found["wide"] <= 0
    assert "Recall" not in found["text"].splitlines() and "Sign out" not in found["text"]


def test_the_page_at_the_machine_is_readable_on_paper(walked: Walk) -> None:
    assert walked.people
    otto = walked.people.otto.follow("Machines").follow("north-lathe").follow("O2102")
    found = paper(otto)
    for text in ("Revision 1", "Prove-out list", "Stop: O2102 revision 2 is recalled", CAUTION):
        assert text in found["text"], text
    assert found["clickable"] == 0 and found["cut"] == [] and found["wide"] <= 0
