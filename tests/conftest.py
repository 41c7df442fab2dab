"""Property tests use the same examples at every run, so that one commit has one answer; with PROPERTY_FACTOR above 1 they look for new ones.

No example has a deadline: a busy machine is no failure. Searching is a campaign of its own (see `tests/properties/sizes.py`); what it finds becomes
a case.
"""

from __future__ import annotations

import os

from hypothesis import settings

STEADY = os.environ.get("PROPERTY_FACTOR", "1") == "1"

settings.register_profile("steady", derandomize=STEADY, database=None, deadline=None)
settings.load_profile("steady")
