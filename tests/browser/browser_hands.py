"""A person at a real browser: sees what is on the page, types, clicks, hands in files; and everything the browser complained about.

Nothing here sends a request by itself or reads what a page hides: fields are found by their labels, buttons and links by their words.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest

try:
    from playwright.sync_api import (
        Browser,
        BrowserContext,
        ConsoleMessage,
        Locator,
        Page,
        Request,
        expect,
        sync_playwright,
    )
except ImportError:
    pytest.skip("playwright is not installed here: it drives the browser", allow_module_level=True)

NAMES = ("chromium", "chromium-browser")
DESK = {"width": 1280, "height": 900}
TABLET = {"width": 768, "height": 1024}
PHONE = {"width": 390, "height": 844}
TIMEOUT_MS = 20_000

Look = Callable[["Person", str], None]
"""Called at every state worth looking at, with its name."""


def chromium() -> str | None:
    """The browser of this computer, or None; `CHROMIUM` names another one."""
    named = os.environ.get("CHROMIUM")
    return next(filter(None, [named, *(shutil.which(name) for name in NAMES)]), None)


@contextmanager
def open_browser() -> Iterator[Browser]:
    """The browser without a window. As root it runs without its own sandbox, which it refuses there."""
    options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=options)
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Heard:
    """What the browsers of one run complained about, and where they asked."""

    console: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)
    broken: list[str] = field(default_factory=list)

    def listen(self, context: BrowserContext) -> None:
        """Keep every message of a console, every mistake of a script, the host of every request, every answer of 500 and above."""
        context.on("console", self._said)
        context.on("weberror", lambda mistake: self.console.append(str(mistake.error)))
        context.on("request", self._asked)
        context.on("response", lambda r: self.broken.append(f"{r.status} {r.url}") if r.status >= 500 else None)

    def _said(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not _refusal(message.text):
            self.console.append(f"{message.type}: {message.text}")

    def _asked(self, request: Request) -> None:
        self.hosts.add(urlsplit(request.url).netloc or request.url[:40])


def _refusal(text: str) -> bool:
    """A page that tells of a refusal has a status of 400 and above, and the browser notes it: that is as it should be."""
    return text.startswith("Failed to load resource: the server responded with a status of 4")


@dataclass
class Form:
    """One form, known by the words on its button."""

    person: Person
    root: Locator
    button: str

    def fill(self, label: str, text: str) -> Form:
        """Type into the field with this label."""
        self.root.get_by_label(label, exact=True).fill(text)
        return self

    def secrets(self) -> Form:
        """A new password and a new PIN, each typed twice."""
        self.fill("Password", self.person.password).fill("Password again", self.person.password)
        return self.fill("PIN", self.person.pin).fill("PIN again", self.person.pin)

    def choose(self, label: str, option: str) -> Form:
        self.root.get_by_label(label, exact=True).select_option(label=option)
        return self

    def tick(self, *labels: str) -> Form:
        for label in labels:
            self.root.get_by_label(label).check()
        return self

    def tick_all(self, group: str) -> Form:
        """Tick every box of a group, read or not."""
        for box in self.root.get_by_role("group", name=group).get_by_role("checkbox").all():
            box.check()
        return self

    def tick_first(self, group: str) -> Form:
        """Tick the first box of a group."""
        self.root.get_by_role("group", name=group).get_by_role("checkbox").first.check()
        return self

    def upload(self, label: str, name: str, body: bytes) -> Form:
        self.root.get_by_label(label, exact=True).set_input_files(
            {"name": name, "mimeType": "application/octet-stream", "buffer": body}
        )
        return self

    def sign(self, reason: str = "") -> Person:
        """Give the reason where one is asked, and the PIN, and press the button."""
        if reason:
            self.fill("Reason", reason)
        return self.fill("Your PIN", self.person.pin).press()

    def press(self) -> Person:
        with self.person.page.expect_navigation():
            self.root.get_by_role("button", name=self.button, exact=True).click()
        return self.person


@dataclass
class Person:
    """Somebody with a browser of their own."""

    page: Page
    base: str
    looked: Look
    name: str
    login: str
    password: str = ""
    pin: str = ""

    def open(self, path: str = "/") -> Person:
        """Type an address, as from a note or a sign on the wall."""
        self.page.goto(self.base + path)
        return self

    def follow(self, words: str) -> Person:
        with self.page.expect_navigation():
            self.page.get_by_role("link", name=words, exact=True).first.click()
        return self

    def form(self, button: str) -> Form:
        """The form with this button."""
        root = self.page.locator("form", has=self.page.get_by_role("button", name=button, exact=True))
        return Form(self, root, button)

    def press(self, button: str) -> Person:
        return self.form(button).press()

    def sees(self, *texts: str) -> Person:
        """Hold that each text stands on the page, where it can be seen."""
        for text in texts:
            expect(self.page.get_by_text(text).filter(visible=True).first).to_be_visible()
        return self

    def misses(self, *texts: str) -> Person:
        """Hold that none of the texts stands on the page."""
        for text in texts:
            expect(self.page.get_by_text(text)).to_have_count(0)
        return self

    def look(self, state: str) -> Person:
        """A state worth looking at."""
        self.looked(self, state)
        return self

    def sign_in(self) -> Person:
        return self.open("/").form("Sign in").fill("Login", self.login).fill("Password", self.password).press()

    def text_of(self, locator: str) -> str:
        return self.page.locator(locator).first.inner_text()


@dataclass
class Floor:
    """All the people of one run, each with a browser of their own that shares nothing with the others."""

    browser: Browser
    base: str
    look: Look
    javascript: bool
    heard: Heard = field(default_factory=Heard)
    size: dict[str, int] = field(default_factory=lambda: dict(DESK))

    def person(self, name: str, login: str, password: str, pin: str) -> Person:
        """Somebody new, at an empty page."""
        context = self.browser.new_context(java_script_enabled=self.javascript, viewport=self.size, locale="en-GB")
        context.set_default_timeout(TIMEOUT_MS)
        self.heard.listen(context)
        return Person(context.new_page(), self.base, self.look, name, login, password, pin)


def read(path: Path) -> bytes:
    return path.read_bytes()
