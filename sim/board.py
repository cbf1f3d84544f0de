"""The board as it lies on the bed before anything turns: its outline in plan and the recesses in it.

The law: plan only; heights are the surface's. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from ..parser.job import Fastener, Job, Part
from .plan import discs, joined
from .solids import spots


def board_outline(job: Job) -> BaseGeometry:
    """The board in plan: its outline, else the rectangle of its x and y."""
    if job.board.outline is not None:
        return shapely.Polygon(job.board.outline)
    if job.board.x is not None and job.board.y is not None:
        (x0, x1), (y0, y1) = job.board.x, job.board.y
        return shapely.box(x0, y0, x1, y1)
    return joined(part_outline(part) for part in job.board.parts)


def part_outline(part: Part) -> BaseGeometry:
    """A part in plan."""
    if part.outline is not None:
        return shapely.Polygon(part.outline)
    (x0, x1), (y0, y1) = part.x or (0.0, 0.0), part.y or (0.0, 0.0)
    return shapely.box(x0, y0, x1, y1)


def recesses(job: Job) -> Iterator[tuple[BaseGeometry, float]]:
    """(region, Z of the floor) of the recesses that are there when the job starts."""
    for fastener in job.fasteners:
        recess = fastener.recess
        if recess is not None and recess.diameter is not None and recess.depth is not None:
            yield recess_region(fastener), job.board.top - recess.depth


def recess_region(fastener: Fastener) -> BaseGeometry:
    """A group's recesses in plan, whoever cuts them; empty where their diameter is not said."""
    recess = fastener.recess
    if recess is None or recess.diameter is None:
        return shapely.Polygon()
    return discs([at for at, _ in spots(fastener.at, fastener.grid)], recess.diameter / 2)


def all_recesses(job: Job) -> BaseGeometry:
    """Every recess of the job in plan."""
    return joined(recess_region(fastener) for fastener in job.fasteners)
