"""How far the whole program may be off before a body is met: lower, aside, and how much wider heads may be.

The law: the same swept distances as strikes, so each figure is where a strike would begin. To move the
program aside is to move the bodies the other way: what a body passes over on its way is a body, too, so the
first meeting is found by halving. A bar that stands askew is taken with its box: a figure may then be too
small, never too large. Bodies stand as far toward the cutter as doubt allows. Millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .approach import STRIKE, table_of
from .solids import BedSolid, ClampSolid, HeadSolid
from .swarm import Bodies, Swarm, query, query_bed

if TYPE_CHECKING:
    from .evidence import Phase

Floats = NDArray[np.float64]
Tall = HeadSolid | ClampSolid

FARTHEST = 50.0  # mm: nobody's zero is off by more without being seen
HALVINGS = 13  # of FARTHEST: to 0.006
FINE = 24
DIRECTIONS = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0)}


@dataclass(frozen=True, slots=True)
class Bound:
    """How far (mm; negative: by so much too far already) and what ends it, "" for nothing within reach."""

    amount: float
    by: str = ""

    def least(self, other: Bound) -> Bound:
        return other if other.amount < self.amount else self


@dataclass(frozen=True)
class Slack:
    """down: by each body's name how far the program may be lower, exact · aside: in each direction ·
    wider: how much the heads' radius may grow, beyond what doubt has added (negative: by less than that)."""

    down: dict[str, Bound] = field(default_factory=dict)
    heads: frozenset[str] = frozenset()
    aside: dict[str, Bound] = field(default_factory=lambda: dict.fromkeys(DIRECTIONS, Bound(FARTHEST)))
    wider: Bound = Bound(FARTHEST)

    def and_(self, other: Slack) -> Slack:
        """The least of both."""
        down = {name: self.down.get(name, other.down.get(name, Bound(inf))).least(
            other.down.get(name, Bound(inf))) for name in {**self.down, **other.down}}
        aside = {way: self.aside[way].least(other.aside[way]) for way in DIRECTIONS}
        return Slack(down, self.heads | other.heads, aside, self.wider.least(other.wider))

    @property
    def lower(self) -> Bound:
        return min(self.down.values(), key=lambda limit: limit.amount, default=Bound(inf))

    @property
    def heads_higher(self) -> Bound:
        some = [limit for name, limit in self.down.items() if name in self.heads]
        return min(some, key=lambda limit: limit.amount, default=Bound(inf))


def slack_of(swarm: Swarm, shapes: Bodies, phase: Phase, *, openings: bool) -> Slack:
    """What rides on a phase's paths against all that stands. openings: whether it may go into the bed's."""
    if not len(swarm.paths):
        return Slack()
    solids, bed = phase.solids.tall, phase.solids.bed
    down = _room(swarm, shapes, solids)
    if bed is not None:
        down[bed.about] = Bound(_room_over_bed(swarm, shapes, bed, openings), bed.about)
    aside = {way: _first(swarm, shapes, solids, lambda some, t, way=way: moved(some, DIRECTIONS[way], t))
             for way in DIRECTIONS}
    if bed is not None and openings and bed.openings and float(swarm.boxes[:, 4].min()) < bed.top:
        aside = {way: limit.least(_bed_aside(swarm, shapes, bed, DIRECTIONS[way]))
                 for way, limit in aside.items()}
    heads = phase.solids.heads
    return Slack(down, frozenset(h.about for h in heads), aside, _wider(swarm, shapes, heads))


def _room(swarm: Swarm, shapes: Bodies, solids: Sequence[Tall]) -> dict[str, Bound]:
    """How far below each body's top, counted from above, the lowest pass over it is."""
    found, _ = query(swarm, shapes, table_of(solids), np.full(len(solids), -inf), cover=True)
    room: dict[str, Bound] = {}
    for body, value in zip(solids, found[:, 0].tolist(), strict=True):
        if value < inf:
            room[body.about] = Bound(value, body.about).least(room.get(body.about, Bound(inf)))
    return room


def _room_over_bed(swarm: Swarm, shapes: Bodies, bed: BedSolid, openings: bool) -> float:
    """How far the bed could rise: over plain bed by the lowest place, among openings by halving."""
    over = float(swarm.boxes[:, 4].min()) - bed.top
    if not openings or not bed.openings:
        return over
    low, high = min(0.0, over), max(0.0, over) + FARTHEST
    if _into(swarm, shapes, bed.top, bed.table):
        low, high = over, 0.0
    return _halved(lambda t: _into(swarm, shapes, bed.top + t, bed.table), low, high, FINE)


def _into(swarm: Swarm, shapes: Bodies, top: float, openings: Floats) -> bool:
    return bool(query_bed(swarm, shapes, top, openings, -inf)[0][0] < -STRIKE)


def _bed_aside(swarm: Swarm, shapes: Bodies, bed: BedSolid, way: tuple[float, float]) -> Bound:
    """How far a cutter may be moved within the openings that it goes into; farther than an opening is wide
    nothing is asked."""
    widest = min(FARTHEST, 2 * max(max(o.half) for o in bed.openings))

    def meets(t: float) -> bool:
        table = bed.table
        table[:, :2] -= np.multiply(way, t)
        return _into(swarm, shapes, bed.top, table)
    if meets(0.0):
        return Bound(0.0, bed.about)
    return Bound(_halved(meets, 0.0, widest, HALVINGS), bed.about) if meets(widest) else Bound(FARTHEST)


def _halved(meets: Callable[[float], bool], low: float, high: float, times: int) -> float:
    """The greatest place that is still free, between a free one and one that is not."""
    for _ in range(times):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if meets(middle) else (middle, high)
    return low


def moved(rows: Floats, way: tuple[float, float], t: float) -> Floats:
    """All that bodies pass over when they move the other way by t."""
    rows = rows.copy()
    (dx, dy), cos, sin = way, rows[:, 2], rows[:, 3]
    rows[:, 0] -= dx * t / 2
    rows[:, 1] -= dy * t / 2
    rows[:, 4] += np.abs(cos * dx + sin * dy) * t / 2
    rows[:, 5] += np.abs(cos * dy - sin * dx) * t / 2
    return rows


def _first(swarm: Swarm, shapes: Bodies, solids: Sequence[Tall], grown: Callable[[Floats, float], Floats],
           least: float = 0.0) -> Bound:
    """How far bodies may be changed until one is met, and which; they only grow with it."""
    solids = list(solids)

    def struck(some: list[Tall], t: float) -> list[Tall]:
        rows = grown(table_of(some), t)
        values = query(swarm, shapes, rows, np.full(len(rows), -inf))[0][:, 0]
        return [some[k] for k in np.flatnonzero(values < -STRIKE)]
    near = struck(solids, FARTHEST)
    if not near:
        return Bound(FARTHEST)
    if already := struck(near, least):
        return Bound(least, already[0].about)
    low, high = least, FARTHEST
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        hit = struck(near, middle)
        near, low, high = (hit, low, middle) if hit else (near, middle, high)
    return Bound(low, near[0].about)


def _wider(swarm: Swarm, shapes: Bodies, heads: Sequence[HeadSolid]) -> Bound:
    """How much wider heads may be than they are taken to be; at the least as wide as without doubt."""
    def grown(rows: Floats, t: float) -> Floats:
        rows = rows.copy()
        rows[:, 6] += t
        return rows
    doubt = max((head.wider for head in heads), default=0.0)
    return _first(swarm, shapes, heads, grown, -doubt)
