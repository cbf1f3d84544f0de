"""The surface as a grid to draw: blocks of cells, few enough that a window follows, and no ridge lost.

The law: blocks are those of blocks.py, so a ridge or a groove of any width is seen at any size of board, and
a part of the map can be a terrain of its own, in which every cell is there. Heights within SHALLOW of the
board's level are stretched as the viewer asks; what lies deeper (a hole) keeps its true depth beyond that.
Colours come from relief.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..sim.result import Result
from ..sim.surface import Surface
from . import relief as paint
from .blocks import Blocks, block_side, middles, thinned_axis
from .scene import Relief

BLOCKS = 100_000  # on the screen at most: a frame in software within half a second
SHALLOW = 2.0  # mm about the level within which heights are stretched

Window = tuple[slice, slice]  # rows, columns of the map


@dataclass
class Terrain:
    """The drawn grid of a surface: z (r, c) and wanted (r, c), the wanted face's height there (NaN:
    none), over block centres x (c,), y (r,). `lines` gives a line number for each move's number."""

    surface: Surface
    wanted_cells: NDArray[np.float32]
    tolerance: float
    bottom: float
    lines: NDArray[np.int32]
    stages: NDArray[np.int32]
    most: int = BLOCKS
    level: float = float("nan")
    blocks: Blocks = field(init=False)

    def __post_init__(self) -> None:
        self.side = block_side(self.surface.shape, self.most)
        self.x, self.y = (thinned_axis(axis, self.side) for axis in (self.surface.x, self.surface.y))
        self.blocks = Blocks(self.surface.heights, self.side)
        self.wanted = middles(self.wanted_cells, self.side)
        if np.isnan(self.level):
            self.level = float(np.nanmedian(self.z))

    @property
    def z(self) -> NDArray[np.float32]:
        """(r, c) the height that each block shows."""
        return self.blocks.shown

    def refresh(self, window: Window) -> None:
        """Look again at the cells of a window of the map."""
        self.blocks.refresh(window)

    def put(self, surface: Surface) -> None:
        """Another board of the same size is what is shown."""
        self.surface, self.blocks.values = surface, surface.heights
        self.refresh((slice(0, surface.shape[0]), slice(0, surface.shape[1])))

    def part(self, window: Window, most: int) -> Terrain:
        """A window of the map as a terrain of its own, about the same level: it sees what the map is now."""
        rows, columns = window
        map_, cells = self.surface, np.s_[rows, columns]
        surface = Surface(map_.x0 + columns.start * map_.cell, map_.y0 + rows.start * map_.cell, map_.cell,
                          map_.heights[cells], map_.last[cells])
        return Terrain(surface, self.wanted_cells[cells], self.tolerance, self.bottom, self.lines,
                       self.stages, most, self.level)

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
        painted[2:-2, 2:-2][np.isnan(self.z)] = paint.SIDE  # the side that falls from an inner edge
        return painted

    def quads(self) -> NDArray[np.int64]:
        """(q, 4) the points of each face of the grid: none where no board is near."""
        board = np.pad(np.pad(~np.isnan(self.z), 1, mode="edge"), 1, mode="edge")
        corners = [board[:-1, :-1], board[:-1, 1:], board[1:, 1:], board[1:, :-1]]
        first = np.flatnonzero(np.any(corners, axis=0))
        wide = board.shape[1]
        first += first // (wide - 1)  # a face fewer than points in each row
        return np.column_stack((first, first + 1, first + wide + 1, first + wide))

    def _number(self, colouring: str) -> NDArray[np.int32] | None:
        """The line or stage that cut each block last, -1 where none did."""
        table = {"line": self.lines, "stage": self.stages}.get(colouring)
        return None if table is None else numbered(middles(self.surface.last, self.side), table)


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
