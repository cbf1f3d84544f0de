"""What the cut is asked on the way: the board as it is at each move, where the map alone knows it.

The law: a look changes nothing. Shank, nut and nose are asked for before the move's own cut, grown by half a
cell's diagonal; a cutter's core after it, shrunk by as much. Millimetres, board frame.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Job
from ..parser.motion import Motion
from .cutters import profile_of
from .holder import discs_of
from .surface import Surface
from .swarm import numbered
from .sweeps import Look

CORE = "core"
HALF_DIAGONAL = float(np.sqrt(0.5))  # of a cell


def looks_of(job: Job, motion: Motion, cutters: NDArray[np.object_], surface: Surface) -> tuple[Look, ...]:
    """All looks of a stage; none for moves that keep above the board."""
    return *nose_looks(job, motion, cutters, surface), *core_looks(motion, cutters, surface)


def nose_looks(job: Job, motion: Motion, cutters: NDArray[np.object_], surface: Surface) -> tuple[Look, ...]:
    """Each disc above a cutter, over the moves that take it below the board's highest place.

    Within the cutter's own radius nothing is asked: what stands there the cutter has taken.
    """
    lowest, top = motion.boxes()[:, 0, 2], float(np.nanmax(surface.heights, initial=-np.inf))
    goes, (of, kinds) = motion.placed & ~_straight_up(motion), numbered(cutters)
    looks = []
    for number, cutter in enumerate(kinds):
        for disc in discs_of(cutter, job.machine):
            rows = np.flatnonzero(goes & (of == number) & (lowest + disc.over < top))
            if len(rows):
                looks.append(Look(disc.part, rows, disc.over, disc.radius + surface.cell * HALF_DIAGONAL,
                                  profile_of(cutter).radius))
    return tuple(looks)


def _straight_up(motion: Motion) -> NDArray[np.bool_]:
    step = motion.end - motion.start
    return (step[:, :2] == 0).all(axis=1) & (step[:, 2] >= 0) & (motion.arc < 0)


def core_looks(motion: Motion, cutters: NDArray[np.object_], surface: Surface) -> tuple[Look, ...]:
    """The core of each cutter that has one, where a feed ends: only a move that is shorter than the core is
    wide, or that turns within it, can leave anything standing under it."""
    of, kinds = numbered(cutters)
    way = np.hypot(*(motion.end - motion.start)[:, :2].T)
    looks = []
    for number, cutter in enumerate(kinds):
        radius = profile_of(cutter).core - surface.cell * HALF_DIAGONAL
        if radius > 0:
            short = motion.placed & motion.is_feed & (of == number) & (way < 2 * profile_of(cutter).core)
            looks.append(Look(CORE, np.flatnonzero(short), cutter.core_gap or 0.0, radius, after=True))
    return tuple(look for look in looks if len(look.rows))
