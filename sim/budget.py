"""How many facings are left in the board after the last stage, and what ends them.

The law: floor((cover - wanted)/depth + 1e-9) for every fitted head and for the thickness to keep, the
least of them; depth is the last facing's median lowering by area (formulas of the trade; the small number
because a whole number in decimals is often none in binary). None without a face. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor

import numpy as np
from numpy.typing import NDArray

from ..parser.finding import Finding, finding
from ..parser.job import Job
from .evidence import Evidence
from .faced import faced
from .result import Budget

ENOUGH = 2  # facings: fewer are a caution
KEEP_OVER_HEADS = 1.0  # mm: when the job does not say
STEP = 1e-5  # mm: how finely lowerings are told apart
LOWERED = 1e-4  # mm: heights are right to this
DECIMALS = 4  # the same: a map keeps 0.4 as 0.400000006, and whole numbers of facings would be one short
THICKNESS = "the board's thickness"


def budget(job: Job, stages: Sequence[Evidence]) -> Budget:
    """What is left after all stages; `stages` in order."""
    covers = {about: cover for stage in stages for about, cover in stage.clearances.cover.items()}
    least = min(covers.values(), default=None)
    facing = next((number for number in reversed(range(len(stages))) if stages[number].stage.face), None)
    if facing is None:
        return Budget(cover_over_heads=least)
    depth, lowest = lowering(stages, facing)
    if depth is None:
        return Budget(cover_over_heads=least)
    ends = {about: facings(cover - wanted_cover(job), depth) for about, cover in covers.items()}
    if job.board.thickness is not None:
        kept = job.board.top - job.board.thickness + (job.board.keep or 0.0)
        ends[THICKNESS] = facings(round(lowest, DECIMALS) - kept, depth)
    if not ends:
        return Budget(cover_over_heads=least, depth=depth)
    about = min(ends, key=lambda name: (ends[name], covers.get(name, np.inf)))
    return Budget(least, ends[about], about, depth)


def facings(left: float, depth: float) -> int:
    """Whole facings of `depth` in what is left; none where nothing is."""
    return max(0, floor(left / depth + 1e-9))


def wanted_cover(job: Job) -> float:
    """Least material over a head."""
    return KEEP_OVER_HEADS if job.board.keep_over_heads is None else job.board.keep_over_heads


def lowering(stages: Sequence[Evidence], number: int) -> tuple[float | None, float]:
    """The median, by area, of how much a stage lowered the cells of its wanted faces (None where it lowered
    none), recesses and holes left out, and the lowest height that it left there.

    The map goes on changing after a stage: how it left the board is what the next one found.
    """
    facing = stages[number]
    before = facing.cut.before
    after = stages[number + 1].cut.before if number + 1 < len(stages) else facing.surface.heights
    counts, lowest = np.zeros(1, np.int64), np.inf
    cells = np.logical_or.reduce([face.measured for face in faced(facing)])
    for band in facing.surface.bands():
        here, left = cells[band], after[band]
        each = (before[band] - left)[here]
        steps = np.bincount(np.rint(each[each > LOWERED] * np.float32(1 / STEP)).astype(np.intp))
        counts = np.pad(counts, (0, max(0, len(steps) - len(counts))))
        counts[:len(steps)] += steps
        lowest = min(lowest, float(left[here].min(initial=np.inf)))
    return median_of(counts), lowest


def median_of(counts: NDArray[np.int64]) -> float | None:
    """The middle value of so many of each whole number of STEPs; None where there are none."""
    total = int(counts.sum())
    if not total:
        return None
    low, high = np.searchsorted(np.cumsum(counts), ((total + 1) // 2, total // 2 + 1))
    return round(float(low + high) / 2 * STEP, DECIMALS)


def budget_low(job: Job, left: Budget) -> Iterator[Finding]:
    """Fewer than two facings are left."""
    if left.facings_left is None or left.depth is None or left.facings_left >= ENOUGH:
        return
    yield finding("budget-low", value=left.facings_left, limit=ENOUGH, about=left.limited_by or "",
                  depth=left.depth, fix=remedy(job, left))


def remedy(job: Job, left: Budget) -> str:
    """What would give two facings more."""
    if left.limited_by == THICKNESS or left.cover_over_heads is None or left.depth is None:
        return "Have a new board ready"
    deeper = ENOUGH * left.depth - (left.cover_over_heads - wanted_cover(job))
    return f"Sink {left.limited_by} {job.units.text(deeper)} deeper, or have a new board ready"
