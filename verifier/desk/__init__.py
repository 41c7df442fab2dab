"""Takes people's acts; gives what came of them: report computed, records written, floor published.

Never prints and never decides what a rule or a record decides. The command line and the service both work through it.
"""

from __future__ import annotations

from verifier.desk.desk import Desk, Released, Submitted
from verifier.desk.facts import report_facts
from verifier.desk.secrets import hashed, proves

__all__ = ["Desk", "Released", "Submitted", "hashed", "proves", "report_facts"]
