"""What the cutting edges do: which moves take material, at what speed and feed per edge.

The law: only feed moves that really lower the board count, drills like any other cutter; straight plunges
of other cutters are judged by their plunge feed, not here. mm, mm/min, rpm; NaN where a figure is unknown.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Floats, Motion, Spindle
from .evidence import Evidence

SKIN = 1e-4  # mm: heights are right to this; less is no cut
PLUMB = 0.01  # mm: a descent that goes no farther sideways is straight down

Rows = NDArray[np.intp]


def cutting(evidence: Evidence) -> NDArray[np.bool_]:
    """(n,) true for feed moves that take material."""
    return evidence.motion.is_feed & (evidence.cut.depth > SKIN)


def plunging(motion: Motion) -> NDArray[np.bool_]:
    """(n,) true for straight moves down with no way to the side."""
    way = motion.end - motion.start
    return (motion.arc < 0) & (way[:, 2] < 0) & (np.hypot(way[:, 0], way[:, 1]) <= PLUMB)


def loaded(evidence: Evidence) -> NDArray[np.bool_]:
    """(n,) true where the cutter in the spindle is known."""
    return np.fromiter((c is not None for c in evidence.cutters), bool, len(evidence.cutters))


def by_hand(evidence: Evidence) -> bool:
    """Whether the operator switches the spindle, so that the stage's rpm counts."""
    return evidence.job.machine.spindle_by == "hand"


def turning(evidence: Evidence) -> Floats:
    """(n,) rpm in each move: 0 with the spindle still, NaN where it turns at a speed that nothing says."""
    if by_hand(evidence):
        return np.full(len(evidence.motion), np.nan if evidence.stage.rpm is None else evidence.stage.rpm)
    direction, speed = evidence.motion.column("spindle"), evidence.motion.column("speed")
    return np.where(direction == Spindle.STILL, 0.0, speed)


def by_cutter(evidence: Evidence, chosen: NDArray[np.bool_]) -> Iterator[tuple[Cutter, Rows]]:
    """Each cutter that is in the spindle in the chosen moves, with those moves, in order of appearance."""
    rows = np.flatnonzero(chosen)
    used = evidence.cutters[rows]
    which = np.fromiter(map(id, used), np.int64, len(used))
    for first in sorted(np.unique(which, return_index=True)[1]):
        cutter: Cutter | None = used[int(first)]
        if cutter is not None:
            yield cutter, rows[which == which[first]]


def edge_moves(evidence: Evidence) -> NDArray[np.bool_]:
    """(n,) true for the moves whose feed per edge counts."""
    drilling = np.fromiter((c is not None and c.shape == "drill" for c in evidence.cutters), bool,
                           len(evidence.cutters))
    return cutting(evidence) & (drilling | ~plunging(evidence.motion))


def chips(evidence: Evidence, cutter: Cutter, rows: Rows) -> Floats:
    """Feed per edge in the given moves, fz = F/(S·edges), mm; NaN where F, S or the edges are unknown."""
    speed = turning(evidence)[rows]
    with np.errstate(divide="ignore"):
        return np.where(speed > 0, evidence.motion.feed[rows] / (speed * (cutter.edges or np.nan)), np.nan)
