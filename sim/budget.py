"""How many facings are left in the board after the last stage, and what ends them.

The law: floor((cover - wanted)/depth + 1e-9) for every fitted head and for the thickness to keep, the
least of them; depth is the last facing's median lowering by area (formulas of the trade; the small number
because a whole number in decimals is often none in binary). None without a face. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import floor

import numpy as np
import shapely

from ..parser.finding import Finding, finding
from ..parser.job import Job
from .evidence import Evidence
from .plan import wanted_faces
from .result import Budget

ENOUGH = 2  # facings: fewer are a caution
KEEP_OVER_HEADS = 1.0  # mm: when the job does not say
THICKNESS = "the board's thickness"


def budget(job: Job, stages: Sequence[Evidence]) -> Budget:
    """What is left after all stages; `stages` in order."""
    covers = dict(stages[-1].clearances.cover) if stages else {}
    least = min(covers.values(), default=None)
    facing = next((stage for stage in reversed(stages) if stage.stage.face), None)
    depth = median_lowering(facing) if facing else None
    if facing is None or depth is None:
        return Budget(cover_over_heads=least)
    ends = {about: facings(cover - wanted_cover(job), depth) for about, cover in covers.items()}
    if job.board.thickness is not None:
        left = lowest_of_face(facing) - (job.board.top - job.board.thickness) - (job.board.keep or 0.0)
        ends[THICKNESS] = facings(left, depth)
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


def median_lowering(facing: Evidence) -> float | None:
    """The median, by area, of how much a stage lowered its wanted face; None where it lowered nothing."""
    each = face_cells(facing, facing.cut.before) - face_cells(facing, facing.surface.heights)
    each = each[each > 1e-4]
    return float(np.median(each)) if len(each) else None


def lowest_of_face(facing: Evidence) -> float:
    """The lowest place of the wanted face, recesses and holes left out."""
    return float(face_cells(facing, facing.surface.heights).min())


def face_cells(facing: Evidence, heights: np.ndarray) -> np.ndarray:
    """(k,) heights of the cells of a stage's wanted faces, recesses and holes left out."""
    area = shapely.union_all([face.area for face in wanted_faces(facing.stage, facing.board)])
    region = shapely.difference(area, shapely.union_all([facing.recesses, facing.drilled]))
    cells = heights[facing.surface.mask(region)].astype(np.float64)
    return cells[np.isfinite(cells)]


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
