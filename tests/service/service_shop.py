"""A shop with people who can sign in, browsers that behave like real ones, and the real server as a process."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import requests
from flask import Flask
from flask.testing import FlaskClient

from verifier import records
from verifier.desk import Desk, password_hash, pin_hash, server_key
from verifier.machines import generic_lathe
from verifier.records import Shop
from verifier.service import create_app, load_config
from verifier.service.config import Config

PASSWORD = "bench vice blue 7"
PIN = "402817"
PEOPLE = (
    ("ada", "Administrator A", ["administrator"]),
    ("pia", "Programmer P", ["programmer"]),
    ("leo", "Lead L", ["lead"]),
    ("lena", "Lead and Programmer N", ["lead", "programmer"]),
    ("otto", "Operator O", ["operator"]),
)
START = 1_700_000_000_000_000
_TOKEN = re.compile(r'name="form_token" value="([0-9a-f]{64})"')
ROOT = Path(__file__).parents[2]


@dataclass
class HandClock:
    """Goes on by a millisecond whenever it is read, and by hand."""

    now: int = START

    def __call__(self) -> int:
        self.now += 1000
        return self.now

    def add(self, seconds: float) -> None:
        self.now += int(seconds * 1_000_000)


@dataclass
class Ids:
    """Ids in order, so that nothing in a test depends on chance."""

    n: int = 0

    def __call__(self) -> str:
        self.n += 1
        return f"id{self.n:06}"


def make_shop(folder: Path) -> None:
    """The shop that every test here starts from: its people, and one machine."""
    clock, ids = HandClock(), Ids()
    with records.init_shop(folder, "Test shop", PEOPLE[0][:2], clock=clock, new_id=ids) as shop:
        desk, key = Desk(shop, ids), server_key(folder)
        by = records.find_person(shop, "ada").id
        for login, name, roles in PEOPLE[1:]:
            records.add_person(shop, by, login, name, roles)
        password, pin = password_hash(PASSWORD), pin_hash(key, PIN)
        for person in records.people(shop):
            records.set_secret_hash(shop, by, person.id, password=password, pin=pin)
        lathe = generic_lathe()
        desk.add_machine("ada", lathe, name="L1", folder="floor/L1", group=None, extension=".NC", takeover=False)


class Browser:
    """A browser on Flask's test client: keeps cookies, sends what browsers send, never follows by itself."""

    def __init__(self, app: Flask) -> None:
        self.client: FlaskClient = app.test_client()
        self.origin = "http://localhost"
        self.token = ""

    def get(self, url: str, **more: Any) -> Any:
        """Load a page and take up its forms' token."""
        answer = self.client.get(url, **more)
        found = _TOKEN.search(answer.text)
        self.token = found.group(1) if found else self.token
        return answer

    def post(self, url: str, data: Mapping[str, Any] | None = None, **more: Any) -> Any:
        """Send a form as a page of ours would."""
        if not self.token:
            self.get("/sign-in")
        headers = {"Origin": self.origin, "Sec-Fetch-Site": "same-origin", **more.pop("headers", {})}
        return self.client.post(url, data={"form_token": self.token, **(data or {})}, headers=headers, **more)

    def sign_in(self, login: str, password: str = PASSWORD) -> Any:
        """Sign in; the next post loads a new token by itself."""
        self.get("/sign-in")
        answer = self.post("/sign-in", {"login": login, "password": password})
        if answer.status_code == 303:
            self.get("/account")
        return answer

    def cookie(self, name: str = "verifier") -> str | None:
        found = self.client.get_cookie(name)
        return found.value if found else None


@dataclass
class Site:
    """One shop, its application and a clock to turn."""

    folder: Path
    config: Config
    app: Flask
    shop: Shop
    clock: HandClock = field(default_factory=HandClock)
    ids: Ids = field(default_factory=Ids)

    @property
    def desk(self) -> Desk:
        return Desk(self.shop, self.ids)

    def client(self, login: str | None = None) -> Browser:
        """A browser, signed in where a login is named."""
        browser = Browser(self.app)
        if login is not None:
            answer = browser.sign_in(login)
            assert answer.status_code == 303, answer.text
        return browser

    def person(self, login: str) -> records.PersonFacts:
        return records.find_person(self.shop, login)


def site_on(folder: Path, **more: Any) -> Site:
    """The application on a shop's folder, or on one that has none yet."""
    clock, ids = HandClock(START + 10_000_000), Ids(1000)
    config = load_config(more.pop("file", None), shop=folder)
    first_code = more.pop("first_code", None)
    app = create_app(config, clock=clock, new_id=ids, first_code=first_code, **more)
    return Site(folder, config, app, Shop(folder, clock), clock, ids)


def copied(made: Path, folder: Path) -> Path:
    shutil.copytree(made, folder)
    return folder


class RealBrowser:
    """A browser on a real connection."""

    def __init__(self, base: str) -> None:
        self.base, self.origin, self.token = base, base, ""
        self.session = requests.Session()
        self.session.trust_env = False

    def get(self, url: str, **more: Any) -> requests.Response:
        answer = self.session.get(self.base + url, allow_redirects=False, timeout=20, **more)
        found = _TOKEN.search(answer.text)
        self.token = found.group(1) if found else self.token
        return answer

    def post(self, url: str, data: Mapping[str, Any] | None = None, **more: Any) -> requests.Response:
        if not self.token:
            self.get("/sign-in")
        headers = {"Origin": self.origin, "Sec-Fetch-Site": "same-origin", **more.pop("headers", {})}
        sent = {"form_token": self.token, **(data or {})}
        url = self.base + url
        return self.session.post(url, data=sent, headers=headers, allow_redirects=False, timeout=20, **more)

    def sign_in(self, login: str, password: str = PASSWORD) -> requests.Response:
        self.get("/sign-in")
        answer = self.post("/sign-in", {"login": login, "password": password})
        if answer.status_code == 303:
            self.get("/account")
        return answer


@dataclass
class Server:
    """A running `verifier serve`; `log` is what it has written so far."""

    process: subprocess.Popen[bytes]
    base: str
    output: Path

    def browser(self, login: str | None = None) -> RealBrowser:
        browser = RealBrowser(self.base)
        if login is not None:
            assert browser.sign_in(login).status_code == 303
        return browser

    @property
    def log(self) -> str:
        return self.output.read_text(encoding="utf-8")

    def stop(self) -> int:
        """End it as a system would; gives its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(30)

    def kill(self) -> None:
        """End it as a power cut would: every process of its own group at once, none of them told."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(30)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running(folder: Path, *, workers: int = 2, settings: str = "", arguments: tuple[str, ...] = ()) -> Iterator[Server]:
    """The real server on loopback, ended when the test is over."""
    port, side = free_port(), folder.parent
    file, output = side / f"service-{port}.toml", side / f"service-{port}.log"
    file.write_text(f'shop = "{folder}"\nport = {port}\nworkers = {workers}\n{settings}', encoding="utf-8")
    command = [sys.executable, "-m", "verifier", "serve", "--config", str(file), *arguments]
    with output.open("wb") as log:
        process = subprocess.Popen(
            command,
            cwd=ROOT,
            stdout=log,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
            start_new_session=True,
        )
    server = Server(process, f"http://127.0.0.1:{port}", output)
    try:
        _wait(server)
        yield server
    finally:
        if server.process.poll() is None:
            server.process.send_signal(signal.SIGTERM)
            try:
                server.process.wait(20)
            except subprocess.TimeoutExpired:
                server.process.kill()
                server.process.wait(5)


def _wait(server: Server) -> None:
    ends = time.monotonic() + 30
    while time.monotonic() < ends:
        assert server.process.poll() is None, server.log
        try:
            if RealBrowser(server.base).get("/healthz").status_code == 200:
                return
        except requests.ConnectionError:
            time.sleep(0.1)
    raise AssertionError("the server did not come up: " + server.log)
