"""What stands on the machine as bodies: screw heads, clamps, obstacles and the bed.

The law: a body has an outline in plan and a top (mm, board frame); where each stands follows from what the
job says. What a job leaves out is taken on the side of a strike: the highest that it could be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, inf, sin

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Clamp, Grid, Job, Opening
from .parts import lowest_underside

Spot = tuple[float, float]

NEAR_HEAD = 1.0  # mm wanted over and beside a head where keep_over_heads is left out
NEAR_CLAMP = 2.0
BESIDE_BY_HAND = 5.0  # mm wanted beside a clamp that is set down by hand between moves
ACROSS = (-1e6, 1e6)  # mm: a slot without ends


@dataclass(frozen=True, slots=True)
class Footprint:
    """An outline in plan: a rectangle of half sizes `half`, turned by `turn` (radians), grown by `round`.

    A disc has no half sizes. A bar has square ends: it stops at `from` and `to`.
    """

    at: Spot
    half: Spot = (0.0, 0.0)
    turn: float = 0.0
    round: float = 0.0

    @property
    def shape(self) -> BaseGeometry:
        """The same as a polygon, for pictures."""
        if self.round:
            return shapely.Point(self.at).buffer(self.round, quad_segs=32)
        x, y = self.half
        return shapely.Polygon([self._corner(a, b) for a, b in ((-x, -y), (x, -y), (x, y), (-x, y))])

    def away(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Distance of places (k,), (k,) from the outline in plan, 0 within it; (k,)."""
        c, s, dx, dy = cos(self.turn), sin(self.turn), np.subtract(x, self.at[0]), np.subtract(y, self.at[1])
        a, b = np.abs(c * dx + s * dy) - self.half[0], np.abs(c * dy - s * dx) - self.half[1]
        return np.maximum(0.0, np.hypot(np.maximum(a, 0.0), np.maximum(b, 0.0)) - self.round)

    def _corner(self, a: float, b: float) -> Spot:
        c, s = cos(self.turn), sin(self.turn)
        return self.at[0] + c * a - s * b, self.at[1] + s * a + c * b


@dataclass(frozen=True, slots=True)
class HeadSolid:
    """A screw head, or the washer under it (then `part` says so), with the wanted distance `near`.

    `about` names the screw ("edge screws 2"); `place` is its (row, column) in its grid, from 1, rows
    counted from the front and columns from the left, None where it was written singly. `rise` and `wider`
    are how much of its top and radius is doubt.
    """

    about: str
    group: str
    number: int
    at: Spot
    radius: float
    top: float
    bottom: float
    near: float = NEAR_HEAD
    part: str = "head"
    place: tuple[int, int] | None = None
    rise: float = 0.0
    wider: float = 0.0

    @property
    def footprint(self) -> Footprint:
        return Footprint(self.at, round=self.radius)

    @property
    def nominal(self) -> HeadSolid:
        """The same without doubt."""
        return replace(self, top=self.top - self.rise, radius=self.radius - self.wider, rise=0.0, wider=0.0)


@dataclass(frozen=True, slots=True)
class ClampSolid:
    """One body of a clamp. `near` is the distance wanted over it, `beside` at its side."""

    about: str
    footprint: Footprint
    top: float
    bottom: float
    near: float = NEAR_CLAMP
    beside: float = NEAR_CLAMP


@dataclass(frozen=True, slots=True)
class ObstacleSolid(ClampSolid):
    """What is always there: a track, a fence, a stop, a hose. It holds nothing and never moves."""


@dataclass(frozen=True, slots=True)
class OpeningSolid:
    """An opening of the bed: round (radius; chamfer: how much wider its mouth is on each side) or a
    rectangle of half sizes; depth inf: through."""

    name: str
    at: Spot
    half: Spot = (0.0, 0.0)
    radius: float = 0.0
    chamfer: float = 0.0
    depth: float = inf


@dataclass(frozen=True, slots=True)
class BedSolid:
    """The bed: everything under `top` outside its openings. `soft`: an underlay that may be marked."""

    top: float
    soft: bool = False
    openings: tuple[OpeningSolid, ...] = ()
    about: str = "bed"

    @property
    def table(self) -> NDArray[np.float64]:
        """(p, 7) openings as the kernel takes them."""
        rows = [[*o.at, *o.half, o.radius, o.chamfer, o.depth] for o in self.openings]
        return np.array(rows, float).reshape(-1, 7)


@dataclass(frozen=True)
class Solids:
    """All bodies that stand at one time."""

    heads: tuple[HeadSolid, ...] = ()
    clamps: tuple[ClampSolid, ...] = ()
    bed: BedSolid | None = None
    obstacles: tuple[ObstacleSolid, ...] = ()

    @property
    def tall(self) -> tuple[HeadSolid | ClampSolid, ...]:
        """All but the bed."""
        return *self.heads, *self.clamps, *self.obstacles


def spots(at: tuple[Spot, ...] | None, grid: Grid | None) -> Iterator[tuple[Spot, tuple[int, int] | None]]:
    """Places with their (row, column): written ones in their order, then a grid's, along X first."""
    for spot in at or ():
        yield spot, None
    if grid is not None:
        (x, y), (dx, dy) = grid.start, grid.pitch
        for row in range(grid.count[1]):
            for column in range(grid.count[0]):
                yield (x + column * dx + (row % 2) * grid.stagger, y + row * dy), (row + 1, column + 1)


def clamps_of(clamp: Clamp, bed_top: float | None, board_top: float, *,
              by_hand: bool = False) -> tuple[ClampSolid, ...]:
    """The body of a clamp. by_hand: the operator sets it down or takes it off during the stage."""
    beside, heights = BESIDE_BY_HAND if by_hand else NEAR_CLAMP, heights_of(clamp, bed_top, board_top)
    return (ClampSolid(clamp.name, footprint_of(clamp), *heights, beside=beside),)


def heights_of(written: Clamp, bed_top: float | None, board_top: float) -> tuple[float, float]:
    """(top, bottom) of a clamp or an obstacle.

    One without a bottom stands on the bed, or goes down without end where the bed is not known.
    """
    if written.z is not None:
        return max(written.z), min(written.z)
    return board_top + (written.above or 0.0), -inf if bed_top is None else bed_top


def obstacles_of(job: Job) -> tuple[ObstacleSolid, ...]:
    """The job's obstacles, in written order."""
    heights = bed_top_of(job), job.board.top
    return tuple(ObstacleSolid(o.name, footprint_of(o), *heights_of(o, *heights)) for o in job.obstacles)


def footprint_of(clamp: Clamp) -> Footprint:
    """A clamp in plan: a bar (from, to, width), a post (at, diameter) or a box (x, y)."""
    if clamp.start is not None and clamp.end is not None:
        (ax, ay), (bx, by) = clamp.start, clamp.end
        half = (hypot(bx - ax, by - ay) / 2, (clamp.width or 0.0) / 2)
        return Footprint(((ax + bx) / 2, (ay + by) / 2), half, atan2(by - ay, bx - ax))
    if clamp.at is not None:
        return Footprint(clamp.at, round=(clamp.diameter or 0.0) / 2)
    (x0, x1), (y0, y1) = clamp.x or (0.0, 0.0), clamp.y or (0.0, 0.0)
    return Footprint(((x0 + x1) / 2, (y0 + y1) / 2), (abs(x1 - x0) / 2, abs(y1 - y0) / 2))


def bed_top_of(job: Job) -> float | None:
    """Z of the bed's top: as given, else under the lowest piece of the board; None where neither is known."""
    if job.bed is not None and job.bed.top is not None:
        return job.bed.top
    return lowest_underside(job)


def bed_of(job: Job) -> BedSolid | None:
    """The bed, None where its top cannot be told."""
    top = bed_top_of(job)
    if top is None:
        return None
    written = job.bed.openings if job.bed else ()
    openings = tuple(single for opening in written for single in openings_of(opening))
    return BedSolid(top, bool(job.bed and job.bed.soft), openings)


def openings_of(opening: Opening) -> Iterator[OpeningSolid]:
    """The single openings of one table: round ones at each of their places, or a slot."""
    depth = opening.depth or inf
    if opening.diameter is None:
        (x0, x1), (y0, y1) = opening.x or ACROSS, opening.y or ACROSS
        half = (abs(x1 - x0) / 2, abs(y1 - y0) / 2)
        yield OpeningSolid(opening.name, ((x0 + x1) / 2, (y0 + y1) / 2), half, depth=depth)
        return
    radius = opening.diameter / 2
    chamfer = max(0.0, (opening.mouth or 0.0) / 2 - radius)
    for at, _ in spots(opening.at, opening.grid):
        yield OpeningSolid(opening.name, at, (radius, radius), radius, min(chamfer, depth), depth)

