"""What cutting asks of the cutter, move by move: width, angles, chips an hour, power.

The law: from what a move really took off (Cut), its path and its time; where one of them is not known, or
nothing was cut, the answer is NaN. Formulas: machining handbook standard, small letters as there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Motion
from .cut import Cut
from .cutters import profile_of
from .evidence import Evidence
from .feeds import Rows, plunging

Floats = NDArray[np.float64]
SHORTEST = 1e-3  # mm: what a move makes over the board at least


def plan_lengths(motion: Motion) -> Floats:
    """(n,) how far each move goes in plan, mm; NaN where unplaced."""
    rise = motion.end[:, 2] - motion.start[:, 2]
    level = np.hypot(*(motion.end - motion.start)[:, :2].T)
    arcs = motion.arc >= 0
    level[arcs] = np.sqrt(np.maximum(motion.length()[arcs] ** 2 - rise[arcs] ** 2, 0.0))
    return level


def widths_engaged(cut: Cut, motion: Motion, cutters: Sequence[Cutter | None]) -> Floats:
    """(n,) a_e: mean width of the material met across the path, mm: area lowered for each mm of path, never
    more than the cutter's diameter; the diameter for plunges."""
    widest = np.array([np.nan if c is None else 2 * profile_of(c).radius for c in cutters], np.float64)
    length = plan_lengths(motion)
    width = np.minimum(np.divide(cut.area, length, out=widest.copy(), where=length > 1e-9), widest)
    return np.where(cut.volume > 0, width, np.nan)


def contact_angles(width: Floats, diameter: Floats) -> Floats:
    """(n,) degrees of a turn during which an edge is in the material: acos(1 - 2·a_e/D)."""
    return np.degrees(np.arccos(np.clip(1 - 2 * width / diameter, -1.0, 1.0)))


def entry_angles(cut: Cut, motion: Motion) -> Floats:
    """(n,) degrees below the level at which a move that cuts goes down: 90 straight down, 0 level, rising."""
    fall = np.maximum(motion.start[:, 2] - motion.end[:, 2], 0.0)
    return np.where(cut.volume > 0, np.degrees(np.arctan2(fall, plan_lengths(motion))), np.nan)


def removal_rates(cut: Cut, seconds: Floats) -> Floats:
    """(n,) Q, mm³ a minute."""
    known = (seconds > 0) & (cut.volume > 0)
    return np.divide(cut.volume * 60, seconds, out=np.full(len(seconds), np.nan), where=known)


def powers(rate: Floats, energy: float | Floats) -> Floats:
    """(n,) P = k_c·Q/60 000, W, for a specific cutting energy in N/mm²."""
    return energy * rate / 60_000


def rates(evidence: Evidence, rows: Rows) -> Floats:
    """mm³ removed in a minute of each move, while it is over the board."""
    return evidence.cut.volume[rows] * evidence.motion.feed[rows] / over_board(evidence, rows)


def over_board(evidence: Evidence, rows: Rows) -> Floats:
    """mm of each move with the cutter's axis over the board, or all of it where it goes along the edge; of a
    way straight down what it cuts."""
    motion = evidence.motion
    length, way = motion.length()[rows], motion.end[rows] - motion.start[rows]
    level = np.hypot(way[:, 0], way[:, 1])
    lines = shapely.linestrings(np.stack((motion.start[rows, :2], motion.end[rows, :2]), axis=1))
    inside = shapely.length(shapely.intersection(lines, evidence.board))
    straight = (motion.arc[rows] < 0) & (level > SHORTEST)
    part = np.divide(inside, level, out=np.ones(len(rows)), where=straight & (inside > SHORTEST))
    part[plunging(motion)[rows]] = 1.0
    cut = np.where(plunging(motion)[rows], evidence.cut.depth[rows], length * part)
    return np.maximum(cut, SHORTEST)
