"""Ridges: how high crests stand over the troughs beside them, measured across the passes on the map.

The law: a crest and a trough count when they lie no farther apart than the step between the passes and
passes of one direction cut both last, or passes that bend; what else slopes or steps on a face is no ridge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .bands import over
from .bends import Ridge, across_bends, beside
from .evidence import Evidence, once
from .faced import Faced, faced
from .stepover import step_between
from .windows import Line, counted, extreme_along

ONE_WAY = np.pi / 180  # rad: passes whose directions differ by less run the same way
AT_ONCE = 4  # bands of rows that are looked at before it is asked whether the others can matter
FEW = 0.02  # part of the face under which a direction is not asked about


@once
def highest_ridges(evidence: Evidence) -> tuple[Ridge | None, ...]:
    """The highest ridge of each of the stage's wanted faces."""
    return tuple(map(highest_ridge, faced(evidence)))


def highest_ridge(face: Faced) -> Ridge | None:
    """The highest ridge inside the finished region; None where there are no two passes side by side."""
    motion = face.evidence.motion
    if not face.measured.any():
        return None
    counts, seen = np.zeros(len(motion), np.int64), []
    for each, *ends in face.evidence.surface.over_bands(lambda band: _seen(face, band)):
        counts += each
        seen.append(Ends(*ends))
    straight, found = np.zeros(len(counts), np.bool_), []
    for moves, step, heading in _directions(face, counts):
        straight |= moves
        found.append(_ridge(face, seen, moves, step, heading))
    bent = ~straight & (counts > 0)
    if counts[bent].sum() >= FEW * counts.sum() > 0:
        found.append(across_bends(face, bent))
    return max((ridge for ridge in found if ridge), key=lambda ridge: ridge.height, default=None)


def _directions(face: Faced, counts: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.bool_], float, float]]:
    """(moves, step, heading) of each direction that passes have; `counts`: cells that each move cut last."""
    motion = face.evidence.motion
    way = motion.end - motion.start
    heading = np.round(np.mod(np.arctan2(way[:, 1], way[:, 0]), np.pi) / ONE_WAY) % 180
    heading[(motion.arc >= 0) | (counts == 0) | (np.hypot(way[:, 0], way[:, 1]) == 0)] = -1
    for each in np.unique(heading[heading >= 0]):
        mine = heading == each
        step = step_between(motion, np.flatnonzero(mine & motion.is_feed))
        if step is not None and counts[mine].sum() >= FEW * counts.sum():
            yield mine, step, float(each) * ONE_WAY


def _finished(face: Faced, band: slice) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
    """The move that cut each cell of some rows last (negative: none of this stage); which are finished."""
    surface = face.evidence.surface
    rows = surface.last[band] - np.int32(face.evidence.cut.first_id)
    return rows, face.measured[band] & (rows >= 0) & (surface.heights[band] <= face.wanted.highest)


class Ends(NamedTuple):
    """The lowest and the highest finished cell of some rows."""

    lowest: float
    highest: float


def _seen(face: Faced, band: slice) -> tuple[NDArray[np.int64], float, float]:
    """How many finished cells of some rows each move cut last (n,), the lowest and the highest of them."""
    rows, finished = _finished(face, band)
    heights, n = face.evidence.surface.heights[band][finished], len(face.evidence.motion)
    return (counted(rows[finished], n)[:n], float(heights.min(initial=np.inf)),
            float(heights.max(initial=-np.inf)))


def _ridge(face: Faced, seen: list[Ends], moves: NDArray[np.bool_], step: float, heading: float
           ) -> Ridge | None:
    """The highest ridge that some moves left, the first of equals. Rows that differ in height by less than
    what was found elsewhere are not looked at."""
    surface = face.evidence.surface
    line = Line.of(step / surface.cell, heading + np.pi / 2)
    bands, best = surface.bands(), (-1.0, 0, 0)
    most = _differ(bands, seen, line.rows)
    order = np.argsort(-most, kind="stable")
    for some in np.array_split(order, range(AT_ONCE, len(order), AT_ONCE)):
        open_ = [bands[k] for k in some if (most[k], -bands[k].start) > (best[0], -best[1])]
        for rise in over(open_, lambda band: _greatest_rise(face, moves, line, band), surface.threads):
            best = max(best, rise, key=lambda each: (each[0], -each[1], -each[2]))
    rise, j, i = best
    return None if rise < 0 else replace(_told(face, moves, line.about(j, i), step), heading=heading)


def _differ(bands: list[slice], seen: list[Ends], reach: int) -> NDArray[np.float64]:
    """(b,) how far the heights of each band, and of so many rows beside it, differ at most; -inf where there
    is no finished cell."""
    near = [[other for other, rows in zip(seen, bands, strict=True)
             if rows.start < band.stop + reach and rows.stop > band.start - reach] for band in bands]
    return np.array([max(each.highest for each in some) - min(each.lowest for each in some) for some in near])


def _greatest_rise(face: Faced, moves: NDArray[np.bool_], line: Line, band: slice) -> tuple[float, int, int]:
    """How far a crest of some moves stands over a trough on a line through a cell of some rows, at most (-1:
    they cut none of them last), and the row and column of the cell."""
    low, high = max(0, band.start - line.rows), min(face.evidence.surface.shape[0], band.stop + line.rows)
    rows, cells = _finished(face, slice(low, high))
    cells &= moves[np.clip(rows, 0, len(moves) - 1)]
    inner = slice(band.start - low, band.stop - low)
    if not cells[inner].any():
        return -1.0, band.start, 0
    heights, none = face.evidence.surface.heights[low:high], np.float32(np.inf)
    if np.ptp(heights[cells]) == 0:  # level: it differs nowhere, so the first cell does for all
        j, i = np.unravel_index(int(cells[inner].argmax()), cells[inner].shape)
        return 0.0, int(j) + band.start, int(i)
    crest = extreme_along(np.maximum, np.where(cells, heights, -none), line, low, -np.inf)[inner]
    trough = extreme_along(np.minimum, np.where(cells, heights, none), line, low, np.inf)[inner]
    rise = np.where(cells[inner], crest - trough, np.float32(-1.0))
    j, i = np.unravel_index(int(rise.argmax()), rise.shape)
    return float(rise[j, i]), int(j) + band.start, int(i)


def _told(face: Faced, moves: NDArray[np.bool_], cells: tuple[NDArray[np.intp], NDArray[np.intp]],
          step: float) -> Ridge:
    """The crest and the trough that make the rise among some cells."""
    surface, (rows, columns) = face.evidence.surface, cells
    ny, nx = surface.shape
    on = (rows >= 0) & (rows < ny) & (columns >= 0) & (columns < nx)
    rows, columns = rows[on], columns[on]
    cut = surface.last[rows, columns] - face.evidence.cut.first_id
    mine = (cut >= 0) & face.measured[rows, columns] & moves[np.clip(cut, 0, len(moves) - 1)]
    mine &= surface.heights[rows, columns] <= face.wanted.highest
    rows, columns, cut = rows[mine], columns[mine], cut[mine]
    heights = surface.heights[rows, columns]
    top, low = int(heights.argmax()), int(heights.argmin())
    at = float(surface.x[columns[top]]), float(surface.y[rows[top]]), float(heights[top])
    return Ridge(float(heights[top] - heights[low]), step, at, int(cut[top]), beside(cut, top, low))
