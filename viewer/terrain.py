"""The surface as a grid to draw: blocks of cells, few enough that a window follows, and no ridge lost.

The law: a block shows the cell that lies farthest from its mean, so a ridge or a groove one cell wide is
seen at any size of board. Heights within SHALLOW of the board's level are stretched as the viewer asks;
what lies deeper (a hole) keeps its true depth beyond that. Colours come from relief.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..sim.result import Result
from ..sim.surface import Surface
from . import relief as paint
from .scene import Relief

BLOCKS = 160_000  # on the screen at most
SHALLOW = 2.0  # mm about the level within which heights are stretched

@dataclass
class Terrain:
    """The drawn grid of a surface: z (r, c) float32 and wanted (r, c), the wanted face's height there (NaN:
    none), over block centres x (c,), y (r,). `lines` gives a line number for each move's number."""

    surface: Surface
    wanted_cells: NDArray[np.float32]
    tolerance: float
    bottom: float
    lines: NDArray[np.int32]
    stages: NDArray[np.int32]
    blocks: int = BLOCKS
    z: NDArray[np.float32] = field(init=False)

    def __post_init__(self) -> None:
        self.side = paint.block_side(self.surface.shape, self.blocks)
        self.x = paint.thinned_axis(self.surface.x, self.side)
        self.y = paint.thinned_axis(self.surface.y, self.side)
        self.z = paint.blocked(self.surface.heights, self.side).copy()
        self.wanted = paint.middles(self.wanted_cells, self.side)
        self.level = float(np.nanmedian(self.z))

    def refresh(self, window: tuple[slice, slice]) -> None:
        """Look again at the cells of a window of the map."""
        (rows, columns), side = window, self.side
        if rows.stop <= rows.start or columns.stop <= columns.start:
            return
        r0, c0 = rows.start // side, columns.start // side
        r1, c1 = -(-rows.stop // side), -(-columns.stop // side)
        self.z[r0:r1, c0:c1] = paint.blocked(
            self.surface.heights[r0 * side:r1 * side, c0 * side:c1 * side], side)

    def relief(self) -> Relief:
        return Relief(self.x, self.y, self.z, self.z - self.wanted, self.tolerance, self.bottom)

    def drawn_z(self, z: NDArray | float, stretch: float) -> NDArray[np.float32]:
        """Where a height is drawn."""
        away = np.asarray(z, np.float32) - np.float32(self.level)
        near = np.clip(away, -SHALLOW, SHALLOW)
        return (self.level + near * stretch + (away - near)).astype(np.float32)

    def points(self, stretch: float) -> NDArray[np.float32]:
        """(r + 4, c + 4, 3) points of the grid: with the board's edge, and the side that falls from it."""
        z = np.pad(self.drawn_z(np.nan_to_num(self.z, nan=self.bottom), stretch), 1, mode="edge")
        z = np.pad(z, 1, constant_values=self.bottom)
        x, y = _with_edges(self.x), _with_edges(self.y)
        points = np.empty((*z.shape, 3), np.float32)
        points[..., 0], points[..., 1], points[..., 2] = x[None, :], y[:, None], z
        return points

    def colours(self, colouring: str) -> NDArray[np.uint8]:
        """(r + 4, c + 4, 3) colours of the points."""
        inner = paint.painted(self.relief(), colouring, self._number(colouring))
        painted = np.empty((inner.shape[0] + 4, inner.shape[1] + 4, 3), np.uint8)
        painted[:] = paint.SIDE
        painted[2:-2, 2:-2] = inner
        return painted

    def _number(self, colouring: str) -> NDArray[np.int32] | None:
        """The line or stage that cut each block last, -1 where none did."""
        table = {"line": self.lines, "stage": self.stages}.get(colouring)
        return None if table is None else numbered(paint.middles(self.surface.last, self.side), table)


def who_cut(result: Result) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """For each move's number in the map: its line, and its stage's number among the reported ones."""
    records = result.records
    count = max((each.cut.first_id + len(each.reading.motion) for each in records), default=0)
    lines, stages = np.full(count, -1, np.int32), np.full(count, -1, np.int32)
    for number, record in enumerate(records):
        moves = slice(record.cut.first_id, record.cut.first_id + len(record.reading.motion))
        lines[moves], stages[moves] = record.reading.motion.line, number
    return lines, stages


def numbered(last: NDArray[np.int32], table: NDArray[np.int32]) -> NDArray[np.int32]:
    """A table's number for the move that cut each cell last; -1 where none did."""
    known = (last >= 0) & (last < len(table))
    found = np.full(last.shape, -1, np.int32)
    found[known] = table[last[known]]
    return found


def _with_edges(middles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Block centres, and twice the outer edge at either end."""
    half = (middles[1] - middles[0]) / 2 if len(middles) > 1 else 0.5
    low, high = middles[0] - half, middles[-1] + half
    return np.concatenate([[low, low], middles, [high, high]])
