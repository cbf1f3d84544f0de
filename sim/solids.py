"""What stands on the machine as bodies: screw heads, clamps, obstacles and the bed.

The law: a body has an outline in plan and a top (mm, board frame); where each stands follows from what the
job says and, for `seat = "floor"` and `sunk`, from the surface as it is when the screw is fitted. What a job
leaves out is taken on the side of a strike: the highest that it could be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, inf, sin

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.job import Clamp, Fastener, Grid, Job, Opening, Recess
from .hardware import ScrewHead, head_of, washer_of
from .parts import lowest_underside
from .surface import Surface

Spot = tuple[float, float]

NEAR_HEAD = 1.0  # mm wanted over and beside a head where keep_over_heads is left out
NEAR_WOOD = 2.0  # the same for wood screws that nobody measured
NEAR_CLAMP = 2.0
BESIDE_BY_HAND = 5.0  # mm wanted beside a clamp that is set down by hand between moves
ACROSS = (-1e6, 1e6)  # mm: a slot without ends
MEASURED_WITHIN = 1.0  # mm: a measured screw is the one that stands where it was measured
GAUGE = 10.0  # mm: how far about a recess a depth gauge rests on the board


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

