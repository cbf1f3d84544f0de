"""How many facings are left in the board after the last stage, and what ends them.

The law: floor((cover - wanted)/depth + 1e-9) for every fitted head, for the thickness to keep and for every
obstacle under the face, the least of them; depth is the last facing's median lowering by area (formulas of
the trade; the small number because a whole number in decimals is often none in binary). None without a face.
Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.finding import Finding, finding
from ..parser.job import Job
from .cutters import profile_of
from .evidence import Evidence
from .faced import faced
from .parts import WHOLE
from .plan import joined, wanted_faces
from .result import Budget, Limit
from .solids import ObstacleSolid, Solids
from .whatif import deeper_at, facings, lower_heads
from .windows import runs

ENOUGH = 2  # facings: fewer are a caution
KEEP_OVER_HEADS = 1.0  # mm: when the job does not say
STEP = 1e-5  # mm: how finely lowerings are told apart
LOWERED = 1e-4  # mm: heights are right to this
DECIMALS = 4  # the same: a map keeps 0.4 as 0.400000006, and whole numbers of facings would be one short
FEW = 4  # rows and columns of which one is asked for the middle height
THICKNESS, THICKNESS_OF = "the board's thickness", "the thickness of "


@dataclass(frozen=True)
class Lowered:
    """What the last facing left. depth: median lowering by area (None: it lowered nothing) · lowest: of all
    its cells, by_piece: of each piece's · middle: the height that half of them lie above."""

    depth: float | None
    lowest: float
    middle: float = np.inf
    by_piece: Mapping[str, float] = field(default_factory=dict)


def budget(job: Job, stages: Sequence[Evidence], lowered: Lowered | None = None) -> Budget:
    """What is left after all stages; `stages` in order, `lowered` as the last facing left the board (None:
    the map still holds it)."""
    covers = {about: cover for stage in stages for about, cover in stage.clearances.cover.items()}
    least = min(covers.values(), default=None)
    facing = next((number for number in reversed(range(len(stages))) if stages[number].stage.face), None)
    if facing is None:
        return Budget(cover_over_heads=least)
    lowered = lowered or lowering(stages, facing)
    wear = None if np.isinf(lowered.middle) else max(0.0, round(lowered.middle - lowered.lowest, DECIMALS))
    if lowered.depth is None:
        return Budget(cover_over_heads=least, clean=wear)
    limits = sorted(limits_of(job, stages, facing, covers, lowered), key=lambda end: (end.facings, end.left))
    if not limits:
        return Budget(cover_over_heads=least, depth=lowered.depth, clean=wear)
    return Budget(least, limits[0].facings, limits[0].about, lowered.depth, limits=tuple(limits), clean=wear,
                  deeper=deeper_at(job, limits, lowered.depth, heads_at(stages)),
                  heads=lower_heads(job, limits, lowered.depth))


def limits_of(job: Job, stages: Sequence[Evidence], facing: int, covers: Mapping[str, float], lowered: Lowered
              ) -> Iterator[Limit]:
    """All that may end the facings, with what may still be taken there."""
    apart = heads_apart(stages[facing])
    left = {about: cover - wanted_cover(job) for about, cover in covers.items() if about not in apart}
    left |= thicknesses(stages[facing], lowered) | dict(obstacles(stages[facing], lowered))
    depth = lowered.depth or np.inf
    yield from (Limit(about, round(mm, 6), facings(mm, depth)) for about, mm in left.items())


def heads_apart(evidence: Evidence) -> frozenset[str]:
    """The heads in pieces of the board that a facing does not touch: no facing like it takes their cover."""
    if len(evidence.lying) == 1:
        return frozenset()
    faces = joined(face.area for face in wanted_faces(evidence.stage, evidence.board))
    still = [piece.outline for piece in evidence.lying if not shapely.area(shapely.intersection(
        piece.outline, faces))]
    return frozenset(head.about for phase in evidence.phases for head in phase.solids.heads
                     if any(shapely.intersects_xy(outline, *head.at) for outline in still))


def thicknesses(evidence: Evidence, lowered: Lowered) -> dict[str, float]:
    """What may be taken until a piece is as thin as it may be, under its lowest place."""
    keep, found = evidence.job.board.keep or 0.0, {}
    for piece in evidence.lying:
        lowest = lowered.by_piece.get(piece.name, lowered.lowest)
        if piece.underside is not None and np.isfinite(lowest):
            name = THICKNESS if piece.name == WHOLE else f"{THICKNESS_OF}{piece.name}"
            found[name] = round(lowest, DECIMALS) - piece.underside - keep
    return found


def obstacles(evidence: Evidence, lowered: Lowered) -> Iterator[tuple[str, float]]:
    """Tracks and stops under the way of the facing cutter, with what may be taken until it comes too near."""
    last = evidence.phases[-1].solids if evidence.phases else Solids()
    standing = [solid for solid in last.obstacles if isinstance(solid, ObstacleSolid)]
    ways = cutting_ways(evidence) if standing else []
    for solid in standing:
        if any((shapely.distance(solid.footprint.shape, way) <= reach).any() for way, reach in ways):
            yield solid.about, round(lowered.lowest, DECIMALS) - solid.top - solid.near


def cutting_ways(evidence: Evidence) -> list[tuple[NDArray[np.object_], float]]:
    """The ways of the feed moves that took something off, each cutter's with its radius; an arc is the box
    that it lies in."""
    motion, found = evidence.motion, []
    cut = (evidence.cut.volume > 0) & motion.is_feed & motion.placed
    boxes = motion.boxes()
    of, cutters = evidence.spindle
    for number, cutter in enumerate(cutters):
        rows = np.flatnonzero(cut & (of == number))
        straight, arcs = rows[motion.arc[rows] < 0], rows[motion.arc[rows] >= 0]
        ends = np.stack([motion.start[straight, :2], motion.end[straight, :2]], axis=1)
        lines = np.atleast_1d(np.asarray(shapely.linestrings(ends), object))
        around = np.atleast_1d(np.asarray(shapely.box(*boxes[arcs, 0, :2].T, *boxes[arcs, 1, :2].T), object))
        found.append((np.concatenate([lines, around]), profile_of(cutter).radius))
    return found


def heads_at(stages: Sequence[Evidence]) -> Mapping[str, float]:
    """Thickness of board under each head or washer, as far as it is known."""
    found = {}
    for stage in stages:
        for phase in stage.phases:
            for head in phase.solids.heads:
                under = stage.piece_at(head.at).underside
                if under is not None:
                    found[head.about] = min(head.bottom - under, found.get(head.about, np.inf))
    return found


def wanted_cover(job: Job) -> float:
    """Least material over a head."""
    return KEEP_OVER_HEADS if job.board.keep_over_heads is None else job.board.keep_over_heads


def lowering(stages: Sequence[Evidence], number: int) -> Lowered:
    """How much a stage lowered the cells of its wanted faces, recesses and holes left out, and how it left
    them.

    The map goes on changing after a stage: how it left the board is what the next one found.
    """
    facing = stages[number]
    before, surface = facing.cut.before, facing.surface
    after = stages[number + 1].cut.before if number + 1 < len(stages) else surface.heights
    counts, lowest = np.zeros(1, np.int64), np.inf
    cells = np.logical_or.reduce([face.measured for face in faced(facing)])

    def seen(band: slice) -> tuple[NDArray[np.int64], float]:
        here, left = cells[band], after[band]
        each = (before[band] - left)[here]
        return steps_of(each[each > LOWERED], STEP), float(left[here].min(initial=np.inf))

    for more, low in surface.over_bands(seen):
        counts, lowest = added(counts, more), min(lowest, low)
    pieces = {} if len(facing.lying) == 1 else {
        piece.name: float(after[cells & surface.mask(piece.outline)].min(initial=np.inf))
        for piece in facing.lying}
    return Lowered(median_of(counts, STEP), lowest, middle_of(facing, cells, after, lowest), pieces)


def middle_of(evidence: Evidence, cells: NDArray[np.bool_], after: NDArray[np.float32], lowest: float
              ) -> float:
    """The height that half of some cells lie above; inf where there are none."""
    counts, every = np.zeros(1, np.int64), FEW if cells.size > FEW * FEW * FEW else 1
    for band in evidence.surface.bands():
        some = cells[band][::every, ::every]
        heights = after[band][::every, ::every][some]
        counts = added(counts, steps_of(heights - np.float32(lowest), LOWERED))
    middle = median_of(counts, LOWERED)
    return np.inf if middle is None else lowest + middle


def steps_of(values: NDArray[np.float32], step: float) -> NDArray[np.int64]:
    """How many values lie at each whole number of steps."""
    each, often = runs(values)
    return np.bincount(np.rint(each * np.float32(1 / step)).astype(np.intp), often).astype(np.int64)


def added(counts: NDArray[np.int64], steps: NDArray[np.int64]) -> NDArray[np.int64]:
    """Counts of each whole number of steps, with some more of them."""
    counts = np.pad(counts, (0, max(0, len(steps) - len(counts))))
    counts[:len(steps)] += steps
    return counts


def median_of(counts: NDArray[np.int64], step: float) -> float | None:
    """The middle value of so many of each whole number of steps; None where there are none."""
    total = int(counts.sum())
    if not total:
        return None
    low, high = np.searchsorted(np.cumsum(counts), ((total + 1) // 2, total // 2 + 1))
    return round(float(low + high) / 2 * step, DECIMALS)


def budget_low(job: Job, left: Budget) -> Iterator[Finding]:
    """Fewer than two facings are left."""
    if left.facings_left is None or left.depth is None or left.facings_left >= ENOUGH:
        return
    yield finding("budget-low", value=left.facings_left, limit=ENOUGH, about=left.limited_by or "",
                  depth=left.depth, fix=remedy(job, left))


def remedy(job: Job, left: Budget) -> str:
    """What would give two facings more."""
    first = left.limits[0] if left.limits else None
    if first is not None and first.about in {obstacle.name for obstacle in job.obstacles}:
        lower = ENOUGH * (left.depth or 0.0) - first.left
        return f"Lower {first.about} by {job.units.text(lower)}, or have a new board ready"
    if left.limited_by == THICKNESS or (left.limited_by or "").startswith(THICKNESS_OF):
        return "Have a new board ready"
    if left.cover_over_heads is None or left.depth is None:
        return "Have a new board ready"
    deeper = ENOUGH * left.depth - (left.cover_over_heads - wanted_cover(job))
    return f"Sink {left.limited_by} {job.units.text(deeper)} deeper, or have a new board ready"
