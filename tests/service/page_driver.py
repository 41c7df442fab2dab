"""Random acts, from one seed each, by the pages and by the API, answered as the model of the rules answers them.

The model is that of the records' own driver (tests/records/model.py): the same states, other hands. Beside states and answers it
is looked at whether each act stands in the ledger exactly once, and whether the machine's folder holds what it should.
Now and then a request is sent twice, its PIN is wrong, its token is not of this sign-in, or its digest is an older one.
"""

from __future__ import annotations

import base64
import copy
import sys
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any

from flask import Flask
from page_shop import EDITS, POLICIES, body_of, judged
from service_shop import PIN, Browser, HandClock, Ids

from verifier import records
from verifier.floor import publish_pending
from verifier.records import RevisionFacts, Shop
from verifier.service.openapi import OPERATIONS
from verifier.service.problems import STATUS

sys.path.append(str(Path(__file__).parents[1] / "records"))

from model import DAY, ROLES, Program, Review, Revision

NAMES = ("O1", "O2")
LEDGER = {
    "submit": "submitted", "check_again": "checked again", "approve": "approved", "turn back": "turned back", "prove-out": "let out for prove-out",
    "release": "released", "recall": "recalled", "withdraw": "withdrawn", "read_back": "read back", "confirm": "confirmed",
    "prove": "prove-out confirmed", "go_back": "went back",
}  # fmt: skip
JUNK = "nonsense"


@cache
def asking(operation: str) -> dict[str, Any]:
    """What an operation takes that asks for no more than a reason, and perhaps the PIN."""
    taken = next(op.taken for op in OPERATIONS if op.name == operation)
    assert taken is not None
    return {name: value for name, value in (("reason", "because"), ("pin", PIN)) if name in taken.model_fields}


class Mismatch(AssertionError):
    """The service and the model do not agree."""


@dataclass(frozen=True)
class Got:
    """What came back: the status, and the code where a program asked."""

    status: int
    code: str | None
    content: bytes
    location: str


@dataclass
class PageDriver:
    """One run; `step` makes one random act on both sides."""

    app: Flask
    shop: Shop
    clock: HandClock
    seed: int
    programs: dict[str, Program] = field(default_factory=lambda: {name: Program() for name in NAMES})
    policy: str = "p1"
    counted: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)
    ids: dict[int, int] = field(default_factory=dict)
    digests: dict[int, str] = field(default_factory=dict)
    backs: dict[tuple[str, int], int] = field(default_factory=dict)
    kept: set[bytes] = field(default_factory=set)
    browsers: dict[str, Browser] = field(default_factory=dict)
    last: str = "submit"
    key: int = 0

    def __post_init__(self) -> None:
        self.random = Random(self.seed)
        self.publish_ids = Ids(500_000)

    # -- one step

    def step(self) -> None:
        name = NAMES[0] if self.chance(0.85) else NAMES[1]
        program = self.programs[name]
        weights = self._weights(program)
        act = self.random.choices(list(weights), list(weights.values()))[0]
        if self.chance(0.15):
            act = self.last  # the same again: a second thought
        self.last = act
        if act in ("submit", "go_back", "wait", "policy") or program.revisions:
            getattr(self, "_" + act)(name, program)
            self._compare(act)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def _weights(self, program: Program) -> dict[str, float]:
        states = {r.state for r in program.revisions}
        here, trial = program.current() is not None, "prove-out" in states
        return {
            "submit": 3 if states & {"held", "cleared"} else 8, "decide": 8 if "held" in states else 1,
            "check_again": 2 if "held" in states else 0.3,
            "release": 8 if "cleared" in states else 1, "confirm": 4 if here else 0.5, "read_back": 2 if here else 0.5,
            "confirm_back": 3 if here and program.readbacks else 0.5, "prove": 4 if trial else 0.3, "recall": 0.6,
            "withdraw": 1.0, "go_back": 2 if program.before() else 0.7, "wait": 0.5, "policy": 1.2,
        }  # fmt: skip

    def _who(self, *likely: str) -> str:
        return self.random.choice(likely if self.chance(0.85) else tuple(ROLES))

    def _pick(self, program: Program, *states: str) -> Revision:
        fit = [r for r in program.revisions if r.state in states]
        return self.random.choice(fit if fit and self.chance(0.85) else program.revisions)

    def _standing(self, program: Program) -> Revision:
        here = program.current()
        return here.revision if here and self.chance(0.85) else self._pick(program, "released", "retired")

    # -- hands

    def _browser(self, who: str) -> Browser:
        """A browser in which that person is signed in; days later they sign in again."""
        if who not in self.browsers or self.browsers[who].get("/account").status_code != 200:
            self.browsers[who] = Browser(self.app)
            assert self.browsers[who].sign_in(who).status_code == 303
        return self.browsers[who]

    def page(self, who: str, url: str, given: dict[str, Any], wanted: str, pin: bool = True) -> Got:
        """A page's form, sent as the page would; at times twice, at times first as somebody else's, or with a wrong PIN."""
        browser, sent = self._browser(who), {"reason": "because", **({"pin": PIN} if pin else {}), **given}
        if self.chance(0.04):
            self._must_be(browser.post(url, {**_fresh(sent), "form_token": "0" * 64}), 403, "a token that is none")
        if pin and self.chance(0.06) and wanted not in ("stale_page", "unknown_program"):
            self._must_be(browser.post(url, {**_fresh(sent), "pin": "123987"}), 403, "a wrong PIN")
        self.key += 1
        sent["once"] = f"{self.key:022}"
        found = _got(browser.post(url, _fresh(sent)))
        if found.status == 303 and self.chance(0.2):
            again = _got(browser.post(url, _fresh(sent)))
            if (again.status, again.location) != (found.status, found.location):
                raise Mismatch(f"{url}: sent twice, answered {found.status} and then {again.status}")
        return found

    def ask(self, who: str, url: str, given: dict[str, Any]) -> Got:
        """A program's request, with a key; at times sent twice."""
        self.key += 1
        headers = {"Authorization": f"Bearer token-of-{who}", "Idempotency-Key": f"key-{self.key}"}
        client = self.app.test_client()
        found = _got(client.post(f"/api/v1/programs/L1/{url}", json=given, headers=headers))
        if found.status < 300 and self.chance(0.2):
            again = _got(client.post(f"/api/v1/programs/L1/{url}", json=given, headers=headers))
            if (again.status, again.content) != (found.status, found.content):
                raise Mismatch(f"{url}: asked twice, answered {found.status} and then {again.status}")
        return found

    def _must_be(self, answer: Any, status: int, what: str) -> None:
        if answer.status_code != status:
            raise Mismatch(f"{what} was answered with {answer.status_code}, not {status}; {self.told[-6:]}")

    def check(self, act: str, name: str, who: str, wanted: str, got: Got, counts: str = "") -> None:
        """Compare an answer with what the rules say, and count what was done."""
        self.told.append(f"{act} {name}: {wanted or 'done'}")
        fits = got.status in (200, 201, 303) and not got.location.startswith("/sign-in")
        if wanted:
            fits = got.status == STATUS[wanted] and got.code in (None, wanted)
        if not fits:
            raise Mismatch(
                f"{act} {name}: answered {got.status} {got.code}, the rules say {wanted!r}; {self.told[-8:]}"
            )
        if not wanted and counts:
            self.counted[counts] += 1
            done = (
                "SELECT p.login FROM ledger l JOIN person p ON p.id=l.person WHERE l.act=? ORDER BY l.seq DESC LIMIT 1"
            )
            signed = self.shop.database.value(done, LEDGER[counts])
            if signed != who:
                raise Mismatch(f"{act} {name}: {who} did it, and {signed} stands in the ledger")

    def _number(self, r: Revision) -> int:
        return self.ids[id(r)]

    def _facts(self, r: Revision) -> RevisionFacts:
        return records.revision(self.shop, self._number(r))

    # -- the acts

    def _submit(self, name: str, program: Program) -> None:
        body = body_of(name, self.random.choice((*EDITS, "D", "D")))
        who = self._who("ann", "ann", "ann", "ben", "dot")
        if who == "dot" and body in self.kept:
            who = "ann"  # an operator's read-back is handed in at the machine's page
        base, proven = program.ground(body)
        found = Review(base, proven, self.policy, *judged(base, proven, body), False)
        wanted = program.submit(who, body, found, self.kept)
        if self.chance(0.5):
            file = (BytesIO(body), "o.nc")
            given = {"program": name, "target": "L1", "program_file": file}
            got = self.page(who, "/submit", given, wanted, pin=False)
        else:
            given = {"program": base64.b64encode(body).decode(), "reason": "because"}
            got = self.ask(who, f"{name}/revisions", given)
        self.check("submit", name, who, wanted, got, "submit")
        if not wanted:
            made = next(r for r in program.revisions if r.body == body)
            self.ids[id(made)] = records.find_revision(self.shop, name, "L1", made.n).id
            self._note(made)

    def _note(self, r: Revision) -> None:
        """Note the digest of the reports that a revision stands on now."""
        self.digests[id(r.review)] = self._facts(r).report_digest or ""

    def _decide(self, name: str, program: Program) -> None:
        r = self._pick(program, "held")
        others = [one for one in r.reviews if one.key != r.review.key]
        old = self.random.choice(others) if others and self.chance(0.5) else r.review
        verdict = self.random.choice(("approve", "approve", "prove-out", "turn back"))
        who, again = self._who("ben", "cid", "cid"), self.chance(0.95)
        all_of_them = [one.name for one in records.wanted_ticks(self.shop, self._number(r))]
        ticked, names = ({0, 1}, all_of_them) if r.review.critical else (set[int](), list[str]())
        if self.chance(0.4 if r.review.critical else 0.05):
            ticked, names = self.random.choice(((set[int](), []), ({7}, [JUNK])))
        now = self.clock.now + 2000
        wanted = program.decide(who, r, verdict, old.key, ticked, again, now)
        where = {"machine": "L1", "days": 2} if verdict == "prove-out" else {}
        pin, seen = PIN if again else "123987", self.digests[id(old)]
        if self.chance(0.5):
            given = {"verdict": verdict, "seen": seen, "seen_critical": names, "pin": pin, **where}
            got = self.page(who, f"/revisions/{self._number(r)}/decide", given, wanted)
        else:
            given = {"verdict": verdict, "report": seen, "ticked": names, "pin": pin, "reason": "because", **where}
            got = self.ask(who, f"{name}/revisions/{r.n}/decision", given)
        self.check("decide", name, who, wanted, got, verdict)
        self._published()

    def _check_again(self, name: str, program: Program) -> None:
        r, who = self._pick(program, "held"), self._who("ann", "ben", "cid")
        base, proven = program.ground(r.body)
        found = Review(base, proven, self.policy, *judged(base, proven, r.body), False)
        wanted = program.check_again(who, r, found)
        got = self._either(who, name, r, "check-again", "check-again", wanted)
        self.check("check_again", name, who, wanted, got, "check_again")
        if not wanted:
            self._note(r)

    def _release(self, name: str, program: Program) -> None:
        r, who = self._pick(program, "cleared"), self._who("ann", "ben", "cid")
        wanted = program.release(who, r, self.policy, ())
        got = self._either(who, name, r, "release", "release", wanted)
        self.check("release", name, who, wanted, got, "release")
        if wanted == "changed_since":
            r.review.needs, r.review.critical = judged(r.review.base, r.review.proven, r.body)
            self._note(r)
        self._published()

    def _recall(self, name: str, program: Program) -> None:
        r, who = self._pick(program, "released", "prove-out", "retired"), self._who("ben", "cid")
        wanted = program.recall(who, r)
        self.check("recall", name, who, wanted, self._either(who, name, r, "recall", "recall", wanted), "recall")

    def _withdraw(self, name: str, program: Program) -> None:
        r, who = self._pick(program, "held", "cleared"), self._who("ann", "ben")
        wanted = program.withdraw(who, r)
        self.check(
            "withdraw", name, who, wanted, self._either(who, name, r, "withdraw", "withdrawal", wanted), "withdraw"
        )

    def _either(self, who: str, name: str, r: Revision, page: str, asked: str, wanted: str) -> Got:
        """An act that asks for nothing but a reason, by the page or by a program."""
        if self.chance(0.5):
            return self.page(who, f"/revisions/{self._number(r)}/{page}", {}, wanted)
        return self.ask(who, f"{name}/revisions/{r.n}/{asked}", asking(page.replace("-", "_")))

    def _confirm(self, name: str, program: Program) -> None:
        r, who, right = self._standing(program), self._who("dot"), self.chance(0.9)
        if r.state == "prove-out":
            return self._prove(name, program)
        release = next((one for one in self._at() if one.revision == self._number(r)), None)
        words = [word.word for word in release.challenge] if release else []
        ready = program.stands(r) is not None and "o" in ROLES[who]
        wanted = self._said(program, r, who, right)
        if ready and not words and wanted in ("", "wrong_code"):
            wanted = "needs_readback"
        elif not wanted:
            program.confirm(who, r, right)
        code = self._facts(r).check_code if right else "ZZZZ9999"
        if self.chance(0.5):
            given = {"revision": self._number(r), "code": code, "word1": "", "word2": ""}
            given |= {f"word{k}": word for k, word in enumerate(words, 1)}
            told = "stale_page" if wanted == "not_the_release" else wanted
            got, wanted = self.page(who, f"/at/L1/{name}/confirm", given, told), told
        else:
            given = {"pin": PIN, "code": code, "words": words}
            got = self.ask(who, f"{name}/revisions/{r.n}/confirmations", given)
        self.check("confirm", name, who, wanted, got, "confirm")
        return None

    def _said(self, program: Program, r: Revision, who: str, right: bool) -> str:
        """What the rules say of a confirmation, without its being made."""
        aside = copy.deepcopy(program)
        return aside.confirm(who, aside.revisions[r.n - 1], right)

    def _at(self) -> tuple[records.ReleaseFacts, ...]:
        return records.at_machine(self.shop, "L1")

    def _read_back(self, name: str, program: Program) -> None:
        r, who = self._standing(program), self._who("dot")
        sent = r.body if self.chance(0.5) else body_of(name, "A edited")
        by_page = self.chance(0.5)
        if by_page and program.stands(r) is None and set(ROLES[who]) & set("ol"):
            got = self._read_back_page(who, name, r, sent, "stale_page")
            return self.check("read_back", name, who, "stale_page", got)
        wanted = program.read_back(who, r, sent, self.clock.now + 1000)
        if by_page:
            got = self._read_back_page(who, name, r, sent, wanted)
        else:
            given = {"program": base64.b64encode(sent).decode()}
            got = self.ask(who, f"{name}/revisions/{r.n}/readbacks", given)
        self.check("read_back", name, who, wanted, got, "" if program.again else "read_back")
        if not wanted:
            self.kept.add(sent)
            newest = records.readbacks_at(self.shop, name, "L1")[-1].id
            if self.backs.setdefault((name, program.answered), newest) != newest:
                raise Mismatch(f"read-back {newest} is not the one that the rules give")
        return None

    def _read_back_page(self, who: str, name: str, r: Revision, sent: bytes, wanted: str) -> Got:
        given = {"revision": self._number(r), "sent": (BytesIO(sent), "sent.nc")}
        return self.page(who, f"/at/L1/{name}/readback", given, wanted, pin=False)

    def _confirm_back(self, name: str, program: Program) -> None:
        if not program.readbacks:
            return
        back = len(program.readbacks) - (1 if self.chance(0.7) else self.random.randint(1, len(program.readbacks)))
        r = program.readbacks[back].revision if self.chance(0.9) else self.random.choice(program.revisions)
        who, number = self._who("dot"), self.backs[(name, back)]
        if r.state == "prove-out":
            return
        wanted = program.confirm_back(who, r, back)
        if self.chance(0.5):
            wanted = "stale_page" if wanted == "not_the_release" else wanted
            given = {"revision": self._number(r), "readback": number}
            got = self.page(who, f"/at/L1/{name}/confirm", given, wanted)
        else:
            got = self.ask(who, f"{name}/revisions/{r.n}/confirmations", {"pin": PIN, "readback": number})
        self.check("confirm_back", name, who, wanted, got, "confirm")

    def _prove(self, name: str, program: Program) -> None:
        r, who = self._pick(program, "prove-out"), self._who("dot")
        trial, stands = r.state == "prove-out", program.stands(r) is not None
        wanted = program.prove(who, r, self.clock.now + 1000)
        if trial and stands and self.chance(0.5):
            got = self.page(who, f"/at/L1/{name}/confirm", {"revision": self._number(r), "readings": "25.01"}, wanted)
        else:
            wanted = "bad_form" if not trial and wanted != "wrong_role" else wanted
            got = self.ask(who, f"{name}/revisions/{r.n}/confirmations", {"pin": PIN, "readings": "25.01"})
        self.check("prove", name, who, wanted, got, "prove")

    def _go_back(self, name: str, program: Program) -> None:
        who, here = self._who("dot", "cid"), program.current()
        leaving = here.revision if here else None
        if program.revisions and self.chance(0.1):
            leaving = self.random.choice(program.revisions)
        now = leaving is (here.revision if here else None)
        wanted = program.go_back(who, leaving)
        if now and self.chance(0.5):
            got = self.ask(who, f"{name}/go-back", asking("go_back"))
        else:
            given = {"revision": self._number(leaving) if leaving else "none"}
            got = self.page(who, f"/at/L1/{name}/go-back", given, wanted)
        self.check("go_back", name, who, wanted, got, "go_back")
        self._published()

    def _policy(self, name: str, program: Program) -> None:
        who = self._who("cid")
        label = "p2" if self.policy == "p1" else "p1"
        wanted = "" if "l" in ROLES[who] else "wrong_role"
        got = self.page(who, "/policy", {"policy": (BytesIO(POLICIES[label]), "p.toml")}, wanted)
        self.check("policy", name, who, wanted, got)
        self.policy = self.policy if wanted else label

    def _wait(self, name: str, program: Program) -> None:
        self.clock.add(self.random.choice((DAY // 2, DAY, 3 * DAY)) / 1_000_000)
        for one in self.programs.values():
            one.end_overdue(self.clock.now + 1000)
        publish_pending(self.shop, self.publish_ids)

    def _published(self) -> None:
        for one in self.programs.values():
            one.publish()

    # -- what must be so

    def _compare(self, act: str) -> None:
        rows = self.shop.database.rows(
            "SELECT p.name, v.n, v.state, EXISTS(SELECT 1 FROM release r WHERE r.revision=v.id AND r.ended_us IS NULL)"
            " AS here FROM revision v JOIN program p ON p.id=v.program ORDER BY p.name, v.n"
        )
        stored = [(r["name"], r["n"], r["state"], bool(r["here"])) for r in rows]
        meant = [
            (name, r.n, r.state, p.stands(r) is not None) for name, p in self.programs.items() for r in p.revisions
        ]
        if stored != meant:
            raise Mismatch(f"after {act}: {stored}, not {meant}; {self.told[-8:]}")
        acts = {
            row["act"]: row["n"]
            for row in self.shop.database.rows("SELECT act, count(*) AS n FROM ledger GROUP BY act")
        }
        for done, word in LEDGER.items():
            if acts.get(word, 0) != self.counted[done]:
                raise Mismatch(
                    f"after {act}: {word} stands {acts.get(word, 0)} times, not {self.counted[done]}; {self.told[-8:]}"
                )
        for name, program in self.programs.items():
            here, path = program.current(), self.shop.folder / "floor" / "L1" / f"{name}.NC"
            wanted = here.revision.body if here else None
            if (path.read_bytes() if path.exists() else None) != wanted:
                raise Mismatch(f"after {act}: the folder does not hold what it should of {name}; {self.told[-8:]}")


def _fresh(given: dict[str, Any]) -> dict[str, Any]:
    """The same fields once more, files from their start."""
    return {k: (BytesIO(v[0].getvalue()), v[1]) if isinstance(v, tuple) else v for k, v in given.items()}


def _got(answer: Any) -> Got:
    code = answer.json.get("code") if answer.mimetype == "application/problem+json" else None
    return Got(answer.status_code, code, answer.data, answer.headers.get("Location", ""))
