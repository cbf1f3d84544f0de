"""Ways through the air: the first one, before Z is up, and rapids that pass low over board and clamps.

The law: what stands in the way is what stands at that time: the board as it then is, every head and clamp of
the phase. A height that is not known is too low; one that only the machine knows is unchecked.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ...parser.finding import Finding, finding
from ...parser.reading import Unchecked
from ..approach import kind_of
from ..cutters import profile_of
from ..evidence import Check, Evidence, Said
from ..feeds import Rows
from ..solids import ClampSolid, HeadSolid
from .rapids import footprint
from .repeats import repeated

OVER_BOARD = 1.0  # mm over the board that a sideways rapid keeps; common practice, no published source
OVER_CLAMP = 5.0  # the same over a clamp
STILL = 1e-6  # mm


class InWay(NamedTuple):
    """The highest thing in a way."""

    top: float
    name: str


def start_low(evidence: Evidence) -> Iterator[Said]:
    """The first move sideways is made before Z is above all in its way."""
    row = first_sideways(evidence)
    if row is None:
        return
    motion, low = evidence.motion, height(evidence, row)
    placed = bool(motion.placed[row])
    if np.isnan(low) and row:
        changed = np.isfinite(motion.end[row - 1, 2])
        yield Unchecked("height of the first way sideways",
                        "the length of the cutter that was changed in before it is not given" if changed else
                        "Z was sent to a place that only the machine knows")
        return
    if placed and motion.is_feed[row]:
        return
    highest = in_way(evidence, row, footprint_of(evidence, row) if placed else None)
    if highest is not None and not low >= highest.top - STILL:
        at = motion.end[row]
        lift = motion.shown(row, (0.0, 0.0, highest.top + OVER_CLAMP))[2]
        yield finding("start-low", line=int(motion.line[row]), at=at, shown=motion.shown(row, at),
                      value=None if np.isnan(low) else low, limit=highest.top, about=highest.name, lift=lift,
                      what="before Z was ever commanded" if np.isnan(low) else "too low")


def first_sideways(evidence: Evidence) -> int | None:
    """The first move that goes, or may go, sideways."""
    start, end = evidence.motion.start[:, :2], evidence.motion.end[:, :2]
    goes = (np.isnan(start) != np.isnan(end)) | (np.abs(end - start) > STILL)
    rows = np.flatnonzero(goes.any(axis=1))
    return int(rows[0]) if len(rows) else None


def height(evidence: Evidence, row: int) -> float:
    """The lowest Z of a move; NaN where its start or end is not known."""
    return float(np.min([evidence.motion.start[row, 2], evidence.motion.end[row, 2]]))


def footprint_of(evidence: Evidence, row: int) -> BaseGeometry:
    """What the cutter passes over in a move; the axis alone where no cutter is known."""
    cutter = evidence.cutters[row]
    return footprint(evidence.motion, row, profile_of(cutter).radius if cutter else STILL)


def in_way(evidence: Evidence, row: int, way: BaseGeometry | None) -> InWay | None:
    """The highest of the board and what stands on it; all of it where the way is not known (None)."""
    tops = [InWay(body.top, name_of(body)) for body in standing(evidence, row)
            if way is None or shapely.intersects(way, body.footprint.shape)]
    heights = evidence.cut.before if way is None else under(evidence, row, way)
    if np.isfinite(heights).any():
        tops.append(InWay(float(np.nanmax(heights)), "the board"))
    return max(tops, default=None)


def name_of(body: HeadSolid | ClampSolid) -> str:
    return {"clamp": "the clamp ", "obstacle": "the "}.get(kind_of(body), "") + body.about


def standing(evidence: Evidence, row: int) -> list[HeadSolid | ClampSolid]:
    """Heads, clamps and obstacles that stand during a move."""
    return [body for phase in evidence.phases if phase.first <= row < phase.stop
            for body in phase.solids.tall]


def under(evidence: Evidence, row: int, way: BaseGeometry) -> NDArray[np.float32]:
    """Heights of the cells in a plan region when a move is made.

    Where a later move cut a cell, what earlier moves took there is not known any more: it counts as before.
    """
    part = evidence.board_then(row, way)
    return part.heights[part.mask(way) & part.on_board]


def rapid_near(evidence: Evidence) -> Iterator[Finding]:
    """Sideways rapids that pass low over the board or over a clamp."""
    motion = evidence.motion
    level = np.hypot(*(motion.end - motion.start)[:, :2].T) > STILL
    rows = np.flatnonzero(motion.placed & ~motion.is_feed & level)
    yield from low_over_board(evidence, rows)
    yield from low_over_clamps(evidence, rows)


def low_over_board(evidence: Evidence, rows: Rows) -> Iterator[Finding]:
    """One note for all rapids that pass less than 1 mm over the board and do not touch it."""
    motion = evidence.motion
    lowest = np.minimum(motion.start[rows, 2], motion.end[rows, 2])
    top = float(np.nanmax(evidence.cut.before, initial=-np.inf))
    near, gaps = [], []
    some = lowest < top + OVER_BOARD - STILL
    for row, low in zip(rows[some], lowest[some], strict=True):
        heights = under(evidence, row, footprint_of(evidence, row))
        gap = low - float(heights.max()) if len(heights) else np.inf
        if gap < OVER_BOARD - STILL and evidence.cut.touch[row] == 0:
            near.append(row)
            gaps.append(gap)
    if near:
        worst = near[int(np.argmin(gaps))]
        yield noted(evidence, np.array(near), worst, "the board", max(0.0, min(gaps)), OVER_BOARD)


def low_over_clamps(evidence: Evidence, rows: Rows) -> Iterator[Finding]:
    """One note for each clamp that rapids pass over by less than 5 mm."""
    motion = evidence.motion
    for phase in evidence.phases:
        for clamp in phase.solids.clamps:
            gaps = np.minimum(motion.start[rows, 2], motion.end[rows, 2]) - clamp.top
            low = (rows >= phase.first) & (rows < phase.stop) & (gaps >= 0) & (gaps < OVER_CLAMP - STILL)
            near = [k for k in np.flatnonzero(low)
                    if shapely.intersects(footprint_of(evidence, rows[k]), clamp.footprint.shape)]
            if near:
                worst = min(near, key=lambda k: gaps[k])
                yield noted(evidence, rows[near], rows[worst], name_of(clamp), float(gaps[worst]), OVER_CLAMP)


def noted(evidence: Evidence, rows: Rows, worst: int, about: str, gap: float, wanted: float) -> Finding:
    motion = evidence.motion
    low = float(min(motion.start[worst, 2], motion.end[worst, 2]))
    return repeated("rapid-near", evidence, rows, worst, about=about, value=gap, limit=wanted,
                    higher=motion.shown(worst, (0.0, 0.0, low + wanted - gap))[2])


CHECKS: tuple[Check, ...] = (start_low, rapid_near)
