"""The codes of a lathe by their meaning, as tables: modal groups, what a modal code sets, and which codes act in their own block only.

Canned cycles are not written here: each joins the tables by way of `verifier/control/cycle_registry.py`.
"""

from __future__ import annotations

from verifier.machines import ABSOLUTE, INCREMENTAL, TO_INITIAL, TO_R

MODAL: dict[str, tuple[str, str]] = {
    "G00": ("motion", "G00"),
    "G01": ("motion", "G01"),
    "G02": ("motion", "G02"),
    "G03": ("motion", "G03"),
    "G32": ("motion", "G32"),
    "G34": ("motion", "G34"),
    "G17": ("plane", "G17"),
    "G18": ("plane", "G18"),
    "G19": ("plane", "G19"),
    "G20": ("units", "inch"),
    "G21": ("units", "mm"),
    "G40": ("compensation", "G40"),
    "G41": ("compensation", "G41"),
    "G42": ("compensation", "G42"),
    "G54": ("work_offset", "G54"),
    "G55": ("work_offset", "G55"),
    "G56": ("work_offset", "G56"),
    "G57": ("work_offset", "G57"),
    "G58": ("work_offset", "G58"),
    "G59": ("work_offset", "G59"),
    "G61": ("path_mode", "exact-stop"),
    "G64": ("path_mode", "path"),
    "G96": ("speed_mode", "surface"),
    "G97": ("speed_mode", "rpm"),
    "G98": ("feed_mode", "per-minute"),
    "G99": ("feed_mode", "per-revolution"),
    ABSOLUTE: ("distance", ABSOLUTE),
    INCREMENTAL: ("distance", INCREMENTAL),
    TO_INITIAL: ("return_level", TO_INITIAL),
    TO_R: ("return_level", TO_R),
}
"""A modal code -> the name of the state and its value. What another set calls it: `code_sets` of the machines. Source: common practice, no source."""

ONE_SHOT = [
    "G04",
    "G10",
    "G28",
    "G29",
    "G30",
    "G50",
    "G52",
    "G53",
    "G107",
    "G07.1",
    "G112",
    "G113",
    "G12.1",
    "G13.1",
]
"""Codes that act in their own block and leave the motion group as it was."""

DRILLING: list[str] = []
"""Drilling, boring and tapping cycles: modal until G80 or a code of the motion group."""

GROUP: dict[str, str] = {
    **{code: name for code, (name, _) in MODAL.items()},
    "G54.1": "work_offset",
    **dict.fromkeys(ONE_SHOT, "one-shot"),
    "G80": "drilling",
}
"""Code -> the modal group it belongs to; two codes of one group in a block contradict each other."""

IN_WORDS: dict[str, str] = {
    "motion": "kind of motion",
    "plane": "plane",
    "units": "units",
    "compensation": "nose compensation",
    "work_offset": "work offset",
    "path_mode": "exact stop or path mode",
    "speed_mode": "speed mode",
    "feed_mode": "feed mode",
    "distance": "absolute coordinates or increments",
    "return_level": "return level of drilling cycles",
    "one-shot": "codes that act in their own block",
    "drilling": "drilling cycle",
}
