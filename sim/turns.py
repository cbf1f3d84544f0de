"""Turns: paths that go round one centre, whole turns of them, and how deep they get all the way round.

The law: in each direction the floor lies where the lowest turn passed, so a helix has its floor one turn
before its end and a level turn at its height; going straight down between turns breaks no path.
Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

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

    first: float
    last: float
    z0: float
    z1: float

    def heights(self, a: float, b: float) -> Iterator[tuple[float, float]]:
        """Z at two directions (0 to a turn) each time that this part passes over all between them."""
        for turn in range(int(self.first // TURN), int(self.last // TURN) + 1):
            start, end = a + turn * TURN, b + turn * TURN
            if start >= self.first - WHOLE and end <= self.last + WHOLE:
                za, zb = np.interp([start, end], [self.first, self.last], [self.z0, self.z1])
                yield float(za), float(zb)


def bores(motion: Motion) -> Iterator[Bore]:
    """Every path of at least one whole turn about one centre, in program order."""
    for rows in _rounds(motion):
        parts = list(_parts(motion, rows))
        if parts and parts[-1].last >= TURN - WHOLE:
            centre, radius, _ = _circle(motion, rows[0])
            yield Bore(tuple(rows), centre, radius, floor_of(parts))


def floor_of(parts: list[Part]) -> float:
    """The height of the floor where it is highest: in each direction it lies where the lowest turn passed.

    Between the directions where parts begin and end, turns are straight lines and the floor is the
    lowest of them: it is highest at an end, or where two of them cross.
    """
    edges = sorted({0.0, TURN, *(angle % TURN for part in parts for angle in (part.first, part.last))})
    highest = -np.inf
    for a, b in pairwise(edges):
        lines = [line for part in parts for line in part.heights(a, b)] if b - a > WHOLE else []
        if lines:
            highest = max(highest, _top_of_lowest(np.array(lines)))
    return float(highest)


def _top_of_lowest(lines: Floats) -> float:
    """The greatest value of the lowest of lines (k, 2), given by their values at both ends."""
    over = np.all(lines[:, None] > lines[None], axis=2)
    lines = lines[~np.any(over, axis=1)]  # what lies wholly over another line counts for nothing
    left, right = lines.T
    rise = (right - left)[:, None] - (right - left)[None]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = (left[None] - left[:, None]) / rise
    part = np.concatenate(([0.0, 1.0], crossing[(crossing > 0) & (crossing < 1)]))
    return float((left[:, None] + (right - left)[:, None] * part).min(axis=0).max())


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
            yield Part(turned, turned + sweep, float(motion.start[row, 2]), float(motion.end[row, 2]))
            turned += sweep


def _circle(motion: Motion, row: int) -> tuple[Floats, float, float]:
    """Centre, radius and sweep of an arc in plan."""
    centre = motion.arcs.centre[motion.arc[row]]
    radius = float(np.hypot(*(motion.start[row, :2] - centre)))
    return centre, radius, float(motion.arcs.sweep[motion.arc[row]])
