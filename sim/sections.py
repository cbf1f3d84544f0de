"""Sections: the board's height along any line, cell by cell.

The law: every cell that a line crosses is there once, in order, from where the line enters it to where it
leaves; nothing is interpolated, and nothing is left out however short the crossing. mm, board frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .surface import Surface

Floats = NDArray[np.float64]
Spot = tuple[float, float]


@dataclass(frozen=True)
class Section:
    """k stretches of a line: start, end (k,) mm along it · height (k,), NaN off the board · last (k,): the
    number of the move that cut there last, -1 where none did · at (k, 2): their middles in plan."""

    start: Floats
    end: Floats
    height: Floats
    last: NDArray[np.int32]
    at: Floats

    def __len__(self) -> int:
        return len(self.start)

    def at_distance(self, along: Floats) -> Floats:
        """Heights at distances along the line; NaN beyond its ends."""
        along = np.asarray(along, float)
        k = np.clip(np.searchsorted(self.end, along, side="left"), 0, len(self) - 1)
        inside = (along >= self.start[0]) & (along <= self.end[-1])
        return np.where(inside, self.height[k], np.nan)


def section(surface: Surface, points: Sequence[Spot]) -> Section:
    """The heights along a line through points. Raises ValueError for fewer than two different ones."""
    way = np.asarray(points, float).reshape(-1, 2)
    legs = [(a, b) for a, b in pairwise(way) if (a != b).any()]
    if not legs:
        raise ValueError("a section needs two different points")
    parts, begun = [], 0.0
    for a, b in legs:
        parts.append(_leg(surface, a, b, begun))
        begun += float(np.hypot(*(b - a)))
    names = ("start", "end", "height", "last", "at")
    return Section(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _leg(surface: Surface, a: Floats, b: Floats, begun: float) -> Section:
    """One straight line: cut where it crosses the lines between cells."""
    length = float(np.hypot(*(b - a)))
    cuts = [np.array([0.0, 1.0])]
    for axis, origin, count in ((0, surface.x0, surface.shape[1]), (1, surface.y0, surface.shape[0])):
        low, high = sorted((a[axis], b[axis]))
        first = max(0, int(np.ceil((low - origin) / surface.cell)))
        stop = min(count, int(np.floor((high - origin) / surface.cell)))
        if b[axis] != a[axis] and first <= stop:
            lines = origin + np.arange(first, stop + 1) * surface.cell
            cuts.append((lines - a[axis]) / (b[axis] - a[axis]))
    part = np.unique(np.clip(np.concatenate(cuts), 0.0, 1.0))
    middle = a + (part[:-1] + part[1:])[:, None] / 2 * (b - a)
    i = np.floor((middle[:, 0] - surface.x0) / surface.cell).astype(np.int64)
    j = np.floor((middle[:, 1] - surface.y0) / surface.cell).astype(np.int64)
    ny, nx = surface.shape
    on = (i >= 0) & (i < nx) & (j >= 0) & (j < ny)
    height, last = np.full(len(i), np.nan), np.full(len(i), -1, np.int32)
    height[on], last[on] = surface.heights[j[on], i[on]], surface.last[j[on], i[on]]
    return Section(begun + part[:-1] * length, begun + part[1:] * length, height, last, middle)
