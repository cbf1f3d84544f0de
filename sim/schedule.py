"""Where a stage's time goes: pass after pass, between them, at rapids and dwells; what waits for a person.

The law: passes, other feed moves, rapids and dwells add up to the stage's seconds. A pass is a straight,
nearly level way at feed, `LONG` of the board's longer side or longer; one cut in several moves is one pass.
Seconds, millimetres, board frame.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.motion import Floats, Happening, Motion
from .clock import attended, dwell_seconds
from .evidence import Evidence
from .work_figures import PassFigures, TimeFigures, WaitFigures

LONG = 0.3  # of the board's longer side
SHORTEST = 1e-6  # mm: a shorter move is none
LEVEL = 0.05  # of its way in plan: the rise of a move that counts as level
IN_LINE = 1e-9  # 1 less the cosine between two moves of one pass


def time_figures(evidence: Evidence) -> TimeFigures:
    """How a stage's seconds are spent."""
    motion, seconds = evidence.motion, evidence.seconds
    found, in_passes = passes(motion, seconds, longest_side(evidence))
    return TimeFigures(
        passes=found, in_passes=float(seconds[in_passes].sum()),
        other_feeds=float(seconds[motion.is_feed & ~in_passes].sum()),
        rapids=float(seconds[~motion.is_feed].sum()), dwells=dwell_seconds(motion),
        waits=waits(motion, seconds), accelerated=evidence.job.machine.acceleration is not None)


def longest_side(evidence: Evidence) -> float:
    x0, y0, x1, y1 = shapely.bounds(evidence.board)
    return float(max(x1 - x0, y1 - y0))


def passes(motion: Motion, seconds: Floats, side: float) -> tuple[tuple[PassFigures, ...], NDArray[np.bool_]]:
    """The passes in program order, and (n,) whether each move belongs to one."""
    rows = level_rows(motion)
    if not len(rows):
        return (), np.zeros(len(motion), bool)
    run = np.concatenate(([0], np.cumsum(~goes_on(motion, rows))))
    length = np.bincount(run, level_way(motion, rows))
    long = np.flatnonzero(length >= LONG * side)
    first, last = np.searchsorted(run, long), np.searchsorted(run, long, "right") - 1
    spent = np.bincount(run, seconds[rows])
    belongs = np.zeros(len(motion), bool)
    belongs[rows[np.isin(run, long)]] = True
    return tuple(
        PassFigures(int(motion.line[a]), int(motion.line[b]), _point(motion.start[a]), _point(motion.end[b]),
                    float(length[which]), float(spent[which]))
        for a, b, which in zip(rows[first], rows[last], long, strict=True)), belongs


def level_rows(motion: Motion) -> NDArray[np.intp]:
    """The straight moves at feed that stay about at their height."""
    rows = np.flatnonzero(motion.is_feed & (motion.arc < 0) & motion.placed)
    way, rise = level_way(motion, rows), np.abs(motion.end[rows, 2] - motion.start[rows, 2])
    return rows[(way > SHORTEST) & (rise <= LEVEL * way)]


def level_way(motion: Motion, rows: NDArray[np.intp]) -> Floats:
    return np.hypot(*(motion.end[rows] - motion.start[rows])[:, :2].T)


def goes_on(motion: Motion, rows: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(k - 1,) true where a move goes on in the line of the one before it."""
    way = motion.end[rows] - motion.start[rows]
    unit = way / np.linalg.norm(way, axis=1, keepdims=True)
    in_line = np.einsum("ij,ij->i", unit[:-1], unit[1:]) > 1 - IN_LINE
    return in_line & (np.diff(rows) == 1)


def _point(at: Floats) -> tuple[float, float, float]:
    return float(at[0]), float(at[1]), float(at[2])


def waits(motion: Motion, seconds: Floats) -> tuple[WaitFigures, ...]:
    """The stops and changes of cutter, each with the running time before it."""
    run, dwelt, attend, found = np.concatenate(([0.0], np.cumsum(seconds))), 0.0, attended(motion), []
    for event in motion.events:
        if event.kind is Happening.DWELL:
            dwelt += event.value
        elif event in attend:
            cutter = int(event.value) if event.kind is Happening.CUTTER else None
            found.append(WaitFigures(event.line, event.code, cutter, float(run[event.before]) + dwelt))
    return tuple(found)
