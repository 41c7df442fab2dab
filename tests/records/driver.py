"""Random acts, from one seed each, on the records and on the model; they must give the same answer and the same states."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from random import Random

from model import DAY, Acceptance, Program, Review, Revision
from shops import CODE, TICKS, TYPED, WORDS, TestShop, digest, report

from verifier import records
from verifier.records import accepting, confirming, deciding, readbacks, recalling, rechecking, releasing, submitting
from verifier.source import ActRefused

NAMES = ("O1", "O2")
BODIES = (b"A", b"B", b"C", b"D", b"A edited")
PEOPLE = ("ann", "ben", "cid", "dot", "admin")


class Mismatch(AssertionError):
    """The records and the model do not agree."""


class Driver:
    """One run; `step` makes one random act on both sides."""

    def __init__(self, t: TestShop, seed: int) -> None:
        self.t = t
        self.random = Random(seed)
        self.programs = {name: Program() for name in NAMES}
        self.ids: dict[int, int] = {}
        self.backs: dict[tuple[str, int], int] = {}
        self.numbers: dict[int, int] = {}
        self.kept: set[bytes] = set()
        self.told: list[str] = []
        self.last = "submit"

    def step(self) -> None:
        name = NAMES[0] if self.random.random() < 0.85 else NAMES[1]
        program = self.programs[name]
        weights = self._weights(program)
        act = self.random.choices(list(weights), list(weights.values()))[0]
        if self.random.random() < 0.15:
            act = self.last  # the same again: a replayed request, a second thought
        self.last = act
        if act in ("submit", "publish", "go_back", "wait") or program.revisions:
            self._compare(act, name, program)

    def _weights(self, program: Program) -> dict[str, float]:
        """How likely each act is: what can be done now mostly, and all the rest now and then."""
        states = {r.state for r in program.revisions}
        here, trial = program.current() is not None, "prove-out" in states
        return {
            "submit": 3 if states & {"held", "cleared"} else 8,
            "decide": 6 if "held" in states else 1,
            "check_again": 2 if "held" in states else 0.5,
            "release": 8 if "cleared" in states else 1,
            "publish": 4 if here else 0.3,
            "confirm": 4 if here else 0.5,
            "read_back": 2 if here else 0.5,
            "confirm_back": 3 if here and program.readbacks else 0.5,
            "prove": 4 if trial else 0.3,
            "accept": 1,
            "withdraw_acceptance": 0.8 if program.acceptances else 0.2,
            "recall": 0.6,
            "withdraw": 0.8,
            "go_back": 4 if program.before() else 0.7,
            "wait": 0.6,
        }

    def _compare(self, act: str, name: str, program: Program) -> None:
        try:
            wanted = getattr(self, "_" + act)(name, program)
            got = ""
        except ActRefused as error:
            got, wanted = error.code, self.wanted
        self.told.append(f"{act} {name}: {got or 'done'}")
        if got != wanted:
            raise Mismatch(f"{act} {name}: the records say {got!r}, the rules {wanted!r}; {self.told[-12:]}")
        rows = self.t.shop.database.rows(
            "SELECT p.name, v.n, v.state, EXISTS(SELECT 1 FROM release r WHERE r.revision=v.id AND r.ended_us IS NULL)"
            " AS here FROM revision v JOIN program p ON p.id=v.program ORDER BY p.name, v.n"
        )
        stored = [(r["name"], r["n"], r["state"], bool(r["here"])) for r in rows]
        meant = [
            (label, r.n, r.state, one.stands(r) is not None)
            for label, one in self.programs.items()
            for r in one.revisions
        ]
        if stored != meant:
            raise Mismatch(f"after {act}: {stored}, not {meant}; {self.told[-12:]}")

    def _who(self, *likely: str) -> str:
        return self.random.choice(likely) if self.random.random() < 0.85 else self.random.choice(PEOPLE)

    def _id(self, who: str) -> int:
        return int(getattr(self.t, who))

    def _pick(self, program: Program, *states: str) -> Revision:
        fit = [r for r in program.revisions if r.state in states]
        return self.random.choice(fit if fit and self.random.random() < 0.85 else program.revisions)

    def _standing(self, program: Program) -> Revision:
        here = program.current()
        return here.revision if here and self.random.random() < 0.85 else self._pick(program, "released", "retired")

    def _number(self, revision: Revision) -> int:
        return self.ids[id(revision)]

    def _expect(self, wanted: str) -> str:
        self.wanted = wanted
        return wanted

    def _submit(self, name: str, program: Program) -> str:
        body = self.random.choice(BODIES)
        under, proven = program.ground(body)
        if self.random.random() < 0.1:
            under = self.random.choice((None, *BODIES))
        if self.random.random() < 0.1:
            proven = self.random.choice((None, *BODIES))
        if under is None or proven == under:
            proven = None
        chosen = self.random.random
        accepted = self._accepted(program.acceptances, 0.05)
        review = Review(
            under, proven, "p1" if chosen() < 0.8 else "p2", chosen() < 0.4, chosen() < 0.3, False, "", accepted
        )
        facts = self._report(body, review)
        who = self._who("ann", "ann", "ann", "ben", "dot")
        wanted = self._expect(program.submit(who, body, review, self.kept))
        done = submitting.submit(self.t.shop, self._id(who), name, "L1", body, "because", [facts])
        if wanted:
            return wanted
        self.ids[id(next(r for r in program.revisions if r.body == body))] = done.id
        return wanted

    def _accepted(self, known: Sequence[Acceptance], often: float) -> tuple[Acceptance, ...]:
        """What a report rests on: of each key the newest acceptance that holds; so often one that was withdrawn just now."""
        late = self.random.random() < often
        return tuple({one.key: one for one in known if late or not one.ended}.values())

    def _report(self, body: bytes, review: Review) -> records.ReportFacts:
        return report(
            body,
            review.base,
            proven_sha=None if review.proven is None else sha256(review.proven).hexdigest(),
            policy_digest=digest(review.policy),
            sign_off_required=review.needs,
            sign_off_reasons=("feed",) if review.needs else (),
            has_critical=review.critical,
            hazards={"clamp": None, "coolant": None, "touched": None}
            | {one.key: self.numbers[id(one)] for one in review.accepted},
        )

    def _decide(self, name: str, program: Program) -> str:
        r = self._pick(program, "held")
        late = [one for one in program.revisions if one.state == "held" and one.review.told_too_little]
        if late and self.random.random() < 0.7:
            r = late[-1]
        old = self.random.choice(r.reviews) if self.random.random() < 0.3 else r.review
        verdict = self.random.choice(("approve", "approve", "prove-out", "turn back"))
        who, again = self._who("ben", "cid", "cid"), self.random.random() < 0.95
        now = self.t.clock.now + 2000
        ticked = self._ticked(r)
        wanted = self._expect(program.decide(who, r, verdict, old.key, ticked, again, now))
        where = {"machine": "L1", "days": 2} if verdict == "prove-out" else {}
        seen = self._report(r.body, old).digest
        deciding.decide(
            self.t.shop,
            self._id(who),
            self._number(r),
            verdict,
            "looked",
            seen,
            reauthenticated=again,
            ticked=[TICKS[k] for k in sorted(ticked)],
            challenge=WORDS,
            **where,  # type: ignore[arg-type]
        )
        return wanted

    def _ticked(self, r: Revision) -> set[int]:
        """Which of the two critical findings are ticked: mostly those there are, at times others."""
        if self.random.random() < 0.8:
            return {0, 1} if r.review.critical else set()
        return {k for k in (0, 1) if self.random.random() < 0.5}

    def _check_again(self, name: str, program: Program) -> str:
        r, who, often = self._pick(program, "held"), self._who("ann", "ben", "cid"), self.random.random
        under, proven = program.ground(r.body)
        if often() < 0.15:  # something went to the machine while the report was computed
            under, proven = self.random.choice((None, *BODIES)), None
        policy = r.review.policy if often() < 0.6 else self.random.choice(("p1", "p2"))
        needs, critical = (r.review.needs, r.review.critical) if often() < 0.7 else (often() < 0.4, often() < 0.3)
        now = Review(under, proven, policy, needs, critical, False, "", self._accepted(r.review.accepted, 0.1))
        wanted = self._expect(program.check_again(who, r, now))
        done = rechecking.check_again(self.t.shop, self._id(who), self._number(r), [self._report(r.body, now)])
        if set(done.authors) != r.authors or done.report_digest != self._report(r.body, now).digest:
            raise Mismatch(f"checked again, it is by {done.authors}, not {r.authors}, or on another report")
        return wanted

    def _release(self, name: str, program: Program) -> str:
        r = self._pick(program, "cleared")
        who = self._who("ann", "ben", "cid")
        policy = r.review.policy if self.random.random() < 0.85 else self.random.choice(("p1", "p2"))
        accepted = self._accepted(r.review.accepted, 0.4)
        now = Review(*program.ground(r.body), policy, r.review.needs, r.review.critical, False, "", accepted)
        wanted = self._expect(program.release(who, r, policy, accepted))
        releasing.release(self.t.shop, self._id(who), self._number(r), "go", [self._report(r.body, now)], WORDS)
        return wanted

    def _publish(self, name: str, program: Program) -> str:
        for one in self.programs.values():
            one.publish()
        for job in records.pending_jobs(self.t.shop):
            records.finish_job(self.t.shop, job.id, job.sha if job.kind == "write" else None)
        return self._expect("")

    def _confirm(self, name: str, program: Program) -> str:
        r = self._standing(program)
        who, right = self._who("dot"), self.random.random() < 0.9
        wanted = self._expect(program.confirm(who, r, right))
        code = CODE if right else "ZZZZ9999"
        shop, number = self.t.shop, self._number(r)
        confirming.confirm_by_check_code(shop, self._id(who), "L1", number, code, TYPED, reauthenticated=True)
        return wanted

    def _read_back(self, name: str, program: Program) -> str:
        r = self._standing(program)
        who, equal = self._who("dot"), self.random.random() < 0.6
        sent = r.body if equal else BODIES[-1]
        equal = sent == r.body
        wanted = self._expect(program.read_back(who, r, sent, self.t.clock.now + 1000))
        told = [] if equal else ["block 1"]
        done = readbacks.record_readback(self.t.shop, self._id(who), "L1", self._number(r), sent, equal, told)
        self.kept.add(sent)
        if done.again is not program.again or self.backs.setdefault((name, program.answered), done.id) != done.id:
            raise Mismatch(f"read-back {done.id} (again: {done.again}) is not the one that the rules give")
        return wanted

    def _confirm_back(self, name: str, program: Program) -> str:
        if not program.readbacks:
            return ""
        back = len(program.readbacks) - (
            1 if self.random.random() < 0.7 else self.random.randint(1, len(program.readbacks))
        )
        r = program.readbacks[back].revision if self.random.random() < 0.9 else self.random.choice(program.revisions)
        who = self._who("dot")
        wanted = self._expect(program.confirm_back(who, r, back))
        shop, number = self.t.shop, self.backs[(name, back)]
        confirming.confirm_by_readback(shop, self._id(who), "L1", self._number(r), number, reauthenticated=True)
        return wanted

    def _prove(self, name: str, program: Program) -> str:
        r, who = self._pick(program, "prove-out"), self._who("dot")
        wanted = self._expect(program.prove(who, r, self.t.clock.now + 1000))
        shop, number = self.t.shop, self._number(r)
        confirming.confirm_prove_out(shop, self._id(who), "L1", number, readings="25.01", reauthenticated=True)
        return wanted

    def _accept(self, name: str, program: Program) -> str:
        r = self._pick(program, "held", "cleared", "released")
        seen = self.random.choice(r.reviews) if self.random.random() < 0.3 else r.review
        who, again = self._who("ben", "cid", "cid"), self.random.random() < 0.95
        key = self.random.choice(("clamp", "coolant", "clamp", "coolant", "touched", "strange"))
        wanted = self._expect(program.accept(who, r, key, seen.key, again))
        at, shown = (self._number(r), digest(key)), self._report(r.body, seen).digest
        done = accepting.accept(self.t.shop, self._id(who), *at, "looked", shown, reauthenticated=again)
        if not wanted:
            self.numbers[id(program.acceptances[-1])] = done.id
        return wanted

    def _withdraw_acceptance(self, name: str, program: Program) -> str:
        if not program.acceptances:
            return self._expect("")
        waiting = [r.review for r in program.revisions if r.state in ("held", "cleared")]
        used = [one for review in waiting for one in review.accepted if not one.ended]
        one = self.random.choice(used if used and self.random.random() < 0.8 else program.acceptances)
        who, again = self._who("ben", "cid"), self.random.random() < 0.95
        wanted = self._expect(program.withdraw_acceptance(who, one, again))
        number = self.numbers[id(one)]
        accepting.withdraw_acceptance(self.t.shop, self._id(who), number, "cut", reauthenticated=again)
        return wanted

    def _recall(self, name: str, program: Program) -> str:
        r, who = self._pick(program, "released", "prove-out", "retired"), self._who("ben", "cid")
        wanted = self._expect(program.recall(who, r))
        recalling.recall(self.t.shop, self._id(who), self._number(r), "bad")
        return wanted

    def _withdraw(self, name: str, program: Program) -> str:
        r, who = self._pick(program, "held", "cleared"), self._who("ann", "ben")
        wanted = self._expect(program.withdraw(who, r))
        submitting.withdraw(self.t.shop, self._id(who), self._number(r), "not yet")
        return wanted

    def _go_back(self, name: str, program: Program) -> str:
        who = self._who("dot", "cid")
        here = program.current()
        leaving = here.revision if here else None
        if program.revisions and self.random.random() < 0.1:
            leaving = self.random.choice(program.revisions)
        wanted = self._expect(program.go_back(who, leaving))
        number = self._number(leaving) if leaving else None
        recalling.go_back(self.t.shop, self._id(who), name, "L1", number, "chatter")
        return wanted

    def _wait(self, name: str, program: Program) -> str:
        self.t.clock.now += self.random.choice((DAY // 2, DAY, 3 * DAY))
        for one in self.programs.values():
            one.end_overdue(self.t.clock.now + 1000)
        recalling.end_overdue(self.t.shop)
        return self._expect("")
