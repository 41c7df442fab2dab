"""Takes the releases of a shop and its machines' folders; gives floor copies, read-backs compared, and drift.

All that touches a machine's folder. Never decides what is released, never overwrites what it does not know.
"""

from __future__ import annotations

from verifier.floor.publishing import JobResult, make_folders, publish_pending
from verifier.floor.readback import ReadbackResult, compare_readback, take_readback
from verifier.floor.watch import READ_BACK, Drift, check_floor, drift_advice, foreign_manifests, found_bytes

__all__ = [
    "READ_BACK",
    "Drift",
    "JobResult",
    "ReadbackResult",
    "check_floor",
    "compare_readback",
    "drift_advice",
    "foreign_manifests",
    "found_bytes",
    "make_folders",
    "publish_pending",
    "take_readback",
]
