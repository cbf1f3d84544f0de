"""What cutting asks of the cutter, move by move: width, angles, chips an hour, power.

The law: from what a move really took off (Cut), its path and its time; where one of them is not known, or
nothing was cut, the answer is NaN. Formulas: machining handbook standard, small letters as there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Cutter
from ..parser.motion import Motion
from .cut import Cut
from .cutters import profile_of
from .evidence import Evidence, once
from .feeds import Rows, energies, plunging
from .swarm import numbered
from .work_figures import Hardest

Floats = NDArray[np.float64]
SHORTEST = 1e-3  # mm: what a move makes over the board at least
WATTS = 1000.0  # in a kW


def plan_lengths(motion: Motion) -> Floats:
    """(n,) how far each move goes in plan, mm; NaN where unplaced."""
    rise = motion.end[:, 2] - motion.start[:, 2]
    level = np.hypot(*(motion.end - motion.start)[:, :2].T)
    arcs = motion.arc >= 0
    level[arcs] = np.sqrt(np.maximum(motion.length()[arcs] ** 2 - rise[arcs] ** 2, 0.0))
    return level


def widths_engaged(cut: Cut, motion: Motion, cutters: Sequence[Cutter | None] | NDArray[np.object_],
                   length: Floats | None = None) -> Floats:
    """(n,) a_e: mean width of the material met across the path, mm: area lowered for each mm of path, never
    more than the cutter's diameter; the diameter for plunges. `length` (n,): mm of each move's path in plan
    that count (all of it when left out)."""
    widest = diameters(cutters)
    length = plan_lengths(motion) if length is None else length
    width = np.minimum(np.divide(cut.area, length, out=widest.copy(), where=length > 1e-9), widest)
    return np.where(cut.volume > 0, width, np.nan)


def diameters(cutters: Sequence[Cutter | None] | NDArray[np.object_]) -> Floats:
    """(n,) mm; NaN where no cutter is known. Every cutter is asked once."""
    of, kinds = numbered(np.fromiter(cutters, object, len(cutters)))
    return np.array([*(2 * profile_of(cutter).radius for cutter in kinds), np.nan])[of]  # -1 is the last


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
    return _over_board(evidence)[rows]


@once
def _over_board(evidence: Evidence) -> Floats:
    """(n,) the same for every move that cuts, NaN for the others."""
    motion, rows = evidence.motion, np.flatnonzero(evidence.cut.volume > 0)
    length, way = motion.length()[rows], motion.end[rows] - motion.start[rows]
    level, plunges = np.hypot(way[:, 0], way[:, 1]), plunging(motion)[rows]
    straight = (motion.arc[rows] < 0) & (level > SHORTEST) & ~plunges
    inside = np.zeros(len(rows))
    inside[straight] = _inside(evidence.board, motion.start[rows[straight], :2],
                               motion.end[rows[straight], :2])
    part = np.divide(inside, level, out=np.ones(len(rows)), where=straight & (inside > SHORTEST))
    every = np.full(len(motion), np.nan)
    every[rows] = np.maximum(np.where(plunges, evidence.cut.depth[rows], length * part), SHORTEST)
    return every


def _inside(board: BaseGeometry, start: Floats, end: Floats) -> Floats:
    """(k,) mm of straight ways in plan that lie over the board. A way between two places of a board without
    hollows is all over it, and needs no cutting up."""
    shapely.prepare(board)
    hollow = board.convex_hull.area - board.area > 1e-9 * board.area
    whole = shapely.contains_xy(board, *start.T) & shapely.contains_xy(board, *end.T) & (not hollow)
    length = np.hypot(*(end - start).T)
    ways = shapely.linestrings(np.stack((start[~whole], end[~whole]), axis=1))
    length[~whole] = shapely.length(shapely.intersection(ways, board))
    return length


@dataclass(frozen=True)
class Effort:
    """What each of n moves asked for, as columns (n,); NaN where it cut nothing or the number is not known.

    volume: mm³ removed, 0 where nothing was; the sum is what the map lost · depth, mean_depth: mm, before
    less after · width: mm engaged across the path · contact: degrees of a turn that an edge is in the
    material · entry: degrees below the level at which it went down · rate: mm³ a minute over the board ·
    power: kW for it, by the upper end of the material's cutting energy.
    """

    volume: Floats
    depth: Floats
    mean_depth: Floats
    width: Floats
    contact: Floats
    entry: Floats
    rate: Floats
    power: Floats


@once
def effort_of(evidence: Evidence) -> Effort:
    """Every move's effort."""
    cut, motion, none = evidence.cut, evidence.motion, evidence.cut.volume <= 0
    fed = np.flatnonzero(motion.is_feed & ~none)
    share = np.divide(_over_board(evidence), length := motion.length(), out=np.ones(len(motion)),
                      where=length > SHORTEST)
    width = widths_engaged(cut, motion, evidence.cutters, plan_lengths(motion) * share)
    rate, power = np.full((2, len(motion)), np.nan)
    rate[fed] = rates(evidence, fed)
    power[fed] = powers(rate[fed], energies(evidence, fed)) / WATTS
    depth, mean_depth = (np.where(none, np.nan, depth) for depth in (cut.depth, cut.mean_depth))
    contact = contact_angles(width, diameters(evidence.cutters))
    return Effort(cut.volume, depth, mean_depth, width, contact, entry_angles(cut, motion), rate, power)


def hardest(evidence: Evidence) -> tuple[Hardest, ...]:
    """The move that each column of the effort is greatest in; what no move of the stage has is left out."""
    effort, motion, found = effort_of(evidence), evidence.motion, []
    for column in fields(effort):
        values = getattr(effort, column.name)
        if len(values) and np.nanmax(values, initial=0.0) > 0:
            row = int(np.nanargmax(values))
            x, y = evidence.cut.deepest_at[row].tolist()
            found.append(Hardest(column.name, float(values[row]), int(motion.line[row]), (x, y)))
    return tuple(found)
