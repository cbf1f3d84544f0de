"""The greatest or least height within a window about every cell of a map: a rectangle, or a straight line;
runs of equal cells.

The law: the answer is a cell's own height, never a mean; beyond the map lies what the caller says. A window
costs the logarithm of its length, whichever way it runs. Neighbours mostly are alike: what is counted or
looked up is so for each run of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, sin

import numpy as np
from numpy.typing import NDArray

Cells = NDArray[np.intp]


def running(choose: np.ufunc, z: NDArray, size: int, axis: int) -> NDArray:
    """np.maximum or np.minimum of every `size` neighbours along an axis: as many fewer, less one."""
    best, have = np.moveaxis(z, axis, 0), 1
    while have < size:
        more = min(have, size - have)
        best = choose(best[:len(best) - more], best[more:])
        have += more
    return np.moveaxis(best, 0, axis)


def extreme_about(choose: np.ufunc, z: NDArray, size: tuple[int, int], beyond: float) -> NDArray:
    """The same within so many rows and columns (odd) about each cell, `beyond` the map's edges."""
    wide = np.pad(z, [(n // 2, n // 2) for n in size], constant_values=beyond)
    return running(choose, running(choose, wide, size[0], 0), size[1], 1)


@dataclass(frozen=True)
class Line:
    """A straight line of cells: `reach` to either side of its middle along its long way, which is up the rows
    (upright) or along them; with each it moves `slope` of a cell (-1 to 1) the other way."""

    reach: int
    slope: float
    upright: bool

    @staticmethod
    def of(length: float, angle: float) -> Line:
        """At an angle from the rows, at most `length` cells from end to end."""
        half, along, up = max(1, int(length / 2 + 1e-9)), cos(angle), sin(angle)
        upright = abs(up) >= abs(along)
        far, aside = (up, along) if upright else (along, up)
        slope = aside / far
        return Line(max(1, int(half * abs(far) + 1e-9)), slope if abs(slope) > 1e-12 else 0.0, upright)

    @property
    def rows(self) -> int:
        """How many rows it reaches up and down at most."""
        return self.reach if self.upright else ceil(self.reach * abs(self.slope)) if self.slope else 0

    def aside(self, at: Cells) -> Cells:
        """How far to the side a line through 0 is at rows (columns, where it is not upright)."""
        return np.floor(at * self.slope + 0.5).astype(np.intp)

    def about(self, j: int, i: int) -> tuple[Cells, Cells]:
        """Rows and columns of the line through a cell, the map's edges left out of account."""
        middle, other = (j, i) if self.upright else (i, j)
        long = middle + np.arange(-self.reach, self.reach + 1)
        short = other + self.aside(long) - self.aside(np.array(middle))
        return (long, short) if self.upright else (short, long)


def extreme_along(choose: np.ufunc, z: NDArray, line: Line, first: int, beyond: float) -> NDArray:
    """The same along the line through each cell of z, whose rows begin with the map's row `first`: every
    row is moved aside until all lines stand upright."""
    if not line.upright:
        return extreme_along(choose, z.T, Line(line.reach, line.slope, True), 0, beyond).T
    size = 2 * line.reach + 1
    if not line.slope:
        return extreme_about(choose, z, (size, 1), beyond)
    rows, columns = z.shape
    aside = line.aside(first + np.arange(rows))
    moved = (aside.max() - aside).tolist()
    wide = np.full((rows + size - 1, columns + max(moved)), beyond, z.dtype)
    for j, by in enumerate(moved):
        wide[line.reach + j, by:by + columns] = z[j]
    best, found = running(choose, wide, size, 0), np.empty(z.shape, z.dtype)
    for j, by in enumerate(moved):
        found[j] = best[j, by:by + columns]
    return found


def runs(values: NDArray) -> tuple[NDArray, NDArray[np.intp]]:
    """Runs of equal values in a row (n,): what stands in each, and how often."""
    first = np.flatnonzero(np.append(True, values[1:] != values[:-1])[:len(values)])
    return values[first], np.diff(first, append=len(values))


def counted(numbers: NDArray[np.integer], least: int = 0) -> NDArray[np.int64]:
    """How often each whole number from 0 up stands among some (n,), for `least` numbers or more."""
    each, often = runs(numbers)
    return np.bincount(each, often, least).astype(np.int64)
