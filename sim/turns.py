"""Turns: paths that go round one centre, whole turns of them, and how deep they get all the way round.

The law: the floor of a helix is where it was one turn before its end, that of a level turn is its height;
going straight down between turns breaks no path. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..parser.motion import Floats, Motion

SAME_CENTRE = 0.01  # mm
TURN = 2 * np.pi
WHOLE = 1e-6  # rad: how much a whole turn may lack


@dataclass(frozen=True)
class Bore:
    """Whole turns about a centre: rows of the motion, mm; `floor` the Z reached all the way round."""

    rows: tuple[int, ...]
    centre: Floats
    radius: float
    floor: float


@dataclass(frozen=True)
class Part:
    """A part of a turn: angles turned so far at its start and end, and Z there."""

    row: int
    first: float
    last: float
    z0: float
    z1: float

    def highest(self, first: float, last: float) -> float:
        """The greatest Z between two angles; -inf where this part lies outside them."""
        a, b = max(first, self.first), min(last, self.last)
        if b - a <= 1e-9:
            return -np.inf
        return max(np.interp([a, b], [self.first, self.last], [self.z0, self.z1]))


def bores(motion: Motion) -> Iterator[Bore]:
    """Every path of at least one whole turn about one centre, in program order."""
    for rows in _rounds(motion):
        parts = list(_parts(motion, rows))
        if parts and parts[-1].last >= TURN - WHOLE:
            centre, radius, _ = _circle(motion, parts[0].row)
            yield Bore(tuple(rows), centre, radius, floor_of(parts))


def floor_of(parts: list[Part]) -> float:
    """The lowest Z at or below which a whole turn was made: over every whole turn, its highest place."""
    ends = {end for part in parts for end in (part.last, part.first + TURN) if end >= TURN - WHOLE}
    last = parts[-1].last + WHOLE
    return float(min(max(part.highest(end - TURN, end) for part in parts) for end in ends if end <= last))


def _rounds(motion: Motion) -> Iterator[list[int]]:
    """Consecutive arcs about one centre, with the moves straight up or down between them."""
    way = np.hypot(*(motion.end - motion.start)[:, :2].T)
    flat_arc = np.zeros(len(motion), bool)
    curved = motion.arc >= 0
    flat_arc[curved] = motion.arcs.plane[motion.arc[curved]] == 17
    rows: list[int] = []
    for row in np.flatnonzero(motion.placed & (flat_arc | (~curved & (way <= SAME_CENTRE)))).tolist():
        if rows and not (row == rows[-1] + 1 and _goes_round(motion, rows, row)):
            yield rows
            rows = []
        if rows or motion.arc[row] >= 0:
            rows.append(row)
    if rows:
        yield rows


def _goes_round(motion: Motion, rows: list[int], row: int) -> bool:
    """Whether a move goes on about the centre of the arcs before it, the same way round."""
    if motion.states[motion.state[row]].cutter != motion.states[motion.state[rows[0]]].cutter:
        return False
    if motion.arc[row] < 0:
        return True
    centre, radius, sweep = _circle(motion, row)
    centre0, radius0, sweep0 = _circle(motion, rows[0])
    return (np.hypot(*(centre - centre0)) <= SAME_CENTRE and abs(radius - radius0) <= SAME_CENTRE
            and sweep * sweep0 > 0)


def _parts(motion: Motion, rows: list[int]) -> Iterator[Part]:
    turned = 0.0
    for row in rows:
        if motion.arc[row] >= 0:
            sweep = abs(_circle(motion, row)[2])
            yield Part(row, turned, turned + sweep, float(motion.start[row, 2]), float(motion.end[row, 2]))
            turned += sweep


def _circle(motion: Motion, row: int) -> tuple[Floats, float, float]:
    """Centre, radius and sweep of an arc in plan."""
    centre = motion.arcs.centre[motion.arc[row]]
    radius = float(np.hypot(*(motion.start[row, :2] - centre)))
    return centre, radius, float(motion.arcs.sweep[motion.arc[row]])
