"""The surface as a grid to draw: blocks of cells, few enough that a window follows, and no ridge lost.

The law: a block shows the cell that lies farthest from its mean, so a ridge or a groove one cell wide is
seen at any size of board. Heights within SHALLOW of the board's level are stretched as the viewer asks;
what lies deeper (a hole) keeps its true depth beyond that. Colours come from relief.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..sim.surface import Surface
from . import relief as paint
from .scene import Relief

BLOCKS = 160_000  # on the screen at most
LEAST = 0.05  # mm below and above the level that colours of height span at least
SHALLOW = 2.0  # mm about the level within which heights are stretched
TINTS: tuple[paint.Rgb, ...] = (  # neighbouring passes differ in lightness, then in hue
    (226, 214, 190), (150, 176, 200), (206, 178, 128), (116, 146, 178), (238, 226, 206), (182, 196, 206))
LOW: paint.Rgb = (38, 62, 112)
HIGH: paint.Rgb = (246, 232, 178)

Colouring = str
COLOURINGS: dict[Colouring, str] = {
    "wanted": "distance from the wanted face",
    "height": "height",
    "line": "the line that cut it last",
    "stage": "the stage that cut it last",
}


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
        self.wanted = self._middles(self.wanted_cells)
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

    def _middles(self, cells: NDArray) -> NDArray:
        """The cell in the middle of each block."""
        half = self.side // 2
        rows = np.minimum(np.arange(len(self.y)) * self.side + half, cells.shape[0] - 1)
        columns = np.minimum(np.arange(len(self.x)) * self.side + half, cells.shape[1] - 1)
        return cells[np.ix_(rows, columns)]

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

    def colours(self, colouring: Colouring) -> NDArray[np.uint8]:
        """(r + 4, c + 4, 3) colours of the points."""
        inner = paint.colours(self.relief()) if colouring == "wanted" else self._shaded(colouring)
        painted = np.empty((inner.shape[0] + 4, inner.shape[1] + 4, 3), np.uint8)
        painted[:] = paint.SIDE
        painted[2:-2, 2:-2] = inner
        return painted

    def _shaded(self, colouring: Colouring) -> NDArray[np.uint8]:
        relief = self.relief()
        base = self._by_height() if colouring == "height" else self._by_move(
            self.lines if colouring == "line" else self.stages)
        painted = np.clip(base * paint.shade(relief)[..., None], 0, 255)
        painted[np.isnan(self.z)] = paint.PAPER
        return painted.astype(np.uint8)

    def _by_height(self) -> NDArray[np.float32]:
        near = self.z[np.abs(self.z - self.level) <= SHALLOW]
        low, high = (float(near.min()), float(near.max())) if near.size else (self.level, self.level)
        low, high = min(low, self.level - LEAST), max(high, self.level + LEAST)
        part = np.nan_to_num(np.clip((self.z - low) / (high - low), 0, 1))[..., None]
        return ((1 - part) * np.array(LOW) + part * np.array(HIGH)).astype(np.float32)

    def _by_move(self, number: NDArray[np.int32]) -> NDArray[np.float32]:
        """A tint for each line or stage; untouched board has none."""
        last = self._middles(self.surface.last)
        base = np.empty((*last.shape, 3), np.float32)
        base[:] = paint.PLAIN
        cut = (last >= 0) & (last < len(number))
        base[cut] = np.array(TINTS, np.float32)[number[last[cut]] % len(TINTS)]
        return base


def _with_edges(middles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Block centres, and twice the outer edge at either end."""
    half = (middles[1] - middles[0]) / 2 if len(middles) > 1 else 0.5
    low, high = middles[0] - half, middles[-1] + half
    return np.concatenate([[low, low], middles, [high, high]])
