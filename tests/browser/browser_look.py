"""What can be measured on a page that somebody looks at: widths, labels, headings, contrast, and what it says."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from browser_hands import Person

_READ = """() => {
  const shown = e => { const r = e.getBoundingClientRect(), s = getComputedStyle(e);
    return r.width > 0 && r.height > 0 && s.visibility !== 'hidden'; };
  const named = e => (e.labels && [...e.labels].some(l => l.innerText.trim())) || e.getAttribute('aria-label');
  const name = e => (e.outerHTML.match(/^<[^>]*>/) || [''])[0].slice(0, 160);
  const solid = e => { while (e) { const c = getComputedStyle(e).backgroundColor;
    if (c !== 'rgba(0, 0, 0, 0)' && c !== 'transparent') return c; e = e.parentElement; } return 'rgb(255, 255, 255)'; };
  const fields = [...document.querySelectorAll('input, select, textarea')].filter(e => e.type !== 'hidden' && !e.hidden);
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), pairs = {};
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement;
    if (walker.currentNode.data.trim() && shown(e)) {
      const key = getComputedStyle(e).color + ' on ' + solid(e);
      pairs[key] = walker.currentNode.data.trim().slice(0, 40);
    }
  }
  for (const e of fields) pairs[getComputedStyle(e).color + ' on ' + solid(e)] = name(e);
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id);
  return {
    path: location.pathname, title: document.title, text: document.body.innerText, pairs,
    headings: [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map(h => [Number(h.tagName[1]), h.innerText.trim()]),
    bare: fields.filter(e => !named(e)).map(name),
    radios: fields.filter(e => e.type === 'radio' && !e.closest('fieldset')?.querySelector('legend')).map(name),
    twice: ids.filter((id, k) => ids.indexOf(id) !== k),
    inline: [...document.querySelectorAll('[style], script:not([src]), style')].map(name),
    lang: document.documentElement.lang, main: document.querySelectorAll('main').length,
    verdict: [...document.querySelectorAll('.verdict, .run')].length,
    caution: [...document.querySelectorAll('.caution')].filter(shown).map(e => e.innerText.trim()),
    refused: [...document.querySelectorAll('.refused')].filter(shown).map(e => e.innerText.trim()),
  };
}"""

_WIDER = """() => {
  const wide = document.documentElement.clientWidth, out = [];
  if (document.documentElement.scrollWidth > wide) out.push('the page: ' + document.documentElement.scrollWidth);
  for (const e of document.body.querySelectorAll('*')) {
    if (e.closest('.wide, pre, .lines, .skip, .aside, table.list thead')) continue;
    const r = e.getBoundingClientRect();
    if (r.width && r.right > wide + 1) out.push(e.tagName + '.' + e.className + ': ' + Math.round(r.right));
  }
  return out.slice(0, 5);
}"""
"""What reaches over the right edge, except inside blocks that are marked to scroll by themselves."""


@dataclass(frozen=True)
class Seen:
    """One state of one page: what was read from it, and what was too wide at which width."""

    state: str
    who: str
    facts: dict[str, Any]
    wider: dict[int, list[str]]

    @property
    def name(self) -> str:
        return f"{self.state} ({self.facts['path']}, {self.who})"


def look_at(person: Person, state: str, sizes: Iterable[dict[str, int]]) -> Seen:
    """Look at a page at each of these sizes; the last one stays."""
    wider = {}
    for size in sizes:
        person.page.set_viewport_size(size)
        wider[size["width"]] = person.page.evaluate(_WIDER)
    return Seen(state, person.name, person.page.evaluate(_READ), wider)


def contrast(pair: str) -> float:
    """The contrast of "rgb(...) on rgb(...)" as WCAG 2.2 defines it: (L1 + 0.05) / (L2 + 0.05) of the relative luminances.

    https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio
    """
    above, below = (_luminance(_rgb(colour)) for colour in pair.split(" on "))
    return (max(above, below) + 0.05) / (min(above, below) + 0.05)


def hexed(colour: str) -> str:
    """#rgb or #rrggbb as a browser tells it."""
    digits = colour.removeprefix("#")
    full = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    return "rgb({}, {}, {})".format(*(int(full[k : k + 2], 16) for k in (0, 2, 4)))


def _rgb(colour: str) -> tuple[float, ...]:
    found = re.fullmatch(r"rgba?\((\d+), (\d+), (\d+)(?:, 1)?\)", colour)
    assert found, f"not a solid colour: {colour}"
    return tuple(int(part) / 255 for part in found.groups())


def _luminance(rgb: tuple[float, ...]) -> float:
    """Relative luminance: https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in rgb)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
