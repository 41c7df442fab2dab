"""Takes a chain of programmed legs, a nose and the ways of a control; gives the path of the tool, and where the nose does not fit."""

from __future__ import annotations

from verifier.control.compensation.legs import (
    DIRECTIONS,
    LEFT,
    RIGHT,
    Leg,
    Offset,
    Piece,
    Role,
    Tip,
    Trouble,
    Ways,
    Wrong,
)
from verifier.control.compensation.path import compensate

__all__ = [
    "DIRECTIONS",
    "LEFT",
    "RIGHT",
    "Leg",
    "Offset",
    "Piece",
    "Role",
    "Tip",
    "Trouble",
    "Ways",
    "Wrong",
    "compensate",
]
