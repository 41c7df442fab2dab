"""Takes people's acts; gives what came of them: report computed, records written, floor published.

Never prints and never decides what a rule or a record decides. The command line and the service both work through it.
"""

from __future__ import annotations

from verifier.desk.companions import OPEN
from verifier.desk.desk import Desk, PinLimit, Released, Submitted
from verifier.desk.facts import report_facts
from verifier.desk.key import ServerKey, kept_key, server_key
from verifier.desk.nearest import Near, nearest, sketch_library
from verifier.desk.returned import waiting_beside
from verifier.desk.secrets import check_pin, needs_rehash, password_hash, password_proven, pin_hash

__all__ = [
    "OPEN",
    "Desk",
    "Near",
    "PinLimit",
    "Released",
    "ServerKey",
    "Submitted",
    "check_pin",
    "kept_key",
    "nearest",
    "needs_rehash",
    "password_hash",
    "password_proven",
    "pin_hash",
    "report_facts",
    "server_key",
    "sketch_library",
    "waiting_beside",
]
