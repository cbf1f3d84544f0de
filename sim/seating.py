"""Screws as they sit: where a head's top and a washer's underside come to lie when they are fitted.

The law: a typed seat is believed; for `seat = "floor"` and `sunk` the surface counts as it is when the screw
is fitted, and of a measurement and the table the higher. mm, board frame.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Fastener, Job, Recess
from .hardware import ScrewHead, head_of, washer_of
from .solids import NEAR_HEAD, HeadSolid, Spot, spots
from .surface import Surface

NEAR_WOOD = 2.0  # mm wanted over and beside a head of a wood screw that nobody measured
MEASURED_WITHIN = 1.0  # mm: a measured screw is the one that stands where it was measured
GAUGE = 10.0  # mm: how far about a recess a depth gauge rests on the board


def heads_of(fastener: Fastener, surface: Surface, *, near: float | None = None,
             stands: Callable[[Spot], bool] = lambda at: True) -> tuple[HeadSolid, ...]:
    """The heads (and washers) of a group, numbered from 1, as they sit when fitted into `surface`.

    near: the job's keep_over_heads (None: left out) · stands: whether a screw is there at a place. Raises
    HardwareUnknown for a name without a table row, ValueError where a seat is to be found and there is no
    board under the head.
    """
    head, wanted = head_size(fastener), near if near is not None else default_near(fastener)
    solids: list[HeadSolid] = []
    for number, (at, place) in enumerate(spots(fastener.at, fastener.grid), 1):
        if not stands(at):
            continue
        about = f"{fastener.name} {number}"
        top, floor = _head_top(fastener, head, at, surface, about)
        common = {"near": wanted, "place": place}
        solids.append(HeadSolid(about, fastener.name, number, at, head.diameter / 2, top, top - head.height,
                                **common))
        if fastener.washer and not head.countersunk:
            washer = washer_of(fastener.washer)
            under = top - head.height
            solids.append(HeadSolid(about, fastener.name, number, at, washer.diameter / 2, under,
                                    min(floor, under - washer.thickness), part="washer", **common))
    return tuple(solids)


def head_discs(job: Job) -> Iterator[tuple[str, tuple[Spot, float]]]:
    """("edge screws 2", (place, radius)) of every screw of the job, fitted or not, as wide as its head may
    reach. Raises HardwareUnknown."""
    wider = job.uncertainty.head_xy if job.uncertainty else 0.0
    for fastener in job.fasteners:
        radius = head_size(fastener).diameter / 2 + wider
        for number, (at, _) in enumerate(spots(fastener.at, fastener.grid), 1):
            yield f"{fastener.name} {number}", (at, radius)


def head_size(fastener: Fastener) -> ScrewHead:
    """The head as the job gives it, by table or by its own size."""
    if fastener.head is not None:
        return ScrewHead(fastener.name, fastener.head.diameter, fastener.head.height)
    return head_of(fastener.screw or "")


def default_near(fastener: Fastener) -> float:
    """The distance wanted where the job gives none: more over wood screws that nobody measured."""
    wood = fastener.head is None and fastener.screw is not None and head_of(fastener.screw).wood
    return NEAR_WOOD if wood and not fastener.measured and fastener.sunk is None else NEAR_HEAD


def _head_top(fastener: Fastener, head: ScrewHead, at: Spot, surface: Surface,
              about: str) -> tuple[float, float]:
    """Z of a head's top, and of what head or washer rests on; a higher measured top counts instead."""
    washer = washer_of(fastener.washer) if fastener.washer and not head.countersunk else None
    stack = 0.0 if head.countersunk else head.height + (washer.thickness if washer else 0.0)
    if fastener.sunk is not None:
        top = faced_height(surface, at, fastener.recess, head.diameter / 2, about) - fastener.sunk
    else:
        bearing = max(head.diameter, washer.diameter if washer else 0.0) / 2
        seat = fastener.seat if isinstance(fastener.seat, float | int) else floor_height(
            surface, at, (head.thread or 0.0) / 2, bearing, about)
        top = seat + stack
    for reading in fastener.measured:
        if hypot(reading.at[0] - at[0], reading.at[1] - at[1]) <= MEASURED_WITHIN:
            face = faced_height(surface, at, fastener.recess, head.diameter / 2, about)
            top = max(top, face - reading.sunk)
    return top, top - stack


def floor_height(surface: Surface, at: Spot, inner: float, outer: float, about: str) -> float:
    """Z that a ring about `at` rests on: the highest cell under it, its hole left out."""
    under = cells_between(surface, at, inner, outer)
    if not len(under):
        raise ValueError(f"no board lies under the head of {about}: give its seat as a Z")
    return float(under.max())


def faced_height(surface: Surface, at: Spot, recess: Recess | None, radius: float, about: str) -> float:
    """Z of the board's surface that a depth gauge rests on about a head, its recess left out."""
    inner = max(radius, (recess.diameter or 0.0) / 2 if recess else 0.0) + 2 * surface.cell
    around = cells_between(surface, at, inner, inner + GAUGE)
    if not len(around):
        raise ValueError(f"no board lies about the head of {about}: give its seat as a Z")
    return float(around.max())


def cells_between(surface: Surface, at: Spot, inner: float, outer: float) -> NDArray[np.float32]:
    """Heights of the board's cells whose centres lie in a ring; of the nearest cell where none does."""
    x, y = surface.x, surface.y
    i0, i1 = np.searchsorted(x, (at[0] - outer - surface.cell, at[0] + outer + surface.cell))
    j0, j1 = np.searchsorted(y, (at[1] - outer - surface.cell, at[1] + outer + surface.cell))
    away = np.hypot(x[None, i0:i1] - at[0], y[j0:j1, None] - at[1])
    heights = surface.heights[j0:j1, i0:i1]
    known = ~np.isnan(heights)
    ring = known & (away >= inner) & (away <= outer)
    return heights[ring] if ring.any() else heights[known & (away <= max(outer, surface.cell))]
