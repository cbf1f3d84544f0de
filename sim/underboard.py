"""How far the dust shoe stands below the board: the highest board under its rectangle, along every move.

The law: an error is only toward a warning. First each move is held against a coarse map of the highest board
under the shoe, before the stage; what that cannot clear is asked cell by cell of the board as it then is
(grown by half a cell's diagonal), up to MANY moves, the rest by the coarse map alone. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, floor

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Shoe
from .evidence import Evidence
from .paths import Paths, paths_of
from .shoe import TURNS, Layer, over_tip, shoe_of
from .surface import Surface
from .swarm import numbered
from .windows import running

Floats = NDArray[np.float64]
Reach = tuple[float, float]

COARSE = 1_000_000  # cells of the coarse map at most
MANY = 300  # moves that are asked cell by cell
TOUCH = 0.01  # mm: less is not a touch


@dataclass(frozen=True)
class Under:
    """Moves (k,) that bring a layer of the shoe below the board under it, and by how much (k,), mm."""

    rows: NDArray[np.int64]
    depth: Floats


def under_board(evidence: Evidence, layer: Layer) -> Under:
    """Every move that brings a layer more than its slack below the board."""
    shoe, motion = shoe_of(evidence.job.machine, evidence.cutters), evidence.motion
    assert shoe is not None
    lowest = bottoms(evidence, layer)
    top = float(np.nanmax(evidence.cut.before, initial=-np.inf))
    allowed = layer.slack + TOUCH
    rows = np.flatnonzero(motion.placed & (lowest < top - allowed))
    if not len(rows):
        return Under(rows, np.empty(0))
    paths = paths_of(motion, rows, evidence.rapid)
    highest = coarse(evidence.surface, evidence.cut.before, shoe.x, shoe.y)
    depth, order = np.full(len(motion), -np.inf), np.argsort(paths.row, kind="stable")
    np.maximum.at(depth, paths.row, highest.along(paths) - lowest[paths.row])
    rows = rows[depth[rows] > allowed]
    for row in rows[:MANY]:
        first, last = np.searchsorted(paths.row[order], (row, row + 1))
        depth[row] = exactly(evidence, int(row), paths, order[first:last], shoe) - lowest[row]
    rows = rows[depth[rows] > allowed]
    return Under(rows, depth[rows])


def bottoms(evidence: Evidence, layer: Layer) -> Floats:
    """(n,) Z of a layer's lower side at its lowest in each move, NaN where it is not known."""
    motion, (of, kinds) = evidence.motion, numbered(evidence.cutters)
    over = np.array([*(over_tip(cutter, layer) for cutter in kinds), np.nan])[of]  # -1: none known
    shoe = evidence.job.machine.shoe
    if shoe is not None and not shoe.moves:
        return over + evidence.stage.zero[2]
    return motion.boxes()[:, 0, 2] + over


@dataclass(frozen=True)
class Highest:
    """(ny, nx) the highest board under the shoe, by where its axis is."""

    x0: float
    y0: float
    cell: float
    z: Floats

    def along(self, paths: Paths) -> Floats:
        """(k,) the highest anywhere along each path."""
        length = np.abs(paths.box[:, 1, :2] - paths.box[:, 0, :2]).sum(axis=1)
        turns = np.abs(paths.arcs[paths.arc, 6]) / (2 * np.pi)
        count = 2 + (length * (1 + turns) / self.cell).astype(np.int64)
        which = np.repeat(np.arange(len(count)), count)
        first = np.cumsum(count) - count
        part = (np.arange(len(which)) - first[which]) / (count[which] - 1)
        return np.maximum.reduceat(self.at(paths.places(which, part)), first)

    def at(self, points: Floats) -> Floats:
        i = np.floor((points[:, 0] - self.x0) / self.cell).astype(np.int64)
        j = np.floor((points[:, 1] - self.y0) / self.cell).astype(np.int64)
        inside = (i >= 0) & (j >= 0) & (i < self.z.shape[1]) & (j < self.z.shape[0])
        found = np.full(len(points), -np.inf)
        found[inside] = self.z[j[inside], i[inside]]
        return found


def coarse(surface: Surface, heights: NDArray[np.float32], x: Reach, y: Reach,
           cells: int = COARSE) -> Highest:
    """The highest board under a rectangle about the axis, one cell of the map wider than it need be."""
    step = max(1, ceil((heights.size / cells) ** 0.5))
    cell = surface.cell * step
    (left, right), (front, back) = (_window(sorted(reach), cell) for reach in (x, y))
    blocks = _highest_of_each(_highest_of_each(heights, step).T, step).T  # NaN: no board
    blocks = np.where(np.isnan(blocks), -np.inf, blocks).astype(np.float64)
    z = _highest_between(_highest_between(blocks, front, back, 0), left, right, 1)
    return Highest(surface.x0 - right * cell, surface.y0 - back * cell, cell, z)


def _highest_of_each(z: NDArray[np.float32], step: int) -> NDArray[np.float32]:
    """The greatest of every `step` rows."""
    best = z[::step].copy()
    for row in range(1, step):
        more = z[row::step]
        np.fmax(best[:len(more)], more, out=best[:len(more)])
    return best


def _window(reach: list[float], cell: float) -> tuple[int, int]:
    """The cells from that of the axis that a side of the shoe may lie over, wherever in its cell the axis is
    and wherever between two places asked for."""
    return floor(reach[0] / cell) - 1, ceil(reach[1] / cell) + 1


def _highest_between(z: Floats, low: int, high: int, axis: int) -> Floats:
    """The greatest of cells low to high from each, for places from -high on to the last less low."""
    size = high - low + 1
    wide = [(0, 0), (0, 0)]
    wide[axis] = (size - 1, size - 1)
    return running(np.maximum, np.pad(z, wide, constant_values=-np.inf), size, axis)


def exactly(evidence: Evidence, row: int, paths: Paths, mine: NDArray[np.intp], shoe: Shoe) -> float:
    """The highest cell under the shoe along one move on its own paths, as the board then is; -inf: none."""
    way = shapely.buffer(swept(paths, mine, shoe), evidence.surface.cell * 0.5**0.5, quad_segs=2)
    surface, cut = evidence.surface, evidence.cut
    rows, columns = surface.window(way)
    last = surface.last[rows, columns]
    heights = np.where(last < cut.first_id + row, surface.heights[rows, columns], cut.before[rows, columns])
    part = replace(surface, heights=heights, last=last, x0=surface.x0 + columns.start * surface.cell,
                   y0=surface.y0 + rows.start * surface.cell)
    return float(heights[part.mask(way) & part.on_board].max(initial=-np.inf))


def swept(paths: Paths, mine: NDArray[np.intp], shoe: Shoe) -> BaseGeometry:
    """What the shoe passes over on some paths."""
    return shapely.union_all([hull for path in mine.tolist() for hull in _hulls(paths, path, shoe)])


def _hulls(paths: Paths, path: int, shoe: Shoe) -> Iterator[BaseGeometry]:
    chords = 1 + int(abs(float(paths.arcs[paths.arc[path], 6])) * TURNS / (2 * np.pi))
    places = paths.places(np.full(chords + 1, path), np.linspace(0, 1, chords + 1))
    corners = np.array([(x, y) for x in shoe.x for y in shoe.y])
    for a, b in pairwise(places[:, :2]):
        yield shapely.MultiPoint(np.concatenate((corners + a, corners + b))).convex_hull
