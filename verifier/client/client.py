"""The acts of a running service as methods, one for each operation of its API."""

from __future__ import annotations

import base64
import json
import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from verifier.client.facts import fact, release_fact
from verifier.client.transport import Transport
from verifier.desk import Released
from verifier.floor import JobResult
from verifier.records import (
    AcceptanceFacts,
    ConfirmationFacts,
    HistoryEntry,
    MachineFacts,
    ProgramFacts,
    ReadbackFacts,
    ReleaseFacts,
    RevisionFacts,
    StopNotice,
)

_API = "/api/v1"


@dataclass(frozen=True, slots=True)
class Told:
    """A submission as it now stands, and its reports in words: as told at first, and with everything."""

    revision: RevisionFacts
    texts: tuple[tuple[str, str], ...]
    near: Mapping[str, Any] | None = None


def _new_key() -> str:
    return secrets.token_hex(16)


class Client:
    """A service at an address, for the person whose token it is. `new_key` makes the key that lets an act be repeated."""

    def __init__(self, base_url: str, token: str, *, new_key: Callable[[], str] = _new_key, **transport: Any) -> None:
        """`transport`: timeout, tries, sleep, verify; see Transport."""
        self._transport = Transport(base_url, token, **transport)
        self._new_key = new_key

    def close(self) -> None:
        """Close the connections."""
        self._transport.close()

    def _get(self, path: str, **query: str | int) -> Any:
        return self._transport.ask("GET", _API + path, query=query)

    def _post(self, path: str, body: Mapping[str, Any]) -> Any:
        given = {name: value for name, value in body.items() if value is not None}
        return self._transport.ask("POST", _API + path, body=given, key=self._new_key())

    # -- what stands where -------------------------------------------------------------------------------------------

    def me(self) -> Mapping[str, Any]:
        """Login, full name, roles and scopes of this token."""
        found: Mapping[str, Any] = self._get("/me")
        return found

    def openapi(self) -> Mapping[str, Any]:
        """The document of the API."""
        found: Mapping[str, Any] = self._get("/openapi.json")
        return found

    def programs(self, after: int = 0, most: int = 100) -> tuple[ProgramFacts, ...]:
        """Programs with an id above `after`, by id."""
        return tuple(fact(ProgramFacts, one) for one in self._get("/programs", after=after, most=most)["programs"])

    def in_state(self, state: str) -> tuple[RevisionFacts, ...]:
        """Every revision in one state."""
        return tuple(fact(RevisionFacts, one) for one in self._get("/revisions", state=state)["revisions"])

    def revisions(self, target: str, program: str) -> tuple[RevisionFacts, ...]:
        """Every revision of a program, oldest first."""
        found = self._get(_program(target, program) + "/revisions")["revisions"]
        return tuple(fact(RevisionFacts, one) for one in found)

    def revision(self, target: str, program: str, n: int) -> RevisionFacts:
        """Revision n of a program."""
        return fact(RevisionFacts, self._get(_revision(target, program, n))["revision"])

    def reports(self, target: str, program: str, n: int) -> tuple[Mapping[str, Any], ...]:
        """The reports that revision n stands on; `report` of each is its stored JSON."""
        return tuple(self._get(_revision(target, program, n))["reports"])

    def nearest(self, target: str, program: str, n: int) -> Mapping[str, Any]:
        """Revision n beside the nearest program of the library, for information: `near`, `text`, `report`; all None where none is near."""
        found: Mapping[str, Any] = self._get(_revision(target, program, n) + "/nearest")
        return found

    def history(self, target: str, program: str) -> tuple[HistoryEntry, ...]:
        """Every act on a program, oldest first."""
        found = self._get(_program(target, program) + "/history")["entries"]
        return tuple(fact(HistoryEntry, one, body=json.dumps(one["body"], ensure_ascii=False)) for one in found)

    def acceptances(self, target: str, program: str) -> tuple[AcceptanceFacts, ...]:
        """Every acceptance of a hazard of a program, oldest first."""
        found = self._get(_program(target, program) + "/acceptances")["acceptances"]
        return tuple(fact(AcceptanceFacts, one) for one in found)

    def machines(self) -> tuple[MachineFacts, ...]:
        """Every machine."""
        return tuple(fact(MachineFacts, one) for one in self._get("/machines")["machines"])

    def at_machine(self, machine: str) -> tuple[ReleaseFacts, ...]:
        """What a machine should hold now."""
        return tuple(release_fact(one) for one in self._get(f"/machines/{_part(machine)}")["releases"])

    def readbacks(self, machine: str, program: str) -> tuple[ReadbackFacts, ...]:
        """Every read-back of a program at a machine, oldest first."""
        found = self._get(f"/machines/{_part(machine)}/programs/{_part(program)}/readbacks")["readbacks"]
        return tuple(fact(ReadbackFacts, one) for one in found)

    def readback_by_number(self, number: int) -> tuple[ReadbackFacts, bytes]:
        """A read-back, and the bytes that the control sent."""
        found = self._get(f"/readbacks/{number}")
        return fact(ReadbackFacts, found["readback"]), base64.b64decode(found["sent"], validate=True)

    def rules(self) -> tuple[Mapping[str, Any], ...]:
        """Every rule."""
        return tuple(self._get("/rules")["rules"])

    # -- the acts ----------------------------------------------------------------------------------------------------

    def submit(
        self, target: str, program: str, body: bytes, reason: str,
        *, setup: bytes | None = None, beside: Sequence[str] = (),
    ) -> Told:  # fmt: skip
        """Hand in a program; `beside` names called programs whose open revisions go with it."""
        given: dict[str, Any] = {"program": _b64(body), "reason": reason, "beside": list(beside)}
        given["setup"] = None if setup is None else _b64(setup)
        found = self._post(_program(target, program) + "/revisions", given)
        return Told(fact(RevisionFacts, found["revision"]), _texts(found), found.get("near"))

    def check_again(self, target: str, program: str, n: int, pin: str) -> Told:
        """Put a held revision on reports computed now."""
        found = self._post(_revision(target, program, n) + "/check-again", {"pin": pin})
        return Told(fact(RevisionFacts, found["revision"]), _texts(found))

    def decide(
        self, target: str, program: str, n: int, pin: str, verdict: str, reason: str, report: str,
        *, ticked: Sequence[str] = (), machine: str | None = None, days: int | None = None,
    ) -> RevisionFacts:  # fmt: skip
        """A lead's decision, bound to the report with that digest; `ticked`: the new critical findings that were read."""
        given: dict[str, Any] = {"pin": pin, "verdict": verdict, "reason": reason, "report": report}
        given |= {"ticked": list(ticked), "machine": machine, "days": days}
        return fact(RevisionFacts, self._post(_revision(target, program, n) + "/decision", given))

    def accept(
        self, target: str, program: str, n: int, pin: str, hazard: str, reason: str, report: str
    ) -> AcceptanceFacts:
        """A lead's acceptance of a standing hazard, by its key in the report with that digest."""
        given = {"pin": pin, "hazard": hazard, "reason": reason, "report": report}
        return fact(AcceptanceFacts, self._post(_revision(target, program, n) + "/acceptances", given))

    def withdraw_acceptance(self, target: str, program: str, number: int, pin: str, reason: str) -> AcceptanceFacts:
        """Withdraw an acceptance."""
        path = _program(target, program) + f"/acceptances/{number}/withdrawal"
        return fact(AcceptanceFacts, self._post(path, {"pin": pin, "reason": reason}))

    def release(
        self, target: str, program: str, n: int, pin: str, reason: str, *, beside: Sequence[str] = ()
    ) -> Released:
        """Release a cleared revision, and in the same act the open ones of the programs named `beside`."""
        given = {"pin": pin, "reason": reason, "beside": list(beside)}
        return _released(self._post(_revision(target, program, n) + "/release", given))

    def withdraw(self, target: str, program: str, n: int, pin: str, reason: str) -> RevisionFacts:
        """Withdraw a revision of one's own."""
        given = {"pin": pin, "reason": reason}
        return fact(RevisionFacts, self._post(_revision(target, program, n) + "/withdrawal", given))

    def recall(self, target: str, program: str, n: int, pin: str, reason: str) -> StopNotice:
        """Recall a revision at once."""
        return fact(StopNotice, self._post(_revision(target, program, n) + "/recall", {"pin": pin, "reason": reason}))

    def readback(self, target: str, program: str, n: int, sent: bytes, *, machine: str | None = None) -> ReadbackFacts:
        """Compare what a control sent back."""
        given = {"program": _b64(sent), "machine": machine}
        return fact(ReadbackFacts, self._post(_revision(target, program, n) + "/readbacks", given))

    def confirm(
        self, target: str, program: str, n: int, pin: str, *, machine: str | None = None, readback: int | None = None,
        code: str | None = None, words: tuple[str, ...] = (), readings: str | None = None,
    ) -> ConfirmationFacts:  # fmt: skip
        """An operator's confirmation: by a read-back, by a check code with two words, or by readings."""
        given = {"pin": pin, "machine": machine, "readback": readback, "code": code, "readings": readings}
        path = _revision(target, program, n) + "/confirmations"
        return fact(ConfirmationFacts, self._post(path, {**given, "words": list(words)}))

    def take_over(
        self, target: str, program: str, n: int, pin: str, *, machine: str | None = None
    ) -> tuple[JobResult, ...]:
        """Let a waiting file appear."""
        found = self._post(_revision(target, program, n) + "/take-over", {"pin": pin, "machine": machine})
        return tuple(fact(JobResult, one) for one in found["jobs"])

    def go_back(self, target: str, program: str, pin: str, reason: str, *, machine: str | None = None) -> Released:
        """Go back to the revision last proven at the machine."""
        given = {"pin": pin, "reason": reason, "machine": machine}
        return _released(self._post(_program(target, program) + "/go-back", given))

    def write_again(self, target: str, program: str, pin: str, reason: str, *, machine: str | None = None) -> Released:
        """Write the released file again."""
        given = {"pin": pin, "reason": reason, "machine": machine}
        return _released(self._post(_program(target, program) + "/write-again", given))


def _released(found: Mapping[str, Any]) -> Released:
    return Released(
        tuple(release_fact(one) for one in found["releases"]), tuple(fact(JobResult, one) for one in found["jobs"])
    )


def _texts(found: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((one["text"], one["everything"]) for one in found["reports"])


def _part(name: str) -> str:
    return quote(name, safe="")


def _program(target: str, program: str) -> str:
    return f"/programs/{_part(target)}/{_part(program)}"


def _revision(target: str, program: str, n: int) -> str:
    return f"{_program(target, program)}/revisions/{n}"


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
