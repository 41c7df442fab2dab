"""Speeding up and slowing down in a row of cuts: from rest to rest, along straight lines and arcs, and round the corners between them.

The law, of elementary mechanics: along a move the way speeds up and slows down at a constant acceleration, that of the slides in its direction. At a
corner each slide that changes its speed by D does so at its acceleration a, half of it before and half of it behind the corner, and leaves the
corner by D^2 / (8 a) for it; the corner is taken as fast as keeps that within `CORNER`. Speeds at the corners follow from one pass forward and
one backward over w = v^2, which grows by no more than 2 a d along d.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from verifier.geometry.travel import Floats, Slides

CORNER = 0.01
"""How far from a corner a slide may be for it in path mode, in mm (assumed: common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Row:
    """Cuts in order, each of some length. Lengths in mm, speeds in mm/s, accelerations in mm/s2.

    `seconds` at the programmed feed; `first`, `last` the programmed speed at both ends; `heading` the direction of X and Z (a unit) at the start
    and at the end; `through[k]` whether the way goes on from cut k to the next one without a stop.
    """

    length: Floats
    seconds: Floats
    first: Floats
    last: Floats
    acceleration: Floats
    heading: Floats
    through: NDArray[np.bool_]


def row_seconds(row: Row, on: Slides) -> Floats:
    """Seconds of each cut with speeding up and slowing down; never less than at the programmed feed."""
    if not len(row.length):
        return np.zeros(0)
    limit = np.zeros(len(row.length) + 1)
    limit[1:-1] = np.where(row.through, _corners(row, on) ** 2, 0.0)
    climb = 2 * row.acceleration * row.length
    square = _reached(_reached(limit, climb)[::-1], climb[::-1])[::-1]
    before, behind = square[:-1], square[1:]
    full = np.maximum(row.first**2 - before, 0.0) + np.maximum(row.last**2 - behind, 0.0)
    u0, u1 = np.sqrt(before), np.sqrt(behind)
    twice = 2 * row.acceleration
    lost = np.maximum(row.first - u0, 0) ** 2 / (twice * row.first)
    lost += np.maximum(row.last - u1, 0) ** 2 / (twice * row.last)
    peak = np.sqrt((before + behind) / 2 + row.acceleration * row.length)
    short = np.maximum((2 * peak - u0 - u1) / row.acceleration, row.seconds)
    return np.asarray(np.where(full <= climb, row.seconds + lost, short), np.float64)


def _corners(row: Row, on: Slides) -> Floats:
    """The greatest speed at the corner behind each cut but the last."""
    turn = np.abs(row.heading[1:, :2] - row.heading[:-1, 2:])
    step = np.sqrt(8 * np.array([on.acceleration_x, on.acceleration_z]) * CORNER)
    corner = (step / np.maximum(turn, 1e-12)).min(axis=1)
    return np.asarray(np.minimum(corner, np.minimum(row.last[:-1], row.first[1:])), np.float64)


def _reached(limit: Floats, climb: Floats) -> Floats:
    """The greatest v^2 at each point that stays below its limit and grows no faster than the climbs between the points allow."""
    way = np.concatenate(([0.0], np.cumsum(climb)))
    grown = way + np.minimum.accumulate(limit - way)
    return np.asarray(np.clip(grown, 0.0, limit), np.float64)
