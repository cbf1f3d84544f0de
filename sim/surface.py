"""The height map: the board's upper surface, sampled at cell centres.

The law: a Surface covers the board's bounding box and never more; a cell whose centre lies off the
board is NaN for ever; heights only fall. What a map needs of memory is computed, and refused, before
it is made.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from math import ceil, floor

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Cutter
from .bands import Answer, bands_of, over
from .cutters import profile_of
from .memory import available_memory

BYTES_A_CELL = 20  # heights, last, heights before a stage, and what the checks take: seen at 298 million
CELLS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0)  # the sizes chosen from, mm
PLENTY = 60_000_000  # cells beyond which a finer map is slow before it is useful


class MapTooLarge(ValueError):
    """The map does not fit the memory; the message names a cell size that would."""


@dataclass
class Surface:
    """Heights over a grid. Cell [j, i] spans x0 + i·cell to x0 + (i+1)·cell, the same in Y.

    x0, y0, cell: mm, board frame · heights (ny, nx) float32, mm, NaN off the board · last (ny, nx) int32:
    the number of the move that cut the cell last, -1 where none did · gone: plan of the recesses and holes
    that it had when it was saved · threads: how many look at it at once, None: as many as there are cores.
    """

    x0: float
    y0: float
    cell: float
    heights: NDArray[np.float32]
    last: NDArray[np.int32]
    gone: BaseGeometry = field(default_factory=shapely.Polygon)
    threads: int | None = None

    @classmethod
    def of_board(cls, outline: BaseGeometry, top: float, cell: float, *,
                 memory: int | None = None) -> Surface:
        """A flat board. Raises MapTooLarge where it would take more than `memory` bytes (what is free)."""
        x0, y0, x1, y1 = outline.bounds
        nx, ny = _count(x1 - x0, cell), _count(y1 - y0, cell)
        _refuse_too_large(outline, cell, available_memory() if memory is None else memory)
        surface = cls(x0, y0, cell, np.empty((ny, nx), np.float32), np.empty((ny, nx), np.int32))
        list(surface.over_bands(surface._clear))
        for j, i0, i1 in surface.spans(outline):
            surface.heights[j, i0:i1] = top
        return surface

    def _clear(self, band: slice) -> None:
        self.heights[band], self.last[band] = np.nan, -1

    @property
    def shape(self) -> tuple[int, int]:
        """(ny, nx)."""
        return self.heights.shape  # type: ignore[return-value]

    @property
    def x(self) -> NDArray[np.float64]:
        """(nx,) X of the cell centres, mm."""
        return self.x0 + (np.arange(self.shape[1], dtype=np.float64) + 0.5) * self.cell

    @property
    def y(self) -> NDArray[np.float64]:
        """(ny,) Y of the cell centres, mm."""
        return self.y0 + (np.arange(self.shape[0], dtype=np.float64) + 0.5) * self.cell

    @property
    def on_board(self) -> NDArray[np.bool_]:
        """(ny, nx) true where the board is."""
        return ~np.isnan(self.heights)

    def copy(self) -> Surface:
        return Surface(self.x0, self.y0, self.cell, self.heights.copy(), self.last.copy(), self.gone,
                       self.threads)

    def carve(self, region: BaseGeometry, z: float) -> None:
        """Lower every cell whose centre lies in a plan region to z: a recess that is already there."""
        for j, i0, i1 in self.spans(region):
            run = self.heights[j, i0:i1]
            np.minimum(run, np.float32(z), out=run)

    def raise_to(self, region: BaseGeometry, z: float) -> None:
        """Put the top of a part of the board, z, on the cells whose centre lies in a plan region."""
        for j, i0, i1 in self.spans(region):
            self.heights[j, i0:i1] = z

    def spans(self, region: BaseGeometry) -> Iterator[tuple[int, int, int]]:
        """(j, i0, i1): cells i0 up to (not including) i1 of row j have their centre in a plan region."""
        for j, i0, i1 in zip(*(column.tolist() for column in self._runs(region)), strict=True):
            if i0 < i1:
                yield j, i0, i1

    def _runs(self, region: BaseGeometry) -> tuple[NDArray, NDArray, NDArray]:
        """Row, first and past column of each run, in order; some of no cell."""
        rows, crossings = _crossings(region, self.y0, self.cell, self.shape[0])
        at = np.clip(np.ceil((crossings - self.x0) / self.cell - 0.5), 0, self.shape[1]).astype(np.int64)
        return rows[::2], at[::2], at[1::2]

    def _blocks(self, region: BaseGeometry) -> Iterator[tuple[int, int, int, int]]:
        """(j0, j1, i0, i1): the same as blocks of rows that have one run, the same."""
        row, i0, i1 = self._runs(region)
        alike = (np.diff(row) == 1) & (np.diff(i0) == 0) & (np.diff(i1) == 0)
        first = np.flatnonzero(np.append(True, ~alike)[:len(row)])
        last = np.append(first[1:], len(row))[:len(first)] - 1
        columns = (row[first], row[last] + 1, i0[first], i1[first])
        return zip(*(column.tolist() for column in columns), strict=True)

    def mask(self, region: BaseGeometry) -> NDArray[np.bool_]:
        """(ny, nx) true where a cell's centre lies in a plan region."""
        inside = np.zeros(self.shape, np.bool_)
        for first, stop, i0, i1 in self._blocks(region):
            inside[first:stop, i0:i1] = True
        return inside

    def window(self, region: BaseGeometry) -> tuple[slice, slice]:
        """The rows and columns that a region's bounding box touches; possibly none."""
        if region.is_empty:
            return slice(0, 0), slice(0, 0)
        x0, y0, x1, y1 = region.bounds
        ny, nx = self.shape
        rows = max(0, floor((y0 - self.y0) / self.cell)), min(ny, ceil((y1 - self.y0) / self.cell))
        columns = max(0, floor((x0 - self.x0) / self.cell)), min(nx, ceil((x1 - self.x0) / self.cell))
        return slice(rows[0], max(rows)), slice(columns[0], max(columns))

    def bands(self) -> list[slice]:
        """Runs of rows, together the whole map."""
        return bands_of(self.shape)

    def over_bands(self, work: Callable[[slice], Answer]) -> Iterator[Answer]:
        """What `work` says of each run of rows, in order, on as many threads as the map has."""
        return over(self.bands(), work, self.threads)

    def part(self, window: tuple[slice, slice]) -> Surface:
        """The same cells, of some rows and columns only; nothing is copied."""
        rows, columns = window
        return Surface(self.x0 + columns.start * self.cell, self.y0 + rows.start * self.cell, self.cell,
                       self.heights[window], self.last[window], threads=self.threads)

    def at(self, x: float, y: float) -> float:
        """Height of the cell that holds a place, mm; NaN off the board."""
        i, j = floor((x - self.x0) / self.cell), floor((y - self.y0) / self.cell)
        ny, nx = self.shape
        return float(self.heights[j, i]) if 0 <= i < nx and 0 <= j < ny else float("nan")

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the surface to one file, in one step; see surface_file."""
        from .surface_file import save

        save(self, path)

    @classmethod
    def load(cls, source: str | os.PathLike[str] | bytes) -> Surface:
        """Read a surface that was saved (a path, or the file's bytes); see surface_file."""
        from .surface_file import load

        return load(source)


def _count(length: float, cell: float) -> int:
    return max(1, ceil(length / cell - 1e-9))


def _crossings(region: BaseGeometry, y0: float, cell: float, ny: int) -> tuple[NDArray, NDArray]:
    """Where rows of cell centres cross a region's boundary: (row, x) pairs, in order; in, out, in, out."""
    rows, xs = [np.empty(0, np.int64)], [np.empty(0)]
    for start, end in _edges(region):
        falls = (end[:, 1] < start[:, 1])[:, None]  # upward, so that neighbours round a shared edge alike
        start, end = np.where(falls, end, start), np.where(falls, start, end)
        first = np.clip(np.ceil((start[:, 1] - y0) / cell - 0.5), 0, ny).astype(np.int64)
        stop = np.clip(np.ceil((end[:, 1] - y0) / cell - 0.5), 0, ny).astype(np.int64)
        edge = np.repeat(np.arange(len(start)), stop - first)
        row = np.arange(len(edge)) + np.repeat(first - np.cumsum(stop - first) + (stop - first), stop - first)
        part = (y0 + (row + 0.5) * cell - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
        rows.append(row)
        xs.append(start[edge, 0] + part * (end[edge, 0] - start[edge, 0]))
    row, x = np.concatenate(rows), np.concatenate(xs)
    order = np.lexsort((x, row))
    return row[order], x[order]


def _edges(region: BaseGeometry) -> Iterable[tuple[NDArray, NDArray]]:
    """The edges of every ring: starts (n, 2) and ends (n, 2)."""
    for part in shapely.get_parts(region):
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                points = shapely.get_coordinates(ring)
                yield points[:-1], points[1:]


def bytes_needed(outline: BaseGeometry, cell: float) -> int:
    """What a map of a board takes with its heights before a stage."""
    x0, y0, x1, y1 = outline.bounds
    return _count(x1 - x0, cell) * _count(y1 - y0, cell) * BYTES_A_CELL


def _refuse_too_large(outline: BaseGeometry, cell: float, memory: int) -> None:
    needed = bytes_needed(outline, cell)
    if needed <= memory:
        return
    fits = next((size for size in CELLS if size > cell and bytes_needed(outline, size) <= memory),
                ceil(1.01 * cell * (needed / max(memory, 1)) ** 0.5 + 1))
    raise MapTooLarge(f"a height map with cells of {cell:g} mm needs {needed / 1e9:.1f} GB of memory and "
                      f"{memory / 1e9:.1f} GB are free; cells of {fits:g} mm would fit")


def choose_cell(outline: BaseGeometry, cutters: Iterable[Cutter], *, memory: int | None = None) -> float:
    """The map cell (mm) for a job that gives none: a twentieth of the narrowest cutter, at most 0.25,
    coarser where the map would not fit half the memory or would be too large to be quick."""
    narrowest = min((profile_of(cutter).radius * 2 for cutter in cutters), default=5.0)
    memory = available_memory() if memory is None else memory
    wanted = max((size for size in CELLS if size <= min(0.25, narrowest / 20)), default=CELLS[0])
    for size in CELLS:
        needed = bytes_needed(outline, size)
        if size >= wanted and needed <= memory // 2 and needed <= PLENTY * BYTES_A_CELL:
            return size
    return CELLS[-1]
