"""The step between neighbouring passes, measured on the program's own path, and the width it is held against.

The law: passes are long, level, straight and parallel; a pass cut in several moves is one. The step is the
middle one of all distances between neighbours, so that a narrow last pass does not hide it. Millimetres.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Floats, Motion

LEVEL = 1e-6  # mm: rise of a level move
SAME = 1e-3  # mm: passes closer than this are one
PARALLEL = 1e-4  # rad
LONG = 0.5  # part of the longest pass that a pass must have


def flat_width(cutter: Cutter) -> float | None:
    """D - 2r: how wide the cutter's flat floor is, mm; None for shapes without one."""
    if cutter.diameter is None or cutter.shape not in ("flat", "facing", "bull"):
        return None
    corner = cutter.corner
    taken = 0.0 if corner is None else corner.radius or corner.chamfer or 0.0
    return cutter.diameter - 2 * taken


def step_between(motion: Motion, rows: NDArray[np.intp]) -> float | None:
    """Distance between neighbouring parallel passes among the given moves, mm; None when there are no two."""
    passes = _passes(motion, rows)
    step = np.diff(passes, axis=0)  # the passes come by height, then from side to side
    gaps = step[step[:, 0] == 0, 1]
    return float(np.median(gaps)) if len(gaps) else None


def _passes(motion: Motion, rows: NDArray[np.intp]) -> Floats:
    """(p, 2) height and sideways place of each long pass along the direction that most of the path has."""
    rows = rows[motion.arc[rows] < 0]
    start, way = motion.start[rows], motion.end[rows] - motion.start[rows]
    length = np.hypot(way[:, 0], way[:, 1])
    level = (np.abs(way[:, 2]) <= LEVEL) & (length > SAME)
    start, way, length = start[level], way[level], length[level]
    if not len(length):
        return np.empty((0, 2))
    angle = np.arctan2(way[:, 1], way[:, 0]) % np.pi
    main = _main_angle(angle, length)
    along = np.abs((angle - main + np.pi / 2) % np.pi - np.pi / 2) <= PARALLEL
    across = start[along, 1] * np.cos(main) - start[along, 0] * np.sin(main)
    return _merged(np.round(start[along, 2], 4), across, length[along])


def _main_angle(angle: Floats, length: Floats) -> float:
    """The direction, 0 to pi, that holds over the greatest length."""
    cell = np.round(angle / PARALLEL).astype(np.int64) % round(np.pi / PARALLEL)
    each, first, which = np.unique(cell, return_index=True, return_inverse=True)
    return float(angle[first[np.bincount(which, length, len(each)).argmax()]])


def _merged(height: Floats, across: Floats, length: Floats) -> Floats:
    """Moves in one line become one pass; passes shorter than `LONG` of the longest drop out."""
    order = np.lexsort((across, height))
    height, across, length = height[order], across[order], length[order]
    new = np.concatenate(([True], (np.diff(height) != 0) | (np.diff(across) > SAME)))
    total = np.bincount(np.cumsum(new) - 1, length)
    return np.column_stack((height[new], across[new]))[total >= LONG * total.max()]
