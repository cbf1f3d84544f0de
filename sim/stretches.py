"""Stretches: a single move, cut down to the part of it that is low enough, seen from above.

The law: where the tip is above the height asked for, a move leaves nothing finished; where it is below,
the cutter reaches as far as its profile does at that height. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import PLANE_AXES, Motion
from .cutters import Profile
from .plan import circle_steps

Spot = tuple[float, float]
Floats = NDArray[np.float64]

TRUE_ARC = 2e-3  # mm: an arc whose radius changes by more is followed in chords
HALVINGS = 40  # of the search for a leaning cutter's reach
TAPER_STEPS = 16  # discs along a sloping move of a pointed or round cutter


@dataclass(slots=True)
class Stretch:
    """A part of move `row`: straight from a to b, or round when it has a centre.

    reach: how far the cutter reaches at a and at b · angle, sweep: where a round stretch lies about its
    centre, counter-clockwise, sweep ≥ 0 (a to b may run the other way).
    """

    row: int
    a: Spot
    b: Spot
    reach: tuple[float, float]
    centre: Spot | None = None
    radius: float = 0.0
    angle: float = 0.0
    sweep: float = 0.0

    @property
    def length(self) -> float:
        """Length in plan, mm."""
        if self.centre is not None:
            return self.radius * self.sweep
        return hypot(self.b[0] - self.a[0], self.b[1] - self.a[1])


@dataclass
class Reach:
    """How far a cutter reaches to its sides at Z `highest` when its tip is at some z. Where it leans by the
    slope `lean`, as far as it reaches to every side; a flat one as far as upright (see leant)."""

    profile: Profile
    highest: float
    lean: float = 0.0
    _known: dict[float, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.flat, self.radius, self.full = self.profile.flat, self.profile.radius, self.profile.tip_height
        self.lift = self.profile.lift(self.lean)
        if not self.flat:
            self.full += self.lift + self.lean * self.radius

    def at(self, z: float) -> float:
        """Radius at `highest` with the tip at z ≤ highest."""
        if self.flat or self.highest - z >= self.full:
            return self.radius
        if z not in self._known:
            self._known[z] = self._within(self.highest - z)
        return self._known[z]

    def _within(self, height: float) -> float:
        if not self.lean:
            return self.profile.reach(height)
        low, high = 0.0, self.profile.reach(height)
        for _ in range(HALVINGS):
            rho = (low + high) / 2
            risen = self.lift + self.lean * rho + float(self.profile.below(rho))
            low, high = (rho, high) if risen <= height else (low, rho)
        return low


def stretches_of(motion: Motion, row: int, reach: Reach) -> Iterator[Stretch]:
    """The stretches of one placed move, in order."""
    if motion.arc[row] < 0:
        yield from _straight(row, motion.start[row].tolist(), motion.end[row].tolist(), reach)
        return
    plane, centre, sweep = _arc(motion, row)
    radii = _radii(motion, row, centre)
    level = motion.start[row, 2] == motion.end[row, 2]
    if plane == 17 and abs(radii[1] - radii[0]) <= TRUE_ARC and (reach.flat or level):
        yield from _round(motion, row, centre, float(np.mean(radii)), sweep, reach)
        return
    points = arc_points(motion, row).tolist()
    for start, end in pairwise(points):
        yield from _straight(row, start, end, reach)


def _straight(row: int, start: Sequence[float], end: Sequence[float], reach: Reach) -> Iterator[Stretch]:
    (x0, y0, z0), (x1, y1, z1) = start, end
    if reach.flat and z0 <= reach.highest and z1 <= reach.highest:
        yield Stretch(row, (x0, y0), (x1, y1), (reach.radius, reach.radius))
        return
    part = _low_part(z0, z1, reach.highest)
    if part is None:
        return
    cuts = _cuts(z0, z1, part, reach)
    points = [(x0 + t * (x1 - x0), y0 + t * (y1 - y0), z0 + t * (z1 - z0)) for t in cuts]
    if x0 == x1 and y0 == y1:  # straight down: its lowest place is its widest
        points = [min(points, key=lambda p: p[2])] * 2
    for a, b in pairwise(points):
        yield Stretch(row, a[:2], b[:2], (reach.at(a[2]), reach.at(b[2])))


def _low_part(z0: float, z1: float, highest: float) -> tuple[float, float] | None:
    """The part (from, to) of 0..1 over which a height that goes evenly from z0 to z1 is low enough."""
    if min(z0, z1) > highest:
        return None
    if max(z0, z1) <= highest:
        return 0.0, 1.0
    crossing = (highest - z0) / (z1 - z0)
    return (0.0, crossing) if z0 <= highest else (crossing, 1.0)


def _cuts(z0: float, z1: float, part: tuple[float, float], reach: Reach) -> list[float]:
    """Where to cut a move so that the reach changes nearly evenly within each piece: where a round cutter
    just comes down to the height its reach grows as a root, and the pieces are the shorter."""
    if reach.flat or z0 == z1:
        return list(part)
    wide = (reach.highest - reach.full - z0) / (z1 - z0)
    high, low = part if z0 > z1 else part[::-1]
    cuts = (high + (low - high) * np.linspace(0.0, 1.0, TAPER_STEPS + 1) ** 2).tolist()
    return sorted({*cuts, wide}) if part[0] < wide < part[1] else cuts


def _round(motion: Motion, row: int, centre: Floats, radius: float, sweep: float,
           reach: Reach) -> Iterator[Stretch]:
    z0, z1 = motion.start[row, 2], motion.end[row, 2]
    part = _low_part(z0, z1, reach.highest)
    if part is None:
        return
    away = motion.start[row, :2] - centre
    first = float(np.arctan2(away[1], away[0]))
    angles = first + sweep * part[0], first + sweep * part[1]
    a, b = (_about(centre, radius, angle) for angle in angles)
    wide = reach.at(min(z0, z1) if not reach.flat else reach.highest)
    yield Stretch(row, a, b, (wide, wide), (float(centre[0]), float(centre[1])), radius,
                  min(angles), abs(angles[1] - angles[0]))


def _about(centre: Floats, radius: float, angle: float) -> Spot:
    return float(centre[0] + radius * np.cos(angle)), float(centre[1] + radius * np.sin(angle))


def _arc(motion: Motion, row: int) -> tuple[int, Floats, float]:
    arc = motion.arc[row]
    return int(motion.arcs.plane[arc]), motion.arcs.centre[arc], float(motion.arcs.sweep[arc])


def _radii(motion: Motion, row: int, centre: Floats) -> tuple[float, float]:
    first, second, _ = PLANE_AXES[_arc(motion, row)[0]]
    start, end = motion.start[row, [first, second]], motion.end[row, [first, second]]
    return float(np.hypot(*(start - centre))), float(np.hypot(*(end - centre)))


def arc_points(motion: Motion, row: int, span: float = np.inf) -> Floats:
    """(k, 3) points along an arc of any plane, chords within `SAGITTA` and no wider than `span` radians."""
    plane, centre, sweep = _arc(motion, row)
    first, second, third = PLANE_AXES[plane]
    r0, r1 = _radii(motion, row, centre)
    away = motion.start[row, [first, second]] - centre
    steps = max(circle_steps(max(r0, r1), abs(sweep)), int(np.ceil(abs(sweep) / span)))
    part = np.linspace(0.0, 1.0, steps + 1)
    angle = np.arctan2(away[1], away[0]) + sweep * part
    radius = r0 + (r1 - r0) * part
    points = np.empty((steps + 1, 3))
    points[:, first] = centre[0] + radius * np.cos(angle)
    points[:, second] = centre[1] + radius * np.sin(angle)
    points[:, third] = motion.start[row, third] + (motion.end[row, third] - motion.start[row, third]) * part
    points[0], points[-1] = motion.start[row], motion.end[row]
    return points
