"""Takes the address of a running service and a token; gives its acts as methods, with the records' own facts as answers.

Never repeats a request that could act twice, and never sends its token anywhere else.
"""

from __future__ import annotations

from verifier.client.client import Client, Told
from verifier.client.transport import Transport

__all__ = ["Client", "Told", "Transport"]
