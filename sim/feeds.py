"""What the cutting edges do: which moves take material, at what speed and feed per edge.

The law: only feed moves that really lower the board count, drills like any other cutter; straight plunges
of other cutters are judged by their plunge feed, not here. mm, mm/min, rpm; NaN where a figure is unknown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Floats, Motion, Spindle
from .cutters import profile_of
from .evidence import Evidence
from .materials import Window, material, window
from .parts import Piece

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
    return evidence.spindle[0] >= 0


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
    of, cutters = evidence.spindle
    rows = np.flatnonzero(chosen)
    mine = [(rows[of[rows] == number], cutter) for number, cutter in enumerate(cutters)]
    for some, cutter in sorted((each for each in mine if len(each[0])), key=lambda each: each[0][0]):
        yield cutter, some


def by_material(evidence: Evidence, rows: Rows) -> Iterator[tuple[str | None, str, Rows]]:
    """Each material that the given moves take, what to say of it (" in acetal"; "" where there is but one),
    and the moves that take some: a move over two pieces counts for both."""
    stuffs = list(dict.fromkeys(piece.material for piece in evidence.lying))
    if len(stuffs) == 1:
        yield stuffs[0], "", rows
        return
    for stuff in stuffs:
        mine = np.zeros(len(rows), np.bool_)
        for piece in evidence.lying:
            if piece.material == stuff:
                mine |= meets(evidence, piece, rows)
        if mine.any():
            yield stuff, f" in {stuff or 'a part of unknown material'}", rows[mine]


def meets(evidence: Evidence, piece: Piece, rows: Rows) -> NDArray[np.bool_]:
    """(k,) whether the cutter passes over a piece in each move, lower than the piece's highest place was."""
    motion, boxes = evidence.motion, evidence.motion.boxes()[rows]
    ends = np.stack((motion.start[rows, :2], motion.end[rows, :2]), axis=1)
    paths = np.array(shapely.linestrings(ends), object)
    curved = motion.arc[rows] >= 0
    paths[curved] = shapely.box(*boxes[curved, 0, :2].T, *boxes[curved, 1, :2].T)
    reach = np.array([0.0 if c is None else profile_of(c).radius for c in evidence.cutters[rows]])
    heights = evidence.cut.before[evidence.surface.mask(piece.outline)]
    top = float(np.nanmax(heights, initial=-np.inf))
    return (shapely.distance(paths, piece.outline) < reach - SKIN) & (boxes[:, 0, 2] < top - SKIN)


def window_in(evidence: Evidence, cutter: Cutter, rows: Rows) -> Window | None:
    """What is right in every material that moves take; None where one has no window, or nothing is right."""
    windows = [window(cutter, stuff) for stuff, _, _ in by_material(evidence, rows)]
    if not windows or any(each is None for each in windows):
        return None
    known = [each for each in windows if each is not None]
    low, high = max(known, key=lambda w: w.floor), min(known, key=lambda w: w.upper)
    return replace(high, floor=low.floor) if low.floor <= high.upper else None


def energies(evidence: Evidence, rows: Rows) -> Floats:
    """(k,) specific cutting energy of each move, N/mm², its upper end; over several materials the greatest;
    NaN where one is not known."""
    most = np.zeros(len(rows))
    for said, _, mine in by_material(evidence, rows):
        stuff = material(said)
        some = np.isin(rows, mine)
        most[some] = np.maximum(most[some], np.nan if stuff is None else stuff.energy[1])
    return most


def edge_moves(evidence: Evidence) -> NDArray[np.bool_]:
    """(n,) true for the moves whose feed per edge counts."""
    of, cutters = evidence.spindle
    drilling = np.array([*(cutter.shape == "drill" for cutter in cutters), False])[of]  # -1 is the last
    return cutting(evidence) & (drilling | ~plunging(evidence.motion))


def chips(evidence: Evidence, cutter: Cutter, rows: Rows) -> Floats:
    """Feed per edge in the given moves, fz = F/(S·edges), mm; NaN where F, S or the edges are unknown."""
    speed = turning(evidence)[rows]
    with np.errstate(divide="ignore"):
        return np.where(speed > 0, evidence.motion.feed[rows] / (speed * (cutter.edges or np.nan)), np.nan)
