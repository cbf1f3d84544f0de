"""The surface packed for the page: whole numbers of a quantum, row differences, deflated, as text.

The law: what is unpacked lies within half a quantum of the map; a place off the board stays off it; every
cell that was cut still names the stage and the line that cut it last.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...sim.result import Result
from .. import relief as paint
from ..scene import Relief

OFF_BOARD = 0xFFFF
FINEST = 1e-4  # mm: heights are right to this
MOST_CELLS = 16_000_000  # beyond it blocks of cells are shown as one
LEVELS = 250  # wanted heights that are told apart


@dataclass(frozen=True)
class CutBy:
    """Who cut each cell last: index (ny, nx) uint32 into the table, 0 where nobody did; stage and line of
    each row of the table, row 0 standing for nobody."""

    index: NDArray[np.uint32]
    stage: list[int]
    line: list[int]


def map_of(result: Result, relief: Relief) -> dict[str, Any]:
    """The surface as numbers and packed texts; `side`: cells of the map in one that is shown."""
    heights, side = paint.thinned(relief.heights, MOST_CELLS)
    low, quantum = scale(heights)
    wanted, levels = wanted_of(relief)
    cut_by = cut_by_of(result)
    ny, nx = heights.shape
    cell = result.surface.cell * side
    return {"nx": nx, "ny": ny, "x0": result.surface.x0, "y0": result.surface.y0, "cell": cell, "side": side,
            "low": low, "quantum": quantum, "heights": packed(whole(heights, low, quantum), 2),
            "wanted": packed(np.ascontiguousarray(wanted[::side, ::side]), 1), "levels": levels,
            "tolerance": relief.tolerance, "bottom": relief.bottom,
            "last": packed(np.ascontiguousarray(cut_by.index[::side, ::side]), 3),
            "stage": cut_by.stage, "line": cut_by.line}


def scale(heights: NDArray[np.float32]) -> tuple[float, float]:
    """The lowest height, and the quantum that takes the highest just below OFF_BOARD."""
    if np.isnan(heights).all():
        return 0.0, FINEST
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    return low, max(FINEST, (high - low) / (OFF_BOARD - 1))


def whole(heights: NDArray[np.float32], low: float, quantum: float) -> NDArray[np.uint32]:
    """(ny, nx) heights as whole quanta above `low`."""
    counted = np.rint((np.nan_to_num(heights, nan=low).astype(np.float64) - low) / quantum)
    return np.where(np.isnan(heights), OFF_BOARD, counted).astype(np.uint32)


def packed(values: NDArray, size: int) -> str:
    """(ny, nx) whole numbers of `size` bytes: row differences, all lowest bytes first, deflated, base64."""
    differences = values.astype(np.uint32)
    differences[1:] -= values[:-1].astype(np.uint32)
    planes = [((differences >> (8 * n)) & 255).astype(np.uint8).tobytes() for n in range(size)]
    return base64.b64encode(zlib.compress(b"".join(planes), 6)).decode()


def wanted_of(relief: Relief) -> tuple[NDArray[np.uint8], list[float]]:
    """(ny, nx) number of the wanted height of each cell from 1, 0 where none is wanted; and the heights."""
    number = np.zeros(relief.off.shape, np.uint8)
    known = ~np.isnan(relief.off)
    level = np.round(relief.heights[known].astype(np.float64) - relief.off[known], 4)
    levels, which = np.unique(level, return_inverse=True)
    number[known] = np.minimum(which, LEVELS) + 1
    return number, [float(z) for z in levels[:LEVELS + 1]]


def cut_by_of(result: Result) -> CutBy:
    """The moves of the map as rows of (stage, line)."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    moves = int(result.surface.last.max(initial=-1)) + 1
    owner = np.zeros((moves, 2), np.int64)
    first = 0
    for number, record in enumerate(kept):
        lines = record.reading.motion.line
        first = record.cut.first_id if record.cut is not None else first
        count = max(0, min(len(lines), moves - first))
        owner[first:first + count, 0], owner[first:first + count, 1] = number + 1, lines[:count]
        first += len(lines)
    rows, which = np.unique(np.vstack([[[0, 0]], owner]), axis=0, return_inverse=True)
    index = which.ravel()[result.surface.last + 1].astype(np.uint32)
    return CutBy(index, [int(s) - 1 for s in rows[:, 0]], [int(n) for n in rows[:, 1]])
