"""Rapids into standing material.

The law: what a rapid touches is read from the cut; it is forgiven where its whole footprint has already
been swept, as deep or deeper, by the same cutter in this stage: a drill that returns into its own hole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import copysign, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ...parser.finding import Finding, Point, finding
from ...parser.motion import PLANE_AXES, Floats, Motion
from ..cutters import profile_of
from ..evidence import Evidence, Said
from ..paths import Branch, rapid_paths
from ..plan import joined

ALLOWED = 0.01  # mm: a rapid this far under the surface does not touch it
SEGMENTS = 64  # of a quarter of a round footprint: within 1e-4 of its radius


def rapid_cut(evidence: Evidence) -> Iterator[Said]:
    """One finding for all rapids of each cutter that touch the board."""
    touching = [int(row) for row in np.flatnonzero(evidence.cut.touch > 0)]
    past = Past.of(evidence) if touching else None
    cutting = [row for row in touching if past is None or not past.holds(row)]
    for cutter in dict.fromkeys(evidence.cutters[row] for row in cutting):
        yield _finding(evidence, [row for row in cutting if evidence.cutters[row] is cutter])


def _finding(evidence: Evidence, rows: list[int]) -> Finding:
    motion, touch = evidence.motion, evidence.cut.touch
    first, worst = rows[0], max(rows, key=lambda row: touch[row])
    (at, branch), (deepest, _) = _place(evidence, first), _place(evidence, worst)
    lift = float(touch[worst])
    lowest = motion.shown(worst, (deepest[0], deepest[1], deepest[2] + lift))[2]
    cutter = evidence.cutters[worst].label
    said = finding("rapid-cut", line=int(motion.line[first]), at=at, shown=motion.shown(first, at),
                   value=lift, limit=ALLOWED, about=cutter, cutter=cutter, how=branch.said, lowest=lowest)
    return replace(said, count=len(rows), last_line=int(motion.line[rows].max()))


def _place(evidence: Evidence, row: int) -> tuple[Point, Branch]:
    """The tip where a rapid is lowest over the place that it touches most, and on which of its ways."""
    place = evidence.cut.touch_at[row]
    reach = profile_of(evidence.cutters[row]).radius + evidence.surface.cell * sqrt(0.5)
    found = [(*_lowest(a, b, place, reach), branch)
             for branch, corners in rapid_paths(evidence.motion, row, evidence.rapid).items()
             for a, b in pairwise(corners)]
    _, at, branch = min(found, key=lambda each: (each[0], each[1][2]))
    return at, branch


def _lowest(start: Floats, end: Floats, place: Floats, reach: float) -> tuple[float, Point]:
    """How far beyond its reach a straight way passes a place in plan (0: over it), and the tip where it is
    lowest over it; on a level way, or where it does not come over it, the nearest."""
    way, out = end - start, place - start[:2]
    square = float(way[:2] @ way[:2])
    nearest = float(out @ way[:2]) / square if square else float(way[2] < 0)
    beside = float(np.hypot(*(start[:2] + min(max(nearest, 0.0), 1.0) * way[:2] - place)))
    over = square > 0 and way[2] != 0 and beside < reach
    off = float(np.hypot(*(start[:2] + nearest * way[:2] - place)))
    half = sqrt(max(reach**2 - off**2, 0.0) / square) if over else 0.0
    part = min(max(nearest - copysign(half, way[2]), 0.0), 1.0)
    x, y, z = (start + part * way).tolist()
    return max(0.0, beside - reach), (x, y, z)


@dataclass(frozen=True)
class Past:
    """What every move of a stage has swept, for those after it: deep (n,), the Z at or below which the tip
    was all along its path (straight down: its lowest); box (n, 2, 3); upright (n,); which cutter (n,)."""

    evidence: Evidence
    deep: NDArray[np.float64]
    box: NDArray[np.float64]
    upright: NDArray[np.bool_]
    cutter: NDArray[np.int64]

    @staticmethod
    def of(evidence: Evidence) -> Past:
        motion, box = evidence.motion, evidence.motion.boxes()
        upright = (motion.start[:, :2] == motion.end[:, :2]).all(axis=1) & (motion.arc < 0)
        cutter = np.fromiter(map(id, evidence.cutters), np.int64, len(motion))
        return Past(evidence, np.where(upright, box[:, 0, 2], box[:, 1, 2]), box, upright, cutter)

    def holds(self, row: int) -> bool:
        """Whether the same cutter has already swept all that a rapid passes through, as deep or deeper."""
        motion, radius = self.evidence.motion, profile_of(self.evidence.cutters[row]).radius
        low, high = self.box[row, 0, :2] - 2 * radius, self.box[row, 1, :2] + 2 * radius
        near = (self.cutter[:row] == self.cutter[row]) & (self.deep[:row] <= self.box[row, 0, 2] + ALLOWED)
        near &= ((self.box[:row, 0, :2] <= high) & (self.box[:row, 1, :2] >= low)).all(axis=1)
        rows = np.flatnonzero(near)
        if self.upright[row] and self._down_here(rows, row):
            return True
        swept = joined(footprint(motion, int(k), radius) for k in rows)
        return all(swept.covers(way) for way in self._ways(row, radius - ALLOWED))

    def _ways(self, row: int, radius: float) -> Iterator[BaseGeometry]:
        """What a cutter of this radius covers in plan on each way that a rapid may take."""
        for corners in rapid_paths(self.evidence.motion, row, self.evidence.rapid).values():
            yield shapely.buffer(shapely.LineString(corners[:, :2]), radius, quad_segs=SEGMENTS)

    def _down_here(self, rows: NDArray[np.intp], row: int) -> bool:
        """Whether one of these moves went down on the very axis of a rapid that goes straight down."""
        axes = self.box[rows[self.upright[rows]], 0, :2]
        return bool((np.abs(axes - self.box[row, 0, :2]).max(axis=1, initial=0.0) < ALLOWED).any())


def footprint(motion: Motion, row: int, radius: float) -> BaseGeometry:
    """What a cutter of this radius covers in plan along a move."""
    return shapely.buffer(shapely.LineString(_points(motion, row)), radius, quad_segs=SEGMENTS)


def _points(motion: Motion, row: int) -> NDArray[np.float64]:
    start, end, arc = motion.start[row], motion.end[row], motion.arc[row]
    if arc < 0:
        return np.stack((start[:2], end[:2]))
    plane, sweep = int(motion.arcs.plane[arc]), float(motion.arcs.sweep[arc])
    first, second, _ = PLANE_AXES[plane]
    out = start[[first, second]] - motion.arcs.centre[arc]
    part = np.linspace(0, 1, 2 + int(abs(sweep) * SEGMENTS))
    angle, points = np.arctan2(out[1], out[0]) + sweep * part, start + part[:, None] * (end - start)
    points[:, first] = motion.arcs.centre[arc, 0] + np.hypot(*out) * np.cos(angle)
    points[:, second] = motion.arcs.centre[arc, 1] + np.hypot(*out) * np.sin(angle)
    return points[:, :2]


CHECKS = (rapid_cut,)
