"""Several people at one shop by its pages, over real connections or inside this process: the same steps for both.

Every answer is noted, so that at the end one can say that none was a mistake of the service.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from forms import Form, forms_of
from page_walk import BASE
from service_shop import PASSWORD, PIN, Browser, HandClock, RealBrowser, Server, Site, copied, running, site_on

from verifier import records
from verifier.desk import Desk, password_hash, pin_hash, server_key
from verifier.machines import generic_lathe
from verifier.records import Clock, RevisionFacts, Shop

SETTINGS = "[throttle]\naddress_tries = 1000\n[floor]\npublish_s = 1\nwatch_s = 5\n"
"""All of them come from one address here; what one person may get wrong is as in a shop."""

Files = Mapping[str, tuple[str, bytes]]


def now_us() -> int:
    """The time by this computer."""
    return time.time_ns() // 1000


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    text: str
    headers: dict[str, str]
    data: bytes

    @property
    def location(self) -> str:
        """Where it sends the browser, without the host; empty where it does not."""
        found = urlsplit(self.headers.get("location", ""))
        return found.path + (f"?{found.query}" if found.query else "")

    @property
    def forms(self) -> list[Form]:
        """The forms of this page that change something."""
        return [found for found in forms_of(self.text) if found.method == "post"]

    def form(self, act: str, field: str = "form_token") -> Form:
        """The form on this page that is sent to an act and has such a field."""
        fit = [f for f in forms_of(self.text) if f.action.rpartition("/")[2] == act and field in f.fields]
        assert fit, f"the page has no form {act!r} with {field}: {self.status} {self.refused}"
        return fit[0]

    @property
    def refused(self) -> str:
        """The words of the refusal on the page, or an empty word."""
        found = re.search(r'role="alert">\s*<p class="what">(.*?)</p>', self.text, re.DOTALL)
        return found.group(1) if found else ""


class Screen:
    """One browser of one person; real or in this process."""

    def __init__(self, browser: Browser | RealBrowser, seen: list[tuple[int, str]]) -> None:
        self.browser, self.seen = browser, seen

    def get(self, url: str, headers: Mapping[str, str] | None = None) -> Answer:
        """Load a page."""
        return self._noted("GET " + url, self.browser.get(url, headers=dict(headers or {})))

    def post(
        self, url: str, data: Mapping[str, Any], files: Files | None = None, headers: Mapping[str, str] | None = None
    ) -> Answer:
        """Send a form; its token is the page's last one unless `data` brings another."""
        kept = dict(headers or {})
        if isinstance(self.browser, RealBrowser):
            more = {"files": files} if files else {}
            return self._noted("POST " + url, self.browser.post(url, data, headers=kept, **more))
        sent = {**data, **{name: (BytesIO(content), label) for name, (label, content) in (files or {}).items()}}
        return self._noted("POST " + url, self.browser.post(url, sent, headers=kept))

    def send_json(self, url: str, body: Any, headers: Mapping[str, str]) -> Answer:
        """Send what a program would: JSON, with headers of its own and no cookie's power."""
        if isinstance(self.browser, RealBrowser):
            answer = self.browser.session.post(self.browser.base + url, json=body, headers=dict(headers), timeout=20)
            return self._noted("POST " + url, answer)
        return self._noted("POST " + url, self.browser.client.post(url, json=body, headers=dict(headers)))

    def form(self, url: str, act: str) -> Form:
        """The form on a page whose address ends with `act` (empty: the page's own)."""
        page = self.get(url)
        fit = [f for f in forms_of(page.text) if f.method == "post" and (f.action or url).rpartition("/")[2] == act]
        assert fit, f"{url} has no form {act!r}: {page.status} {page.refused}"
        fit[0].action = fit[0].action or url
        return fit[0]

    def send(self, form: Form, files: Files | None = None, **given: Any) -> Answer:
        """Fill in a form, PIN included where it asks for one, and send it."""
        fields: dict[str, Any] = dict(form.fields)
        if "pin" in fields:
            fields["pin"] = PIN
        if "reason" in fields:
            fields["reason"] = "it has to be"
        return self.post(form.action, {**fields, **given}, files)

    def act(self, url: str, act: str, files: Files | None = None, **given: Any) -> Answer:
        """Load a page, fill in one of its forms, and send it."""
        return self.send(self.form(url, act), files, **given)

    def cookie(self) -> str:
        """The session's name as this browser has it."""
        if isinstance(self.browser, RealBrowser):
            return self.browser.session.cookies.get("verifier") or ""
        return self.browser.cookie() or ""

    def set_cookie(self, name: str) -> None:
        """Put another session's name into this browser."""
        if isinstance(self.browser, RealBrowser):
            self.browser.session.cookies.set("verifier", name, domain="127.0.0.1", path="/")
        else:
            self.browser.client.set_cookie("verifier", name, domain="localhost")

    def _noted(self, what: str, answer: Any) -> Answer:
        self.seen.append((answer.status_code, what))
        headers = {name.lower(): value for name, value in answer.headers.items()}
        data = answer.content if isinstance(self.browser, RealBrowser) else answer.data
        return Answer(answer.status_code, data.decode("utf-8", "replace"), headers, data)


@dataclass
class Hands:
    """A shop with its people at work. `real` is None where everything happens inside this process."""

    folder: Path
    shop: Shop
    real: Server | None = None
    site: Site | None = None
    seen: list[tuple[int, str]] = field(default_factory=list)
    screens: list[Screen] = field(default_factory=list)
    working: dict[str, Screen] = field(default_factory=dict)
    secrets: set[str] = field(default_factory=lambda: {PASSWORD, PIN})
    made: int = 0
    password: str = PASSWORD

    # -- people

    def screen(self, login: str | None = None, password: str = PASSWORD) -> Screen:
        """A browser, signed in where a login is named."""
        if self.real is not None:
            browser: Browser | RealBrowser = RealBrowser(self.real.base)
        else:
            assert self.site is not None
            browser = Browser(self.site.app)
        found = Screen(browser, self.seen)
        self.screens.append(found)
        if login is not None:
            answer = self.sign_in(found, login, password)
            assert answer.status == 303, answer.refused
        return found

    def at_work(self, login: str) -> Screen:
        """A screen where somebody stays signed in, for steps that only prepare something."""
        if login not in self.working:
            self.working[login] = self.screen(login)
        return self.working[login]

    def sign_in(self, screen: Screen, login: str, password: str = PASSWORD) -> Answer:
        """Sign somebody in at a screen."""
        answer = screen.act("/sign-in", "sign-in", login=login, password=password)
        if answer.status == 303:
            screen.get("/account")
            self.secrets.add(screen.cookie())
        return answer

    def person(self, *roles: str) -> str:
        """Somebody new with these roles, ready to sign in; gives the login."""
        self.made += 1
        login = f"p{self.made:03}"
        by = records.find_person(self.shop, "ada").id
        made = records.add_person(self.shop, by, login, f"Person {self.made}", list(roles))
        password, pin = _hashes(self.folder)
        records.set_secret_hash(self.shop, by, made.id, password=password, pin=pin)
        return login

    def sign_pin(self, login: str) -> None:
        """A right PIN, so that a person's count of wrong ones starts afresh."""
        records.give_back(self.shop, records.Tries(f"pin of {records.find_person(self.shop, login).id}", 5, 900))

    # -- programs

    def name(self) -> str:
        """A program name that nobody used yet."""
        self.made += 1
        return f"O{3000 + self.made}"

    def text(self, program: str, old: str = "X48.", new: str = "X48.") -> bytes:
        """A program under that name, changed in one place."""
        assert old in BASE
        return BASE.replace("O0042", program).replace(old, new).encode()

    def submit(self, screen: Screen, program: str, body: bytes, target: str = "L1", **more: Any) -> Answer:
        """Hand in a file by the page."""
        file = {"program_file": (f"{program}.nc", body)}
        return screen.act("/submit", "submit", file, program=program, target=target, **more)

    def held(self, body: bytes | None = None, program: str = "", by: str = "pia", target: str = "L1") -> RevisionFacts:
        """A submitted revision."""
        name = program or self.name()
        answer = self.submit(self.at_work(by), name, body or self.text(name), target)
        assert answer.status == 303, answer.refused
        return self.newest(name, target)

    def decide(self, screen: Screen, revision: RevisionFacts, verdict: str = "approve", **more: Any) -> Answer:
        """Read the page of a revision, tick all there is to be ticked, and decide."""
        form = screen.form(f"/revisions/{revision.id}", "decide")
        form.tick_all("seen_critical")
        return screen.send(form, verdict=verdict, **more)

    def cleared(self, body: bytes | None = None, program: str = "", target: str = "L1") -> RevisionFacts:
        """A submitted revision that a lead cleared where one had to."""
        found = self.held(body, program, target=target)
        if found.state == "held":
            answer = self.decide(self.at_work("leo"), found)
            assert answer.status == 303, answer.refused
        return records.revision(self.shop, found.id)

    def released(self, body: bytes | None = None, program: str = "", target: str = "L1") -> RevisionFacts:
        """A revision whose file lies in its machine's folder."""
        found = self.cleared(body, program, target)
        answer = self.at_work("pia").act(f"/revisions/{found.id}", "release")
        assert answer.status == 303, answer.refused
        self.until(lambda: all(r.at_machine for r in self.at(target) if r.revision == found.id))
        return records.revision(self.shop, found.id)

    def readback(self, screen: Screen, machine: str, program: str, body: bytes) -> Answer:
        """Send back what a control holds, by the machine's page."""
        answer = screen.act(f"/at/{machine}/{program}", "readback", {"sent": ("sent.nc", body)})
        return screen.get(answer.location) if answer.status == 303 else answer

    # -- what is so

    def newest(self, program: str, target: str = "L1") -> RevisionFacts:
        return records.revisions(self.shop, program, target)[-1]

    def state(self, revision: RevisionFacts) -> str:
        return records.revision(self.shop, revision.id).state

    def at(self, target: str) -> list[records.ReleaseFacts]:
        names = [m.name for m in records.machines(self.shop) if target in (m.name, m.group)]
        return [release for name in names for release in records.at_machine(self.shop, name)]

    def acts(self, program: str, target: str = "L1") -> list[str]:
        """Every act on a program, as the ledger has it."""
        return [entry.act for entry in records.history(self.shop, program, target)]

    def size(self) -> int:
        """How many entries the ledger has."""
        return records.checkpoint(self.shop).size

    def file(self, program: str, machine: str = "L1") -> Path:
        return self.folder / "floor" / machine / f"{program}.NC"

    def until(self, so: Callable[[], bool], seconds: float = 20) -> None:
        """Wait until something is so; the publisher works beside the requests."""
        ends = time.monotonic() + seconds
        while not so():
            assert time.monotonic() < ends, "it never came about"
            time.sleep(0.05)

    def close(self) -> None:
        """Close every connection, which the server would else wait for."""
        self.shop.close_thread()
        for screen in self.screens:
            if isinstance(screen.browser, RealBrowser):
                screen.browser.session.close()

    def settle(self) -> None:
        """What has to hold after all of it: no answer was a mistake, the ledger is whole, the log is clean."""
        assert [one for one in self.seen if one[0] >= 500 and one[1] != "GET /readyz"] == []
        assert records.verify_ledger(self.folder).faults == ()
        if self.real is None:
            return
        text = self.real.log
        assert "Traceback" not in text
        lines = [line for line in text.splitlines() if line.startswith("{")]
        events = [json.loads(line) for line in lines]
        assert [one for one in events if one["event"] == "mistake" or one["level"] == "error"] == []
        assert [secret for secret in sorted(self.secrets) if len(secret) >= 4 and secret in text] == []


_HASHES: dict[Path, tuple[str, str]] = {}


def _hashes(folder: Path) -> tuple[str, str]:
    """The hashes of the password and PIN that everybody here has."""
    if folder not in _HASHES:
        _HASHES[folder] = password_hash(PASSWORD), pin_hash(server_key(folder), PIN)
    return _HASHES[folder]


def furnish(folder: Path, clock: Clock) -> None:
    """Two more machines that are a group, for what concerns another machine."""
    with records.open_shop(folder, clock) as shop:
        desk = Desk(shop, lambda: "none")
        for name in ("L2", "L3"):
            desk.add_machine(
                "ada", generic_lathe(), name=name, folder=f"floor/{name}", group="PAIR", extension=".NC", takeover=False
            )


@contextmanager
def real_hands(made: Path, folder: Path, settings: str = SETTINGS) -> Iterator[Hands]:
    """People at a real server with two workers; at the end it must have kept its promises."""
    copied(made, folder)
    furnish(folder, now_us)
    with running(folder, workers=2, settings=settings) as server:
        hands = Hands(folder, Shop(folder, now_us), real=server)
        yield hands
        hands.close()
        assert server.stop() == 0
        hands.settle()


@contextmanager
def hands_here(made: Path, folder: Path) -> Iterator[Hands]:
    """The same people at the application inside this process."""
    copied(made, folder)
    furnish(folder, HandClock())
    file = folder.parent / f"{folder.name}.toml"
    file.write_text(SETTINGS, encoding="utf-8")
    site = site_on(folder, file=file)
    try:
        yield Hands(folder, site.shop, site=site)
    finally:
        site.shop.close_thread()
