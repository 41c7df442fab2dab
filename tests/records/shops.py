"""A shop to test with: a clock that is turned by hand, people, two machines and reports made to order."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from verifier import records
from verifier.records import ReportFacts, Shop
from verifier.report import to_be_seen
from verifier.source import ActRefused

START = 1_800_000_000_000_000
CODE = "ABCD2345"
WORDS = (("N40, second word", "X25."), ("N60, first word", "G01"))
FINDINGS = [
    {
        "rule": "clamp-gone",
        "weight": "critical",
        "status": "change",
        "title": "the clamp is gone",
        "causes": [{"line": 4}],
    },
    {"rule": "point-lost", "weight": "critical", "status": "new", "title": "a point was lost", "causes": []},
    {"rule": "stood-before", "weight": "critical", "status": "still there", "title": "no clamp", "causes": []},
    {"rule": "feed", "weight": "major", "status": "new", "title": "a feed doubled", "causes": []},
]
CRITICAL = json.dumps({"findings": FINDINGS}).encode()
STOOD = FINDINGS[2] | {"revision": 1}
TICKS = tuple(one.name for one in to_be_seen(json.loads(CRITICAL)))
TYPED = ("X25.000", "G1")


def digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


@dataclass
class HandClock:
    """Goes on by a millisecond whenever it is read, and by hand."""

    now: int = START

    def __call__(self) -> int:
        self.now += 1000
        return self.now


@dataclass(frozen=True)
class TestShop:
    shop: Shop
    clock: HandClock
    admin: int
    ann: int  # programmer
    ben: int  # programmer and lead
    cid: int  # lead
    dot: int  # operator

    __test__ = False


def make(folder: Path) -> TestShop:
    clock = HandClock()
    shop = records.init_shop(folder, "Test shop", ("admin", "First One"), clock=clock, new_id=lambda: "shop-1")
    admin = records.find_person(shop, "admin").id
    ids = [
        records.add_person(shop, admin, login, name, roles).id
        for login, name, roles in (
            ("ann", "Programmer A", ["programmer"]),
            ("ben", "Programmer and Lead B", ["programmer", "lead"]),
            ("cid", "Lead C", ["lead"]),
            ("dot", "Operator D", ["operator"]),
        )
    ]
    records.add_machine(shop, admin, "L1", profile=b"kind = 'lathe'\n", folder="machines/L1")
    records.add_machine(shop, admin, "L2", profile=b"kind = 'lathe'\n", folder="machines/L2", group="PAIR")
    records.add_machine(shop, admin, "L3", profile=b"kind = 'lathe'\n", folder="machines/L3", group="PAIR")
    return TestShop(shop, clock, admin, *ids)


@contextmanager
def memory() -> Iterator[Path]:
    """A folder in memory where there is one, for tests that cut no power: syncing costs nothing there."""
    place = Path("/dev/shm")
    with TemporaryDirectory(dir=place if place.is_dir() else None) as folder:
        yield Path(folder)


def copy(t: TestShop, folder: Path) -> TestShop:
    """The same shop in another folder, quicker than making one; `t` must be closed."""
    shutil.copytree(t.shop.folder, folder)
    clock = HandClock(t.clock.now)
    return replace(t, shop=records.open_shop(folder, clock), clock=clock)


def content(critical: bool, hazards: Mapping[str, int | None]) -> bytes:
    """A report's JSON with these standing hazards: key -> the acceptance that it is folded by; one called "touched" cannot be accepted."""
    findings = [*(FINDINGS if critical else []), *[STOOD] * len(hazards)]
    rows = [
        {
            "finding": k,
            "key": digest(key),
            "words": ["G96 S180"],
            "told": "touched" if key == "touched" else "",
            "accepted": None if number is None else {"number": number, "by": "x", "at": "x", "reason": "x"},
        }
        for k, (key, number) in enumerate(hazards.items(), len(findings) - len(hazards))
    ]
    return json.dumps({"findings": findings, "standing": rows}).encode()


def report(body: bytes, base: bytes | None = None, **changes: object) -> ReportFacts:
    """A report that asks for no lead; its digest follows from all that is in it, as a real one's does."""
    facts = ReportFacts(
        digest=digest("none"),
        verdict="changed behaviour",
        sign_off_required=False,
        sign_off_reasons=(),
        has_critical=False,
        base_sha=None if base is None else sha256(base).hexdigest(),
        machine_digest=digest("machine"),
        setup_digest=None,
        policy_digest=digest("policy"),
        rules_digest=digest("rules"),
        tool_version="0.1.0",
        check_code=CODE,
        json=b"{}",
    )
    hazards = changes.pop("hazards", None)
    if isinstance(hazards, dict):
        held = tuple(sorted(number for number in hazards.values() if number is not None))
        facts = replace(facts, json=content(bool(changes.get("has_critical")), hazards), accepted=held)
    elif changes.get("has_critical"):
        facts = replace(facts, json=CRITICAL)
    facts = replace(facts, **changes)  # type: ignore[arg-type]
    if "digest" not in changes:
        facts = replace(facts, digest=digest(repr((body, facts))))
    return facts


def submit(t: TestShop, body: bytes, base: bytes | None = None, **changes: object) -> records.RevisionFacts:
    program = str(changes.pop("program", "O1000"))
    target = str(changes.pop("target", "L1"))
    author = int(str(changes.pop("author", t.ann)))
    proven = changes.pop("proven", None)
    if isinstance(proven, bytes):
        changes["proven_sha"] = sha256(proven).hexdigest()
    facts = [report(body, base, **changes)]
    return records.submit(t.shop, author, program, target, body, "because", facts)


def approve(t: TestShop, revision: records.RevisionFacts, lead: int | None = None) -> records.RevisionFacts:
    who = t.cid if lead is None else lead
    seen = revision.report_digest
    ticked = [one.name for one in records.wanted_ticks(t.shop, revision.id)]
    return records.decide(t.shop, who, revision.id, "approve", "looked", seen, reauthenticated=True, ticked=ticked)


def release(t: TestShop, revision: records.RevisionFacts, who: int | None = None) -> tuple[records.ReleaseFacts, ...]:
    current = records.reports(t.shop, revision.id)
    person = t.ann if who is None else who
    return records.release(t.shop, person, revision.id, "go", current, WORDS)


def publish(t: TestShop) -> None:
    """What the floor reports once every pending file is written and read back."""
    for job in records.pending_jobs(t.shop):
        records.finish_job(t.shop, job.id, job.sha if job.kind == "write" else None)


def at_machine(t: TestShop, body: bytes, base: bytes | None = None, **changes: object) -> records.RevisionFacts:
    """Bring a body all the way to the machine."""
    revision = submit(t, body, base, **changes)
    if revision.state == "held":
        revision = approve(t, revision)
    release(t, revision)
    publish(t)
    return records.revision(t.shop, revision.id)


def go_back(
    t: TestShop, who: int, program: str, machine: str, reason: str
) -> tuple[records.RevisionFacts, records.ReleaseFacts]:
    """Go back from whatever stands there now."""
    try:
        here = [r.revision for r in records.at_machine(t.shop, machine) if r.program == program]
    except ActRefused:
        here = []
    return records.go_back(t.shop, who, program, machine, here[0] if here else None, reason)


def confirm(t: TestShop, revision: records.RevisionFacts, words: Sequence[str] = TYPED) -> records.ConfirmationFacts:
    return records.confirm_by_check_code(t.shop, t.dot, "L1", revision.id, CODE, words, reauthenticated=True)
