"""What is asked of cutter and spindle beyond the chip: speed straight down, and power.

The law: only moves that take material count. Power is specific cutting energy (its upper end, for it rises as
edges wear) by what is removed in a minute while the cutter is over the board. mm, mm/min, kW.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from ...parser.motion import Floats
from ...parser.reading import Unchecked
from ..effort import powers
from ..evidence import Check, Evidence, Said
from ..feeds import Rows, by_cutter, cutting, plunging
from ..materials import material
from .repeats import repeated

EQUAL = 1e-9  # of the limit
WATTS = 1000.0  # in a kW
SHORTEST = 1e-3  # mm: what a move makes over the board at least


def plunge_fast(evidence: Evidence) -> Iterator[Said]:
    """Straight down into material faster than the cutter may. Drills are judged by their chips, too."""
    motion = evidence.motion
    for cutter, rows in by_cutter(evidence, cutting(evidence) & plunging(motion)):
        if cutter.plunge is None:
            if cutter.shape != "drill":
                yield Unchecked(f"plunge feed of {cutter.label}", "the cutter's plunge is not given")
            continue
        fast = rows[motion.feed[rows] > cutter.plunge * (1 + EQUAL)]
        if len(fast):
            worst = fast[motion.feed[fast].argmax()]
            yield repeated("plunge-fast", evidence, fast, worst, about=cutter.label,
                           value=motion.feed[worst], limit=cutter.plunge)


def power(evidence: Evidence) -> Iterator[Said]:
    """More power than the spindle has."""
    most, stuff = evidence.job.machine.spindle_power, material(evidence.job.board.material)
    taken = cutting(evidence)
    if not taken.any():
        return
    if most is None or stuff is None:
        yield Unchecked("spindle power", "machine.spindle_power is not given" if most is None
                        else "board.material is not given or not in the table")
        return
    for cutter, rows in by_cutter(evidence, taken):
        needed = powers(rates(evidence, rows), stuff.energy[1]) / WATTS
        over = needed > most * (1 + EQUAL)
        if over.any():
            worst = rows[np.nanargmax(needed)]
            share = most / float(np.nanmax(needed))
            yield repeated("power", evidence, rows[over], worst, about=cutter.label,
                           value=float(np.nanmax(needed)), limit=most,
                           feed=evidence.motion.feed[worst] * share,
                           depth=float(evidence.cut.depth[worst]) * share)


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


CHECKS: tuple[Check, ...] = (plunge_fast, power)
