"""The table of refusals: complete, and each told with the right status."""

from __future__ import annotations

import ast
import errno
from pathlib import Path

import pytest

from verifier.records import Busy, Full, Throttled
from verifier.service.next_steps import BY_STATUS, NEXT
from verifier.service.problems import STATUS, TITLES, problem, refusal
from verifier.source import ActRefused, MachineError, StoreError, VerifierError

ROOT = Path(__file__).parents[2]


#: Which argument of which call is the code of a refusal.
CODE_AT = {"ActRefused": 0, "_refuse": 3}


def codes_in_use() -> dict[str, str]:
    """Every code that an ActRefused is made with anywhere in the package, with where."""
    found = {}
    for path in sorted((ROOT / "verifier").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            place = CODE_AT.get(getattr(node.func, "id", ""), 99) if isinstance(node, ast.Call) else 99
            if isinstance(node, ast.Call) and len(node.args) > place:
                for part in _outcomes(node.args[place]):
                    found[part] = f"{path.name}:{node.lineno}"
    return found


def _outcomes(node: ast.expr) -> list[str]:
    """The words that an expression may come to: a constant, or either side of a choice."""
    if isinstance(node, ast.IfExp):
        return _outcomes(node.body) + _outcomes(node.orelse)
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def test_every_code_of_a_refusal_has_a_status() -> None:
    used = codes_in_use()
    assert len(used) > 50
    missing = {code: where for code, where in used.items() if code not in STATUS}
    assert not missing
    assert set(STATUS.values()) <= set(TITLES)


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (ActRefused("stale_page", "m"), 409, "stale_page"),
        (ActRefused("own_revision", "m"), 403, "own_revision"),
        (Throttled(61), 429, "throttled"),
        (Busy("m"), 503, "busy"),
        (Full("m"), 507, "disk_full"),
        (MachineError(["a", "b"]), 422, "file_not_valid"),
        (StoreError("m"), 503, "records"),
        (VerifierError("m"), 422, "refused"),
        (OSError(errno.ENOSPC, "full"), 507, "disk_full"),
    ],
)
def test_errors_are_told_as_what_they_are(error: BaseException, status: int, code: str) -> None:
    found = refusal(error)
    assert found is not None and (found.status, found.code) == (status, code)


def test_a_mistake_of_the_code_is_no_refusal() -> None:
    assert refusal(RuntimeError("x")) is None and refusal(OSError(errno.EIO, "x")) is None


def test_busy_and_locked_say_when_to_come_back() -> None:
    throttled, busy = refusal(Throttled(61)), refusal(Busy("m"))
    assert throttled and busy and (throttled.retry_s, busy.retry_s) == (61, 1)
    assert problem("stale_page", "m").status == 409 and problem("unheard_of", "m").status == 409


def test_every_code_of_a_refusal_has_its_next_step() -> None:
    """Pages tell what to do after each refusal: a new code needs a line in `verifier/service/next_steps.py`."""
    assert sorted(set(STATUS) - set(NEXT)) == []
    assert sorted(set(TITLES) - set(BY_STATUS)) == []
    assert all(text and text[0].islower() and not text.endswith(".") for text in (*NEXT.values(), *BY_STATUS.values()))
