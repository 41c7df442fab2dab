"""A second, small statement of the rules: one machine, its programs, and what each act must answer.

It shares no code with the records and knows no SQL: lists and sets in memory, one method per act, each giving the code
of the refusal or an empty word. States of revisions are compared after every act.
"""

from __future__ import annotations

from dataclasses import dataclass, field

ROLES = {"ann": "p", "ben": "pl", "cid": "l", "dot": "o", "admin": "a"}
DAY = 86_400_000_000
HOUR = DAY // 24


@dataclass(eq=False)
class Acceptance:
    """One hazard accepted: `number` is its place in the list of its program."""

    key: str
    number: int
    ended: bool = False


@dataclass
class Review:
    base: bytes | None
    proven: bytes | None
    policy: str
    needs: bool
    critical: bool
    clear: bool
    verdict: str = ""
    accepted: tuple[Acceptance, ...] = ()

    @property
    def key(self) -> tuple[object, ...]:
        """What the report's digest follows from."""
        return (self.base, self.proven, self.policy, self.needs, self.critical, self.accepted)

    @property
    def told_too_little(self) -> bool:
        """Whether an acceptance that it rests on has been withdrawn."""
        return any(one.ended for one in self.accepted)


@dataclass
class Revision:
    n: int
    body: bytes
    state: str = "submitted"
    reviews: list[Review] = field(default_factory=list)
    authors: set[str] = field(default_factory=set)

    @property
    def review(self) -> Review:
        return self.reviews[-1]


@dataclass
class Release:
    number: int
    revision: Revision
    review: Review
    kind: str
    origin: int
    ends: int | None = None
    ended: bool = False
    recalled: bool = False
    written: int = 0
    confirmed: bool = False


@dataclass
class Readback:
    revision: Revision
    equal: bool
    moment: int
    who: str
    body: bytes
    at: int
    used: bool = False


class Program:
    def __init__(self) -> None:
        self.revisions: list[Revision] = []
        self.releases: list[Release] = []
        self.readbacks: list[Readback] = []
        self.acceptances: list[Acceptance] = []
        self.moment = 0
        self.again, self.answered = False, 0

    # -- what stands where

    def base(self) -> Revision | None:
        kept = [r for r in self.releases if r.kind != "prove-out" and not r.recalled]
        return kept[-1].revision if kept else None

    def proven(self, body: bytes) -> bytes | None:
        """What was last confirmed here, where that is not the base; going back is only ever to what was confirmed.

        That a body itself went well in its prove-out is not what it is compared with.
        """
        fit = [
            r
            for r in self.releases
            if (r.confirmed or r.kind == "return")
            and not r.recalled
            and r.revision.state != "turned back"
            and not (r.kind == "prove-out" and r.revision.body == body)
        ]
        base = self.base()
        return None if base is None or not fit or fit[-1].revision is base else fit[-1].revision.body

    def ground(self, body: bytes) -> tuple[bytes | None, bytes | None]:
        base = self.base()
        return (base.body if base else None, self.proven(body))

    def stale(self, body: bytes, review: Review) -> str:
        """Whether a report on a body is still about what stands here."""
        base, proven = self.ground(body)
        if review.base != base:
            return "stale_base"
        return "stale_proven" if review.proven != proven else ""

    def current(self) -> Release | None:
        return next((r for r in self.releases if not r.ended), None)

    def stands(self, revision: Revision) -> Release | None:
        now = self.current()
        return now if now is not None and now.revision is revision else None

    def before(self) -> Release | None:
        if not self.releases:
            return None
        last = self.releases[-1]
        fit = [
            r
            for r in self.releases
            if r.origin < last.origin
            and r.revision is not last.revision
            and r.confirmed
            and not r.recalled
            and r.revision.state != "turned back"
        ]
        return max(fit, key=lambda r: (r.origin, r.number)) if fit else None

    # -- what acts share

    def put(self, revision: Revision, kind: str, review: Review, origin: int | None, ends: int | None) -> None:
        now = self.current()
        if now is not None:
            now.ended = True
        self.moment += 1
        number = len(self.releases) + 1
        self.releases.append(Release(number, revision, review, kind, origin or number, ends))

    def take(self, revision: Revision) -> None:
        for release in self.releases:
            if release.revision is revision:
                self.moment += not release.ended
                release.recalled = True
                release.ended = True
        revision.state = "recalled"

    def retire(self, keep: Revision) -> None:
        for revision in self.revisions:
            if revision.state == "released" and revision is not keep and self.stands(revision) is None:
                revision.state = "retired"

    def trial_in_the_way(self, revision: Revision) -> bool:
        now = self.current()
        return (
            now is not None
            and now.kind == "prove-out"
            and now.revision is not revision
            and now.revision.state == "prove-out"
        )

    def judge(self, revision: Revision, review: Review, before: str) -> None:
        review.clear = not (review.base is None or review.needs or before in ("turned back", "recalled"))
        revision.reviews.append(review)
        revision.state = "cleared" if review.clear else "held"

    # -- the acts

    def submit(self, who: str, body: bytes, review: Review, kept: set[bytes]) -> str:
        if not set(ROLES[who]) & set("pl") and not ("o" in ROLES[who] and body in kept):
            return "wrong_role"
        stale = self.stale(body, review)
        if stale:
            return stale
        found = next((r for r in self.revisions if r.body == body), None)
        if found is None:
            found = Revision(len(self.revisions) + 1, body)
            self.revisions.append(found)
        if found.state == "prove-out":
            return "in_prove_out"
        kept_to = found.state == "released" and found.review.policy == review.policy
        if kept_to and self.stands(found) and not found.review.told_too_little:
            return "already_released"
        if review.told_too_little:
            if not found.reviews:
                self.revisions.remove(found)
            return "stale_accepted"
        self.judge(found, review, found.state)
        found.authors.add(who)
        return ""

    def decide(
        self, who: str, r: Revision, verdict: str, seen: tuple[object, ...], ticked: set[int], again: bool, now: int
    ) -> str:
        if "l" not in ROLES[who]:
            return "wrong_role"
        if not again:
            return "sign_in_again"
        if who in r.authors:
            return "own_revision"
        if r.review.verdict:
            return "already_decided"
        if r.state != "held":
            return "not_held"
        if seen != r.review.key:
            return "stale_report"
        stale = self.stale(r.body, r.review)
        if stale or r.review.told_too_little:
            return stale or "stale_accepted"
        wanted = {0, 1} if r.review.critical else set()
        if ticked - wanted:
            return "unknown_finding"
        if verdict != "turn back" and wanted - ticked:
            return "not_ticked"
        if verdict == "prove-out" and self.trial_in_the_way(r):
            return "prove_out_running"
        r.review.verdict = verdict
        if verdict == "approve":
            r.state = "cleared"
        elif verdict == "turn back":
            r.state = "released" if self.stands(r) else "turned back"
        else:
            r.state = "prove-out"
            self.put(r, "prove-out", r.review, None, now + 2 * DAY)
        return ""

    def check_again(self, who: str, r: Revision, now: Review) -> str:
        """A held revision is put on another report: it stays held and its author's, and nothing is decided on it yet."""
        if not set(ROLES[who]) & set("pl"):
            return "wrong_role"
        if r.state != "held":
            return "not_held"
        stale = self.stale(r.body, now)
        if stale:
            return stale
        if now.key == r.review.key and not r.review.told_too_little:
            return "report_fits"
        if now.told_too_little:
            return "stale_accepted"
        r.reviews.append(now)
        return ""

    def release(self, who: str, r: Revision, policy: str, accepted: tuple[Acceptance, ...]) -> str:
        if not set(ROLES[who]) & set("pl"):
            return "wrong_role"
        if "l" not in ROLES[who] and who not in r.authors:
            return "wrong_role"
        if r.state != "cleared":
            return "not_cleared"
        base = self.base()
        body, proven = self.ground(r.body)
        if base is not None and base.n > r.n and body != r.review.base:
            return "older_revision"
        old = r.review
        same = (body, proven, policy, accepted) == (old.base, old.proven, old.policy, old.accepted)
        if not same or old.told_too_little:
            if any(one.ended for one in accepted):
                return "stale_accepted"
            self.judge(r, Review(body, proven, policy, True, old.critical, False, "", accepted), "cleared")
            r.review.needs = old.needs
            return "changed_since"
        if self.trial_in_the_way(r):
            return "prove_out_running"
        r.state = "released"
        self.put(r, "full", r.review, None, None)
        self.retire(r)
        return ""

    def accept(self, who: str, r: Revision, key: str, seen: tuple[object, ...], again: bool) -> str:
        if "l" not in ROLES[who]:
            return "wrong_role"
        if not again:
            return "sign_in_again"
        if who in r.authors:
            return "own_revision"
        if r.state not in ("held", "cleared", "prove-out", "released"):
            return "wrong_state"
        if seen != r.review.key:
            return "stale_report"
        if key not in ("clamp", "coolant"):
            return "unknown_hazard"
        if any(one.key == key and not one.ended for one in self.acceptances):
            return "already_accepted"
        self.acceptances.append(Acceptance(key, len(self.acceptances)))
        return ""

    def withdraw_acceptance(self, who: str, one: Acceptance, again: bool) -> str:
        if "l" not in ROLES[who]:
            return "wrong_role"
        if not again:
            return "sign_in_again"
        if one.ended:
            return "already_withdrawn"
        one.ended = True
        return ""

    def recall(self, who: str, r: Revision) -> str:
        if "l" not in ROLES[who]:
            return "wrong_role"
        here = r.state in ("held", "cleared") and self.stands(r)
        if r.state not in ("released", "prove-out", "retired") and not here:
            return "wrong_state"
        self.take(r)
        return ""

    def withdraw(self, who: str, r: Revision) -> str:
        if who not in r.authors:
            return "not_the_author"
        if r.state not in ("held", "cleared"):
            return "wrong_state"
        here = self.stands(r)
        if here is not None and here.kind == "prove-out":
            return "at_machine"
        ever = any(x.revision is r and x.kind != "prove-out" and not x.recalled for x in self.releases)
        r.state = "released" if here else "retired" if ever else "withdrawn"
        return ""

    def publish(self) -> None:
        now = self.current()
        if now is not None and not now.written:
            self.moment += 1
            now.written = self.moment

    def confirm(self, who: str, r: Revision, right: bool) -> str:
        if "o" not in ROLES[who]:
            return "wrong_role"
        here = self.stands(r)
        if here is None:
            return "not_the_release"
        if not here.written:
            return "not_at_machine"
        if here.review.critical:
            return "needs_readback"
        if not right:
            return "wrong_code"
        here.confirmed = True
        return ""

    def read_back(self, who: str, r: Revision, body: bytes, now: int) -> str:
        """`answered` is then the read-back's place in the list, `again` whether it was there already."""
        if not set(ROLES[who]) & set("ol"):
            return "wrong_role"
        if not any(x.revision is r for x in self.releases):
            return "readback_of_another"
        last = self.readbacks[-1] if self.readbacks else None
        self.again = (
            last is not None
            and not last.used
            and (last.revision, last.body, last.who, last.moment) == (r, body, who, self.moment)
            and now - last.at <= HOUR
        )
        if not self.again:
            self.moment += 1
            self.readbacks.append(Readback(r, body == r.body, self.moment, who, body, now))
        self.answered = len(self.readbacks) - 1
        return ""

    def confirm_back(self, who: str, r: Revision, back: int) -> str:
        if "o" not in ROLES[who]:
            return "wrong_role"
        here = self.stands(r)
        if here is None:
            return "not_the_release"
        if not here.written:
            return "not_at_machine"
        code = self._usable(self.readbacks[back], r, here)
        if code or not self.readbacks[back].equal:
            return code or "readback_differs"
        self.readbacks[back].used = True
        here.confirmed = True
        return ""

    def _usable(self, back: Readback, r: Revision, here: Release) -> str:
        if back.revision is not r:
            return "readback_of_another"
        if back.moment < here.written:
            return "readback_before_release"
        return "readback_used" if back.used else ""

    def prove(self, who: str, r: Revision, now: int) -> str:
        if "o" not in ROLES[who]:
            return "wrong_role"
        here = self.stands(r)
        if here is None or here.kind != "prove-out" or r.state != "prove-out":
            return "not_in_prove_out"
        if not here.written:
            return "not_at_machine"
        if here.ends is not None and now >= here.ends:
            return "prove_out_over"
        here.confirmed = True
        r.state = "cleared"
        return ""

    def end_overdue(self, now: int) -> None:
        here = self.current()
        if here is not None and here.ends is not None and here.ends <= now and here.revision.state == "prove-out":
            self.take(here.revision)

    def go_back(self, who: str, leaving: Revision | None) -> str:
        if not set(ROLES[who]) & set("ol"):
            return "wrong_role"
        if not self.revisions:
            return "unknown_program"
        here = self.current()
        if leaving is not (here.revision if here else None):
            return "stale_page"
        to = self.before()
        if to is None:
            return "nothing_proven"
        if here is not None and here.revision.state == "prove-out":
            self.take(here.revision)
        self.put(to.revision, "return", to.review, to.origin, None)
        if to.revision.state == "retired":
            to.revision.state = "released"
        self.retire(to.revision)
        return ""
