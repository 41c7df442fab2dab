"""What went wrong, as people and programs are told: one table from the codes of refusals to HTTP statuses."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from typing import Any

from verifier.records import Busy, Full, Throttled
from verifier.source import ActRefused, MachineError, SourceRefused, StoreError, VerifierError

_CODES: dict[int, str] = {
    403: "wrong_role wrong_scope own_revision not_the_author sign_in_again bad_code not_first bad_token cross_site reads_only",
    404: (
        "unknown_person unknown_machine unknown_program unknown_revision unknown_readback unknown_content unknown_terminal"
        " unknown_token unknown_hazard unknown_acceptance not_found"
    ),
    409: (
        "other_key stale_page stale_report stale_base stale_proven changed_since already_decided already_released not_held"
        " stale_accepted already_accepted already_withdrawn not_cleared"
        " wrong_state not_waiting nothing_proven nothing_stands nothing_waits not_at_machine not_in_prove_out"
        " in_prove_out prove_out_over prove_out_running older_revision number_held known_bytes name_taken"
        " last_administrator not_the_release wrong_code wrong_words readback_differs at_machine called_not_released"
        " callers_bind_another readback_before_release readback_not_submitted readback_of_another readback_equal readback_used"
        " needs_readback bad_readback form_running form_sent not_open report_fits not_comparable"
    ),
    413: "too_large",
    422: (
        "bad_challenge bad_folder bad_hash bad_name bad_policy bad_profile bad_prove_out bad_report bad_role bad_text"
        " bad_value bad_verdict bad_scope bad_days bad_form wrong_digest nothing reason_missing short_secret long_secret"
        " common_secret empty not_ticked unknown_finding"
    ),
    429: "throttled",
}

STATUS: dict[str, int] = {code: status for status, codes in _CODES.items() for code in codes.split()}
"""Every code of a refusal and its status; a test holds that none is missing."""

TITLES: dict[int, str] = {
    400: "The request cannot be read",
    401: "Sign in first",
    403: "This is not for you to do",
    404: "There is no such page",
    405: "This cannot be done here",
    409: "This no longer fits",
    411: "The request does not say how long it is",
    413: "This is too large",
    415: "This kind of content is not taken",
    422: "Something has to be put right",
    429: "Too many tries",
    500: "Something went wrong here",
    503: "Not possible at the moment",
    507: "The disk is full",
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """A refusal as it is told: a stable code, a sentence, advice, and every single mistake of a file that was refused."""

    status: int
    code: str
    message: str
    hint: str = ""
    details: tuple[dict[str, Any], ...] = ()
    retry_s: int | None = None

    @property
    def title(self) -> str:
        """What kind of trouble it is."""
        return TITLES.get(self.status, "This was refused")


def problem(code: str, message: str, status: int | None = None, hint: str = "") -> Refusal:
    """A refusal by its code; the status is the table's unless another is named."""
    return Refusal(status or STATUS.get(code, 409), code, message, hint)


def refusal(error: BaseException) -> Refusal | None:
    """What an error of this package is told as, or None for a mistake of the code."""
    if isinstance(error, SourceRefused):
        details = tuple(
            {"code": p.code, "line": p.span.line, "column": p.span.column, "message": p.message, "hint": p.hint}
            for p in error.problems
        )
        return Refusal(
            422, "program_refused", "this is not a program that can be taken; nothing was stored", "", details
        )
    if isinstance(error, MachineError):
        details = tuple({"code": "mistake", "message": line} for line in error.mistakes)
        return Refusal(422, "file_not_valid", "the file is not valid; nothing was stored", "", details)
    if isinstance(error, Throttled):
        return Refusal(429, error.code, error.message, error.hint, retry_s=error.retry_s)
    if isinstance(error, ActRefused):
        return problem(error.code, error.message, hint=error.hint)
    if isinstance(error, Busy):
        return Refusal(503, "busy", error.message, error.hint, retry_s=1)
    if isinstance(error, Full) or _disk_full(error):
        return Refusal(507, "disk_full", "the disk is full; nothing was stored", "an administrator has to make room")
    if isinstance(error, StoreError):
        return Refusal(503, "records", error.message, error.hint)
    if isinstance(error, VerifierError):
        return Refusal(422, "refused", error.message, error.hint)
    return None


def _disk_full(error: BaseException) -> bool:
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, OSError) and seen.errno in (errno.ENOSPC, errno.EDQUOT):
            return True
        seen = seen.__cause__
    return False
