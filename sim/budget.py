"""How many facings are left in the board after the last stage, and what ends them.

The law: floor((cover - wanted)/depth + 1e-9) for every fitted head and for the thickness to keep, the
least of them; depth is the last facing's median lowering by area (formulas of the trade; the small number
because a whole number in decimals is often none in binary). None without a face. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor

import numpy as np

from ..parser.finding import Finding, finding
from ..parser.job import Job
from ..parser.motion import Floats
from .evidence import Evidence
from .faced import faced
from .result import Budget

ENOUGH = 2  # facings: fewer are a caution
KEEP_OVER_HEADS = 1.0  # mm: when the job does not say
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
    before, after = faced_heights(stages, facing)
    depth = median_lowering(before, after)
    if depth is None:
        return Budget(cover_over_heads=least)
    ends = {about: facings(cover - wanted_cover(job), depth) for about, cover in covers.items()}
    if job.board.thickness is not None:
        kept = job.board.top - job.board.thickness + (job.board.keep or 0.0)
        ends[THICKNESS] = facings(round(float(after.min()), DECIMALS) - kept, depth)
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


def median_lowering(before: Floats, after: Floats) -> float | None:
    """The median, by area, of how much cells were lowered; None where none was."""
    each = before - after
    each = each[each > LOWERED]
    return round(float(np.median(each)), DECIMALS) if len(each) else None


def faced_heights(stages: Sequence[Evidence], number: int) -> tuple[Floats, Floats]:
    """(k,), (k,): the cells of a stage's wanted faces before it and after it, recesses and holes left out.

    The map goes on changing after a stage: how it left the board is what the next one found.
    """
    facing = stages[number]
    after = stages[number + 1].cut.before if number + 1 < len(stages) else facing.surface.heights
    cells = np.logical_or.reduce([face.measured for face in faced(facing)])
    return facing.cut.before[cells].astype(np.float64), after[cells].astype(np.float64)


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
