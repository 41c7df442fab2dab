"""How many examples the property tests run.

By default few and always the same ones, so that the whole of this folder stays fast. A longer run with new ones each time:

    PROPERTY_FACTOR=50 python -m pytest tests/properties
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

FACTOR = int(os.environ.get("PROPERTY_FACTOR", "1"))


def few(examples: int) -> settings:
    """So many examples, times the factor."""
    return settings(
        max_examples=examples * FACTOR,
        derandomize=FACTOR == 1,
        database=None,
        deadline=None,
        phases=(Phase.generate,),  # jobs come from a seed: a smaller seed is no smaller program
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
    )
