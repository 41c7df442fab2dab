"""Hostile words in every place that takes words, a look at whether a page renders them harmless, and requests byte by byte."""

from __future__ import annotations

import re
import socket
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urlsplit

from flask import Flask
from hands import Hands, Screen
from service_shop import PIN

from verifier import records
from verifier.records import RevisionFacts

TAG = "probe-tag"
WORDS = "<probe-tag onfocus=probe()>\"'><!--</textarea></title>{{ 71317*90913 }}${71317*90913}&lt;&#60;"
"""What opens an element, ends an attribute, a comment or a text field, and asks a template to count."""

HIDDEN = "\u202e\u2066\u200b\u00ad"
"""Characters that turn or hide what stands around them; refused in reasons and names, kept in programs."""

COMMENT = f"comment-probe {WORDS.replace('(', '[').replace(')', ']')} {HIDDEN}"
PLACES = ("comment", "reason", "decided", "full-name", "file-name", "recalled", "released")


def words(place: str) -> str:
    """Hostile words that tell where they came in."""
    return f"{place}-probe {WORDS}"


class _Elements(HTMLParser):
    """What a browser would make of a page: its elements, their attributes, and its text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == TAG or (tag in ("script", "style", "iframe", "object", "embed", "base", "svg", "img", "math")):
            sources = [v or "" for n, v in attrs if n == "src"]
            ours = {"script": ("/static/",), "img": ("/revisions/", "/machine-files/")}.get(tag)
            if not (ours and sources and sources[0].startswith(ours)):
                self.faults.append(f"<{tag}>")
        for name, value in attrs:
            if name.startswith("on") or "probe" in name or name == "style":
                self.faults.append(f"{tag} {name}")
            if name in ("href", "src", "action") and (value or "").split(":")[0].lower() in (
                "javascript",
                "data",
                "vbscript",
            ):
                self.faults.append(f"{tag} {name}={value}")
            self.text.append(value or "")

    def handle_comment(self, data: str) -> None:
        self.faults.append(f"comment {data[:30]}")

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@dataclass(frozen=True)
class Look:
    """What is wrong with a page, and the text that people see of it, attributes included."""

    faults: list[str]
    text: str


def look(page: str) -> Look:
    reader = _Elements()
    reader.feed(page)
    reader.close()
    text = " ".join(reader.text)
    faults = (
        reader.faults + ["counted"] * (str(71317 * 90913) in text) + [f"U+{ord(c):04X}" for c in HIDDEN if c in page]
    )
    return Look(faults, text)


# -- a shop full of it


@dataclass
class Spoiled:
    """Where the hostile words lie."""

    program: str
    held: RevisionFacts
    released: RevisionFacts
    recalled: str
    person: int
    all_roles: str
    addresses: dict[str, tuple[str, ...]] = field(default_factory=dict)


def spoil(h: Hands) -> Spoiled:
    """Bring hostile words in wherever words are taken."""
    login = h.person("lead", "programmer", "operator", "administrator")
    ada = h.screen("ada")
    form = ada.form("/people", "people")
    assert ada.send(form, login="hostile", full_name=words("full-name"), role=["programmer"]).status == 200
    name = h.name()
    body = h.text(name).decode().replace("(BUSHING)", f"({COMMENT})").encode()
    pia, leo, otto = h.screen("pia"), h.screen("leo"), h.screen("otto")
    file = {"program_file": (words("upload").replace("/", "_") + ".nc", body)}
    answer = pia.act("/submit", "submit", file, program=name, target="L1", reason=words("reason"))
    assert answer.status == 303, answer.refused
    first = h.newest(name)
    assert h.decide(leo, first, reason=words("decided")).status == 303
    assert pia.act(f"/revisions/{first.id}", "release", reason=words("released")).status == 303
    h.until(lambda: all(r.at_machine for r in h.at("L1") if r.program == name))
    drifted = body.replace(b"F0.25", b"F0.4 (" + COMMENT.encode() + b")")
    assert "is not the release" in h.readback(otto, "L1", name, drifted).text
    edited = body.replace(b"X48.", b"X47.6").replace(b"N90 ", f"({COMMENT})\nN90 ".encode())
    answer = pia.act(
        "/submit", "submit", {"program_file": ("o.nc", edited)}, program=name, target="L1", reason=words("reason")
    )
    assert answer.status == 303, answer.refused
    gone = h.released()
    assert leo.act(f"/revisions/{gone.id}", "recall", reason=words("recalled")).status == 303
    (h.folder / "floor" / "L1" / (words("file-name").replace("/", "_") + HIDDEN)).write_bytes(b"unknown")
    h.until(lambda: "file-name-probe" in look(leo.get("/at/L1").text).text)
    person = records.find_person(h.shop, "hostile").id
    return Spoiled(name, h.newest(name), records.revision(h.shop, first.id), gone.program, person, login)


def clean(h: Hands) -> None:
    """Take the strange file away again."""
    for path in (h.folder / "floor" / "L1").iterdir():
        if "probe" in path.name:
            path.unlink()


# -- the application's own list of addresses

PARTS = re.compile(r"<(?:[^:<>]+:)?(\w+)>")


def rules_of(app: Flask, method: str) -> list[str]:
    """Every address of the service for a method, as the application has it."""
    found = {rule.rule for rule in app.url_map.iter_rules() if method in (rule.methods or ())}
    return sorted(found)


def filled(rule: str, parts: dict[str, str]) -> str:
    """An address with its parts filled in."""
    return PARTS.sub(lambda m: parts[m.group(1)], rule)


# -- byte by byte


NOT_IMPLEMENTED = 501
"""What a server should answer to a transfer coding that it does not understand (RFC 9112, section 6.1)."""


@dataclass(frozen=True)
class Raw:
    """An answer as it came over the wire."""

    status: int
    head: str
    body: str


def raw(h: Hands, request: bytes) -> Raw:
    """Send bytes as they are to the real server, which closes the connection; status 0 where it answers nothing."""
    assert h.real is not None
    where = urlsplit(h.real.base)
    got = b""
    with socket.create_connection((where.hostname or "", where.port or 0), timeout=20) as line:
        line.settimeout(20)
        try:
            line.sendall(request)
            while part := line.recv(65536):
                got += part
        except ConnectionError:
            pass
    head, _, body = got.partition(b"\r\n\r\n")
    found = re.match(rb"HTTP/1\.[01] (\d{3})", head)
    status = int(found.group(1)) if found else 0
    if status != NOT_IMPLEMENTED:
        h.seen.append((status, "RAW " + request[:60].decode("latin-1")))
    return Raw(status, head.decode("latin-1"), body.decode("utf-8", "replace"))


def asked(h: Hands, screen: Screen, target: str, method: str = "GET", more: str = "", body: bytes = b"") -> Raw:
    """One request of a signed-in browser, its address line untouched by any library."""
    assert h.real is not None
    host = urlsplit(h.real.base).netloc
    head = f"{method} {target} HTTP/1.1\r\nHost: {host}\r\nCookie: verifier={screen.cookie()}\r\n{more}"
    if body or method == "POST":
        head += f"Content-Length: {len(body)}\r\nContent-Type: application/x-www-form-urlencoded\r\n"
    return raw(h, (head + "Connection: close\r\n\r\n").encode("latin-1", "replace") + body)


def form_fields() -> tuple[str, ...]:
    """Every name of a field in the service's templates, PIN and guards left out."""
    root = Path(__file__).parents[2] / "web" / "templates"
    found = {
        name for path in root.glob("*.html") for name in re.findall(r'name="([a-z_0-9]+)"', path.read_text("utf-8"))
    }
    return tuple(sorted(found - {"pin", "form_token", "once", "viewport", "password", "new_password", "what", "code"}))


def hostile_form() -> dict[str, str]:
    """Hostile words in every field there is; the PIN is right, so that they are looked at."""
    return {name: words(name) for name in form_fields()} | {
        "pin": PIN,
        "code": words("code"),
        "word1": WORDS,
        "word2": WORDS,
    }
