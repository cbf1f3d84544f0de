"""Ridges: how high crests stand over the troughs beside them, measured across the passes on the map.

The law: a crest and a trough count when they lie no farther apart than the step between the passes and
passes of one direction cut both last; what else slopes or steps on a face is not a ridge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from .evidence import Evidence, once
from .faced import Faced, faced
from .stepover import step_between

ONE_WAY = np.pi / 180  # rad: passes whose directions differ by less run the same way
FEW = 0.02  # part of the face under which a direction is not asked about


@dataclass(frozen=True)
class Ridge:
    """The highest ridge: height and step, mm; where its crest is; rows of the moves that left crest and
    trough."""

    height: float
    step: float
    at: tuple[float, float, float]
    crest: int
    trough: int


@once
def highest_ridges(evidence: Evidence) -> tuple[Ridge | None, ...]:
    """The highest ridge of each of the stage's wanted faces."""
    return tuple(map(highest_ridge, faced(evidence)))


def highest_ridge(face: Faced) -> Ridge | None:
    """The highest ridge inside the finished region; None where there are no two passes side by side."""
    ridges = [_ridge(face, cells, step, across) for cells, step, across in _directions(face)]
    return max((ridge for ridge in ridges if ridge), key=lambda ridge: ridge.height, default=None)


def _directions(face: Faced) -> Iterator[tuple[NDArray[np.bool_], float, float]]:
    """(cells that it cut last, step, direction across) of each direction that passes have."""
    evidence, motion = face.evidence, face.evidence.motion
    rows = evidence.surface.last - evidence.cut.first_id
    finished = face.measured & (rows >= 0) & (evidence.surface.heights <= face.wanted.highest)
    counts = np.bincount(rows[finished], minlength=len(motion))[:len(motion)]
    way = motion.end - motion.start
    heading = np.round(np.mod(np.arctan2(way[:, 1], way[:, 0]), np.pi) / ONE_WAY) % 180
    heading[(motion.arc >= 0) | (counts == 0) | (np.hypot(way[:, 0], way[:, 1]) == 0)] = -1
    for each in np.unique(heading[heading >= 0]):
        mine = heading == each
        step = step_between(motion, np.flatnonzero(mine & motion.is_feed))
        if step is not None and counts[mine].sum() >= FEW * counts.sum():
            yield finished & mine[np.clip(rows, 0, len(motion) - 1)], step, each * ONE_WAY + np.pi / 2


def _ridge(face: Faced, cells: NDArray[np.bool_], step: float, across: float) -> Ridge | None:
    surface = face.evidence.surface
    window = _line(step / surface.cell, across)
    heights = surface.heights
    crest = _filtered(ndimage.maximum_filter, np.where(cells, heights, -np.inf), window)
    trough = _filtered(ndimage.minimum_filter, np.where(cells, heights, np.inf), window)
    rise = np.where(cells, crest - trough, -1.0)
    j, i = np.unravel_index(int(rise.argmax()), rise.shape)
    if rise[j, i] < 0:
        return None
    return _told(face, cells, window, step, int(j), int(i))


def _line(reach: float, angle: float) -> NDArray[np.bool_]:
    """The cells of a straight window at an angle about its middle, at most `reach` cells from end to end."""
    half = max(1, int(reach / 2 + 1e-9))
    part = np.arange(-half, half + 1)
    i, j = np.round(part * np.cos(angle)).astype(int), np.round(part * np.sin(angle)).astype(int)
    window = np.zeros((2 * int(abs(j).max()) + 1, 2 * int(abs(i).max()) + 1), bool)
    window[j + window.shape[0] // 2, i + window.shape[1] // 2] = True
    return window


def _filtered(kind, heights: NDArray[np.floating], window: NDArray[np.bool_]) -> NDArray[np.floating]:
    """A greatest or least height within a window; straight windows along an axis go quickly."""
    if window.all():
        return kind(heights, size=window.shape, mode="nearest")
    return kind(heights, footprint=window, mode="nearest")


def _told(face: Faced, cells: NDArray[np.bool_], window: NDArray[np.bool_], step: float,
          j: int, i: int) -> Ridge:
    """The crest and the trough that make the rise at a cell."""
    surface = face.evidence.surface
    dj, di = np.nonzero(window)
    rows, columns = j + dj - window.shape[0] // 2, i + di - window.shape[1] // 2
    ny, nx = surface.shape
    on = (rows >= 0) & (rows < ny) & (columns >= 0) & (columns < nx)
    rows, columns = rows[on], columns[on]
    rows, columns = rows[cells[rows, columns]], columns[cells[rows, columns]]
    heights, moves = surface.heights[rows, columns], surface.last[rows, columns] - face.evidence.cut.first_id
    top, low = int(heights.argmax()), int(heights.argmin())
    at = float(surface.x[columns[top]]), float(surface.y[rows[top]]), float(heights[top])
    return Ridge(float(heights[top] - heights[low]), step, at, int(moves[top]), int(moves[low]))
