"""A map in blocks of cells, few enough to draw, and no ridge and no groove lost.

The law: a block shows its highest or its lowest cell, whichever lies farther from the mean of the blocks
about it. A ridge or groove of any width is then seen: a narrow one stands out from its surroundings in every
block that it crosses, and a wide one fills a block. (Against the mean of the block alone, one that fills more
than half of a block would vanish.) Blocks at the far edges may be smaller; no board is NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Heights = NDArray[np.float32]
ABOUT = 2  # blocks on every side that are a block's surroundings


def thinned(values: Heights, most: int) -> tuple[Heights, int]:
    """The map in at most about `most` blocks, and a block's side in cells."""
    side = block_side(values.shape, most)
    return blocked(values, side), side


def block_side(shape: tuple[int, int], most: int) -> int:
    """How many cells a block is wide where a map of this shape is shown in about `most` blocks."""
    return max(1, int(np.ceil(np.sqrt(shape[0] * shape[1] / most))))


def blocked(values: Heights, side: int) -> Heights:
    """A map in blocks of `side` cells; the map itself where that is 1."""
    return values if side == 1 else Blocks(values, side).shown


@dataclass
class Blocks:
    """A map's blocks: highest, lowest and mean of each (r, c), and what is shown of it. `refresh` looks again
    at a part of a map that changed."""

    values: Heights
    side: int
    shown: Heights = field(init=False)

    def __post_init__(self) -> None:
        rows, columns = (-(-count // self.side) for count in self.values.shape)
        self.high, self.low, self.mean, self.shown = np.empty((4, rows, columns), np.float32)
        self.refresh((slice(0, self.values.shape[0]), slice(0, self.values.shape[1])))

    def refresh(self, window: tuple[slice, slice]) -> None:
        """Look again at the cells of a window of the map."""
        r, c = (slice(part.start // self.side, -(-part.stop // self.side)) for part in window)
        if r.stop <= r.start or c.stop <= c.start:
            return
        cells = slice(c.start * self.side, c.stop * self.side)
        for row in range(r.start, r.stop):
            strip = self.values[row * self.side:(row + 1) * self.side, cells]
            self.high[row, c], self.low[row, c], self.mean[row, c] = marks(strip, self.side)
        self.choose(wider(r, len(self.high)), wider(c, self.high.shape[1]))

    def choose(self, rows: slice, columns: slice) -> None:
        """What is shown of some blocks, from their own marks and the surroundings'."""
        outer = wider(rows, len(self.high)), wider(columns, self.high.shape[1])
        about = surroundings(self.mean[outer])
        inner = tuple(slice(part.start - out.start, part.stop - out.start)
                      for part, out in zip((rows, columns), outer, strict=True))
        high, low, mean = self.high[rows, columns], self.low[rows, columns], about[inner]
        self.shown[rows, columns] = np.where(high - mean >= mean - low, high, low)


def wider(part: slice, count: int) -> slice:
    return slice(max(0, part.start - ABOUT), min(count, part.stop + ABOUT))


def marks(strip: Heights, side: int) -> tuple[Heights, Heights, Heights]:
    """Highest, lowest and mean of each block of one row of blocks; NaN where there is no board at all."""
    strip = widened(strip, side)
    high, low = (reduce(strip, axis=0).reshape(-1, side) for reduce in (np.max, np.min))
    high, low = high.max(axis=1), low.min(axis=1)
    mean = strip.mean(axis=0).reshape(-1, side).mean(axis=1)
    ragged = np.isnan(mean)
    if ragged.any():
        blocks = strip.reshape(len(strip), -1, side)[:, ragged].swapaxes(0, 1).reshape(int(ragged.sum()), -1)
        known = ~np.isnan(blocks)
        some = known.any(axis=1)
        count = np.maximum(known.sum(axis=1), 1)
        for into, filled in ((high, np.where(known, blocks, -np.inf).max(axis=1)),
                             (low, np.where(known, blocks, np.inf).min(axis=1)),
                             (mean, np.where(known, blocks, 0).sum(axis=1) / count)):
            into[ragged] = np.where(some, filled, np.nan)
    return high, low, mean


def widened(strip: Heights, side: int) -> Heights:
    """A strip whose last block is whole: its last column again."""
    short = -strip.shape[1] % side
    return np.concatenate([strip, np.repeat(strip[:, -1:], short, axis=1)], axis=1) if short else strip


def surroundings(mean: Heights) -> Heights:
    """The mean of what is known of each block and of the ABOUT blocks on every side."""
    from scipy.ndimage import uniform_filter
    known, size = ~np.isnan(mean), 2 * ABOUT + 1
    total, part = (uniform_filter(each.astype(np.float64), size, mode="constant")
                   for each in (np.where(known, mean, 0), known))
    return (total / np.maximum(part, 1e-9)).astype(np.float32)


def extremes(values: Heights, side: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """(rows, columns) of the cell that `blocked` shows for each block of `side` cells."""
    nx, shown = values.shape[1], blocked(values, side)
    rows, columns = (np.empty(shown.shape, np.intp) for _ in range(2))
    for number, picked in enumerate(shown):
        strip = widened(values[number * side:(number + 1) * side], side)
        same = (strip.reshape(len(strip), -1, side) == picked[:, None]).swapaxes(0, 1)
        which = same.reshape(len(picked), -1).argmax(axis=1)
        rows[number] = number * side + which // side
        columns[number] = np.arange(len(picked)) * side + which % side
    return rows, np.minimum(columns, nx - 1)


def thinned_axis(axis: NDArray[np.float64], side: int) -> NDArray[np.float64]:
    """The centres of blocks of `side` cells."""
    step = axis[1] - axis[0] if len(axis) > 1 else 1.0
    return axis[0] + ((side - 1) / 2 + side * np.arange(-(-len(axis) // side))) * step


def middles(cells: NDArray, side: int) -> NDArray:
    """The cell in the middle of each block of `side` cells."""
    rows, columns = (np.minimum(np.arange(0, count, side) + side // 2, count - 1) for count in cells.shape)
    return cells[np.ix_(rows, columns)]
