"""Kills the running service while several people work, starts it again, and holds what they were told against what is there.

Every request carries a key, and one whose answer was lost is sent once more with it. After each kill, with every process
dead: the ledger is whole and no floor file is without its record. At the end: every act that was acknowledged stands in the
ledger exactly once, one whose answer was lost at most once, and every acknowledged release lies in its folder byte for byte.
"""

from __future__ import annotations

import base64
import os
import random
import re
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import requests
from hands import now_us
from page_driver import asking
from page_walk import BASE
from service_shop import PIN, Server, copied, running

from verifier import records
from verifier.desk import pin_hash, server_key
from verifier.records import Shop

PEOPLE = 4
ACTS = {"revisions": "submitted", "decision": "approved", "release": "released"}
_FLOOR = ("written to machine", "taken from machine", "not written")
SETTINGS = "[floor]\npublish_s = 1\nwatch_s = 60\n"


@dataclass
class Told:
    """What people were told: acts acknowledged, acts whose answer was lost, and refusals, which nobody here expects."""

    done: list[tuple[str, str]] = field(default_factory=list)
    lost: list[tuple[str, str]] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    repeated: int = 0
    """Requests that were sent once more after a kill and then got their answer."""


@dataclass
class Counts:
    """What a campaign came to."""

    kills: int
    workers: int
    told: Told
    faults: list[str]

    def lines(self) -> Iterator[str]:
        """The figures, for people."""
        yield f"{self.kills} kills of the whole server, {self.workers} of one worker"
        acts = Counter(act for _, act in self.told.done)
        yield f"{len(self.told.done)} acts acknowledged: " + ", ".join(f"{n} {act}" for act, n in sorted(acts.items()))
        yield f"{self.told.repeated} of them sent again after a kill; {len(self.told.lost)} answers lost for good"
        yield f"{len(self.faults)} faults"
        yield from self.faults


class Line:
    """Where the service is to be reached now, and whether people may go on working."""

    def __init__(self) -> None:
        self.base = ""
        self.up = threading.Event()
        self.over = threading.Event()


class Worker(threading.Thread):
    """Somebody who hands in programs, has them approved and releases them, one after the other."""

    def __init__(self, number: int, line: Line, tokens: dict[str, str], seed: int) -> None:
        super().__init__(name=f"person {number}", daemon=True)
        self.number, self.line, self.tokens = number, line, tokens
        self.random = random.Random(seed * 1000 + number)
        self.told = Told()
        self.count = 0

    def run(self) -> None:
        """Work until it is over."""
        while not self.line.over.is_set():
            self.count += 1
            self._carry(f"O{self.number + 1}{self.count:05}")

    def _carry(self, name: str) -> None:
        """One program from its submission to its machine, as far as answers come."""
        body = BASE.replace("O0042", name).replace("X48.", f"X{self.random.randrange(20, 48)}.")
        given = {"program": base64.b64encode(body.encode()).decode(), "reason": "as drawn"}
        made = self._act("pia", name, "revisions", given)
        if made is None:
            return
        sign = {"pin": PIN, "verdict": "approve", "reason": "looked", "report": made["revision"]["report_digest"]}
        if self._act("leo", name, "decision", sign) is not None:
            self._act("pia", name, "release", asking("release"))

    def _act(self, who: str, name: str, what: str, given: dict[str, Any]) -> dict[str, Any] | None:
        """Ask for one act, once more where the answer was lost; None where it never came."""
        url = f"/api/v1/programs/L1/{name}/revisions" + ("" if what == "revisions" else f"/1/{what}")
        headers = {"Authorization": f"Bearer {self.tokens[who]}", "Idempotency-Key": f"{name}-{what}"}
        answer = self._send(url, given, headers)
        again = answer is None
        if again:
            answer = self._send(url, given, headers)
        if answer is None or answer.status_code == 409:  # claimed by the process that was killed, or done by it
            self.told.lost.append((name, ACTS[what]))
            if not again and answer is not None:
                self.told.refused.append(f"{name} {what}: {answer.status_code} {answer.text[:200]}")
            return None
        if answer.status_code >= 400:
            self.told.refused.append(f"{name} {what}: {answer.status_code} {answer.text[:200]}")
            return None
        self.told.done.append((name, ACTS[what]))
        self.told.repeated += again
        found: dict[str, Any] = answer.json()
        return found

    def _send(self, url: str, given: dict[str, Any], headers: dict[str, str]) -> requests.Response | None:
        while not self.line.up.wait(0.2):
            if self.line.over.is_set():
                return None
        try:
            with requests.Session() as session:
                session.trust_env = False
                return session.post(self.line.base + url, json=given, headers=headers, timeout=30)
        except requests.RequestException:
            self.line.up.wait(0.05)
            return None


def campaign(made: Path, folder: Path, kills: int, workers: int = 0, seed: int = 1) -> Counts:
    """Work, kill, start again; `kills` of the whole server, and before each of the first `workers` one of a worker alone."""
    copied(made, folder)
    line, chance = Line(), random.Random(seed)
    people = [Worker(k, line, tokens_for(folder, k), seed) for k in range(PEOPLE)]
    faults: list[str] = []
    for person in people:
        person.start()
    for k in range(kills):
        with running(folder, workers=2, settings=SETTINGS) as server:
            _open(line, server)
            _some_work(people, 3)
            if k < workers:
                _kill_worker(server, chance)
                _some_work(people, 3)
            time.sleep(chance.uniform(0.0, 0.25))
            line.up.clear()
            server.kill()
            faults += [f"after kill {k + 1}: {fault}" for fault in faults_when_dead(folder)]
    with running(folder, workers=2, settings=SETTINGS) as server:
        _open(line, server)
        _some_work(people, 3)
        line.over.set()
        for person in people:
            person.join(60)
        told = Told()
        for person in people:
            told.done += person.told.done
            told.lost += person.told.lost
            told.refused += person.told.refused
            told.repeated += person.told.repeated
        _until_written(folder)
        log = server.log
        assert server.stop() == 0
    faults += faults_at_the_end(folder, told)
    faults += ["the log has a traceback"] * ("Traceback" in log) + [f"refused: {one}" for one in told.refused]
    return Counts(kills, workers, told, faults)


def tokens_for(folder: Path, number: int) -> dict[str, str]:
    """Tokens of a programmer and a lead of their own for somebody at work.

    Of their own: a try of a PIN counts until it is answered, and killed answers of several people would add up to a lock.
    """
    with records.open_shop(folder, now_us) as shop:
        found, admin = {}, records.find_person(shop, "ada").id
        for name, role in (("pia", "programmer"), ("leo", "lead")):
            found[name] = f"token-of-{name}-{random.SystemRandom().getrandbits(64):x}"
            person = records.add_person(shop, admin, f"{name}-{number}", f"{name} {number}", (role,))
            records.set_secret_hash(shop, admin, person.id, pin=pin_hash(server_key(folder), PIN))
            records.make_token(shop, person.id, "campaign", found[name], records.SCOPES, 5)
        return found


def _open(line: Line, server: Server) -> None:
    line.base = server.base
    line.up.set()


def _some_work(people: list[Worker], more: int, seconds: float = 30) -> None:
    """Wait until so many more acts were acknowledged, so that every kill meets people at work."""
    before = sum(len(p.told.done) for p in people)
    ends = time.monotonic() + seconds
    while sum(len(p.told.done) for p in people) < before + more:
        assert time.monotonic() < ends, "nobody got any further"
        time.sleep(0.01)


def _kill_worker(server: Server, chance: random.Random) -> None:
    """Kill one worker of the server; it is started again by the server itself."""
    children = (
        Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children").read_text(encoding="ascii").split()
    )
    os.kill(int(chance.choice(children)), signal.SIGKILL)


def _until_written(folder: Path, seconds: float = 30) -> None:
    with records.open_shop(folder, now_us) as shop:
        ends = time.monotonic() + seconds
        while records.pending_jobs(shop) and time.monotonic() < ends:
            time.sleep(0.05)


# -- what must hold


def acts_of(shop: Shop) -> dict[str, Counter[str]]:
    """How often each act was done on each program, by the ledger."""
    found: dict[str, Counter[str]] = {}
    for entry in records.whole_history(shop, 0, 10_000_000):
        name, _, target = entry.subject.partition("@")
        if target == "L1" and entry.act not in _FLOOR:
            found.setdefault(name, Counter())[entry.act] += 1
    return found


def faults_when_dead(folder: Path) -> list[str]:
    """What is wrong while no process runs: a damaged ledger, a floor file without a record, half a file."""
    found = [f"ledger: {fault.message}" for fault in records.verify_ledger(folder).faults]
    with records.open_shop(folder, now_us) as shop:
        acts = acts_of(shop)
        for path in sorted((folder / "floor" / "L1").iterdir()):
            if path.name.startswith(".unfinished-"):
                continue  # what a killed write left; the next one sweeps it
            name = path.name.removesuffix(".NC")
            if acts.get(name, Counter())["released"] < 1:
                found.append(f"{path.name} lies there without a release")
            elif sha256(path.read_bytes()).hexdigest() not in {r.sha for r in records.revisions(shop, name, "L1")}:
                found.append(f"{path.name} is no revision's content")
    return found


def faults_at_the_end(folder: Path, told: Told) -> list[str]:
    """What people were told that is not so, and what is so that nobody asked for."""
    found = faults_when_dead(folder)
    done, lost = set(told.done), set(told.lost)
    with records.open_shop(folder, now_us) as shop:
        acts = acts_of(shop)
        for name, act in told.done:
            if acts.get(name, Counter())[act] != 1:
                found.append(f"{name}: {act} was acknowledged and stands {acts.get(name, Counter())[act]} times")
        for name, counted in acts.items():
            for act, times in counted.items():
                if (name, act) not in done and ((name, act) not in lost or times > 1):
                    found.append(f"{name}: {act} stands {times} times and was never acknowledged")
        for name, act in told.done:
            if act == "released" and name in acts:
                path, sha = folder / "floor" / "L1" / f"{name}.NC", records.revisions(shop, name, "L1")[0].sha
                if not path.exists() or path.read_bytes() != records.body(shop, sha):
                    found.append(f"{name}: released, and not at the machine as it was handed in")
    left = [path.name for path in (folder / "floor" / "L1").iterdir() if not re.fullmatch(r"O\d+\.NC", path.name)]
    return found + [f"{name} was left in the folder" for name in sorted(left)]
