"""Shop-floor verification of CNC program revisions.

`review(old, new, machine=..., setup=..., policy=...)` compares a revision with its base as the machine runs them; `examine(program, ...)` judges
one program. Both take bytes and give a `ChangeReport`.
"""

from __future__ import annotations

from verifier.report import ChangeReport, examine, review
from verifier.version import __version__

__all__ = ["ChangeReport", "__version__", "examine", "review"]
