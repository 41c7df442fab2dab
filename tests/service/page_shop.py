"""The shop of the random acts by pages and API: its people and machine, its programs, and what the library says of each change."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from page_walk import BASE
from service_shop import PASSWORD, PIN, HandClock, Ids

from verifier import examine, records, review
from verifier.desk import Desk, password_hash, pin_hash, server_key
from verifier.findings import default_policy, policy_text
from verifier.machines import generic_lathe
from verifier.report import to_be_seen, to_json

EDITS: dict[str, tuple[str, str]] = {
    "A": ("X48.", "X48."),
    "B": ("X48.", "X47.6"),
    "C": ("N60 ", "N65 "),
    "D": ("N40 G50 S1800\n", ""),
    "A edited": ("F0.25", "F0.4"),
}
"""What the programs are: a change of a diameter, one of wording, one that is critical, and an edit at the control."""

POLICIES = {f"p{n}": policy_text(default_policy()).replace("version = 1", f"version = {n}").encode() for n in (1, 2)}


@cache
def body_of(name: str, kind: str) -> bytes:
    return BASE.replace("O0042", name).replace(*EDITS[kind]).encode()


@cache
def judged(base: bytes | None, proven: bytes | None, body: bytes) -> tuple[bool, bool]:
    """Whether a change needs a lead, and whether it has a new critical finding: by the library, with the policy's defaults."""
    report = examine(body) if base is None else review(base, body, proven=proven)
    return report.sign_off.required, bool(to_be_seen(to_json(report)))


def make_model_shop(folder: Path) -> None:
    """The people and the machine of the model, with secrets."""
    clock, ids = HandClock(), Ids()
    with records.init_shop(folder, "Model shop", ("admin", "First One"), clock=clock, new_id=ids) as shop:
        desk, by = Desk(shop, ids), records.find_person(shop, "admin").id
        for login, name, roles in (
            ("ann", "Programmer A", ["programmer"]),
            ("ben", "Programmer and Lead B", ["programmer", "lead"]),
            ("cid", "Lead C", ["lead"]),
            ("dot", "Operator D", ["operator"]),
        ):
            records.add_person(shop, by, login, name, roles)
        password, pin = password_hash(PASSWORD), pin_hash(server_key(folder), PIN)
        for person in records.people(shop):
            records.set_secret_hash(shop, by, person.id, password=password, pin=pin)
            secret = f"token-of-{person.login}"
            records.make_token(shop, person.id, "driver", secret, records.SCOPES, 366)
        desk.add_machine(
            "admin", generic_lathe(), name="L1", folder="floor/L1", group=None, extension=".NC", takeover=False
        )
        desk.set_policy("cid", POLICIES["p1"], "p1", "to begin with")


def with_kept_reports(desk: ModuleType) -> None:
    """Let a desk's module keep the reports that it computed: they are pure, and the same few come again and again."""
    kept: dict[object, object] = {}

    def once(compute: Callable[..., Any]) -> Callable[..., Any]:
        def given(*programs: Any, **around: Any) -> Any:
            proven = around.get("proven")
            compared = (*programs, *([proven] if proven else []))
            key = (
                compute,
                *(p.source.sha256 for p in compared),
                around["policy"].digest,
                around["machine"].digest,
                around.get("accepted"),
            )
            if key not in kept:
                kept[key] = compute(*programs, **around)
            return kept[key]

        return given

    desk.reviewed, desk.examined = once(desk.reviewed), once(desk.examined)  # type: ignore[attr-defined]
