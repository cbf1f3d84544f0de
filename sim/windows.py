"""The greatest or least height within a window about every cell of a map.

The law: the answer is a cell's own height, never a mean; beyond the map lies what the caller says. A window
along an axis costs the logarithm of its length, another one its cells.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def running(choose: np.ufunc, z: NDArray, size: int, axis: int) -> NDArray:
    """np.maximum or np.minimum of every `size` neighbours along an axis: as many fewer, less one."""
    best, have = np.moveaxis(z, axis, 0), 1
    while have < size:
        more = min(have, size - have)
        best = choose(best[:len(best) - more], best[more:])
        have += more
    return np.moveaxis(best, 0, axis)


def extreme_about(choose: np.ufunc, z: NDArray, window: NDArray[np.bool_], beyond: float) -> NDArray:
    """The same within a window (odd in both directions) about each cell, `beyond` the map's edges."""
    rows, columns = (n // 2 for n in window.shape)
    wide = np.pad(z, ((rows, rows), (columns, columns)), constant_values=beyond)
    if window.all():
        return running(choose, running(choose, wide, window.shape[0], 0), window.shape[1], 1)
    best = np.full_like(z, beyond)
    for j, i in np.argwhere(window).tolist():
        choose(best, wide[j:j + z.shape[0], i:i + z.shape[1]], out=best)
    return best
