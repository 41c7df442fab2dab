"""Takes the releases of a shop and its machines' folders; gives floor copies, read-backs compared, and drift.

All that touches a machine's folder. Never decides what is released, never overwrites what it does not know.
"""

from __future__ import annotations

from verifier.floor.publishing import JobResult, make_folders, publish_pending
from verifier.floor.readback import ReadbackResult, compare_readback, take_readback
from verifier.floor.watch import Drift, check_floor, foreign_manifests, found_bytes

__all__ = [
    "Drift",
    "JobResult",
    "ReadbackResult",
    "check_floor",
    "compare_readback",
    "foreign_manifests",
    "found_bytes",
    "make_folders",
    "publish_pending",
    "take_readback",
]
