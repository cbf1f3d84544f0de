"""At which heights a program feeds sideways, and how deep it goes straight down: what tells its passes.

The law: read off the moves alone, as the control shows Z; whether there is material is not asked here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Floats, Motion

SAME = 1e-4  # mm: heights that are one


@dataclass(frozen=True, slots=True)
class Level:
    """z: as the control shows it, mm · length: fed sideways there, mm · holes: straight descents that end
    there, and the cutter leaves upward."""

    z: float
    length: float = 0.0
    holes: int = 0


def levels(motion: Motion) -> tuple[Level, ...]:
    """Every height that is fed along or drilled to, the deepest first."""
    lengths = _summed(*_level_feeds(motion))
    holes = _summed(*_bottoms(motion))
    return tuple(Level(z * SAME, lengths.get(z, 0.0), round(holes.get(z, 0)))
                 for z in sorted({*lengths, *holes}))


def slopes(motion: Motion) -> int:
    """How many feed moves change X or Y and Z at once."""
    return int((motion.placed & motion.is_feed & _sideways(motion) & ~_is_level(motion)).sum())


def _summed(heights: Floats, amounts: Floats) -> dict[int, float]:
    steps, which = np.unique(np.round(heights / SAME).astype(np.int64), return_inverse=True)
    return dict(zip(steps.tolist(), np.bincount(which, amounts, len(steps)).tolist(), strict=True))


def _shown(motion: Motion, rows: NDArray[np.intp]) -> Floats:
    shift = np.array([state.shift[2] for state in motion.states])
    return motion.end[rows, 2] - shift[motion.state[rows]]


def _is_level(motion: Motion) -> NDArray[np.bool_]:
    return np.abs(motion.end[:, 2] - motion.start[:, 2]) < SAME


def _sideways(motion: Motion) -> NDArray[np.bool_]:
    turned = motion.arc >= 0
    return turned | (np.abs(motion.end[:, :2] - motion.start[:, :2]).max(axis=1, initial=0) > SAME)


def _level_feeds(motion: Motion) -> tuple[Floats, Floats]:
    upright = np.zeros(len(motion), np.bool_)
    turned = np.flatnonzero(motion.arc >= 0)
    upright[turned] = motion.arcs.plane[motion.arc[turned]] != 17
    rows = np.flatnonzero(motion.placed & motion.is_feed & _sideways(motion) & _is_level(motion) & ~upright)
    return _shown(motion, rows), motion.length()[rows]


def _bottoms(motion: Motion) -> tuple[Floats, Floats]:
    """The lowest point of each stay at one X and Y that is fed down to, where no feed leaves sideways."""
    away = _sideways(motion) | ~motion.placed
    down = motion.placed & motion.is_feed & ~away & (motion.end[:, 2] < motion.start[:, 2] - SAME)
    rows = np.flatnonzero(down)
    if not len(rows):
        return np.empty(0), np.empty(0)
    stay = np.cumsum(away)
    order = rows[np.lexsort((motion.end[rows, 2], stay[rows]))]
    deepest = order[np.unique(stay[order], return_index=True)[1]]
    leaves = np.searchsorted(stay, stay[deepest], side="right")  # the move that ends the stay
    inside = np.minimum(leaves, len(motion) - 1)
    entry = (leaves < len(motion)) & motion.is_feed[inside] & (
        motion.start[inside, 2] <= motion.end[deepest, 2] + SAME)
    rows = deepest[~entry]
    return _shown(motion, rows), np.ones(len(rows))
