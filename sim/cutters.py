"""A cutter as what its lower surface is: a radial profile above the tip.

The law: a Profile is the shape alone (mm, from the tip upward and the axis outward); where it stands,
what it meets and whether it should are asked elsewhere. Programmed Z is the lowest point of the cutting
edges, so the lowest height of every profile is 0.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, radians, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..parser.job import Cutter

Ring = tuple[float, float, float, float]  # from radius, to radius, from height, to height

DRILL_ANGLE = 118.0  # the common point, where a job leaves it out


class CutterUnshaped(ValueError):
    """A cutter lacks a measure that its shape needs; the message names it."""


@dataclass(frozen=True, slots=True)
class Profile:
    """The lower surface: flat to radius `flat_radius`, then a circle of radius `corner` or a cone that
    rises `slope` for each mm, out to `radius`; or, where `rings` are given, these instead.

    `core` is the radius within which nothing cuts (0: all cuts): for strikes and rapids the disc is full.
    """

    radius: float
    flat_radius: float = 0.0
    corner: float = 0.0
    slope: float = 0.0
    core: float = 0.0
    rings: tuple[Ring, ...] = ()
    tip_angle: float | None = None

    @property
    def flat(self) -> bool:
        """Whether all of its lower surface lies at the tip's height."""
        return not self.rings and self.flat_radius >= self.radius

    @property
    def tip_height(self) -> float:
        """How far above the tip the full radius begins: a drill's point, a ball's radius."""
        return float(self.below(self.radius))

    def below(self, rho: ArrayLike) -> NDArray[np.float64]:
        """Height above the tip of the lowest point at distance rho from the axis; inf beyond the radius.

        The disc is full here: the core stands at the height of the ring about it.
        """
        rho = np.asarray(rho, float)
        height = _rings_height(self.rings, rho) if self.rings else self._standard_height(rho)
        return np.where(rho > self.radius, np.inf, height)

    def _standard_height(self, rho: NDArray[np.float64]) -> NDArray[np.float64]:
        past = np.maximum(rho - self.flat_radius, 0.0)
        return self.slope * past + self.corner - np.sqrt(np.maximum(self.corner**2 - past**2, 0.0))

    def reach(self, height: float) -> float:
        """The greatest radius whose lower surface lies at or below `height` above the tip (mm)."""
        if height < 0:
            return 0.0
        if self.rings:
            return max((_ring_reach(ring, height) for ring in self.rings), default=0.0)
        past = height / self.slope if self.slope else sqrt(max(0.0, height * (2 * self.corner - height)))
        if self.corner and height >= self.corner:
            past = self.corner
        return min(self.radius, self.flat_radius + past)

    def full(self) -> Profile:
        """The same with its core closed: what strikes and rapids meet."""
        return replace(self, core=0.0)

    def grown(self, by: float) -> Profile:
        """Wider by so much at every height: nothing within `by` of the full cutter is missed."""
        rings = tuple((r0 + by, r1 + by, h0, h1) for r0, r1, h0, h1 in self.rings)
        if rings:
            rings = ((0.0, rings[0][0], rings[0][2], rings[0][2]), *rings)
        flat = 0.0 if rings else self.flat_radius + by
        return replace(self, radius=self.radius + by, flat_radius=flat, core=0.0, rings=rings)

    def lift(self, slope: float) -> float:
        """How far the axis' foot stands above the lowest point when the cutter's plane has this slope.

        The lowest point is what touches off, so a tilted flat of radius R stands R·slope higher.
        """
        if self.rings:
            return max(slope * r - h for r0, r1, h0, h1 in self.rings for r, h in ((r0, h0), (r1, h1)))
        edges = [(self.flat_radius, 0.0), (self.radius, self.tip_height)]
        if self.corner:
            out = min(self.corner * slope / hypot(1.0, slope), self.radius - self.flat_radius)
            edges.append((self.flat_radius + out, self.corner - sqrt(max(0.0, self.corner**2 - out**2))))
        return max(slope * r - h for r, h in edges)


def _rings_height(rings: tuple[Ring, ...], rho: NDArray[np.float64]) -> NDArray[np.float64]:
    height = np.full(rho.shape, np.inf)
    for r0, r1, h0, h1 in rings:
        here = h0 + (h1 - h0) * ((rho - r0) / (r1 - r0) if r1 > r0 else 0.0)
        height = np.where((rho >= r0) & (rho <= r1), np.minimum(height, here), height)
    return height


def _ring_reach(ring: Ring, height: float) -> float:
    r0, r1, h0, h1 = ring
    if height >= h1:
        return r1
    return r0 + (r1 - r0) * (height - h0) / (h1 - h0) if height >= h0 else 0.0


def profile_of(cutter: Cutter) -> Profile:
    """The lower surface of a cutter of the job. Raises CutterUnshaped where a measure is missing."""
    return _SHAPES[cutter.shape](cutter)


def _radius(cutter: Cutter) -> float:
    if cutter.diameter is None:
        raise CutterUnshaped(f"{cutter.label} has no diameter")
    return cutter.diameter / 2


def _flat(cutter: Cutter) -> Profile:
    """Flat and facing: a flat bottom whose rim may be rounded or bevelled (45°)."""
    radius, corner = _radius(cutter), cutter.corner
    rounded = min(radius, corner.radius or 0.0) if corner else 0.0
    bevelled = min(radius, corner.chamfer or 0.0) if corner else 0.0
    return Profile(radius, radius - rounded - bevelled, corner=rounded, slope=1.0 if bevelled else 0.0)


def _facing(cutter: Cutter) -> Profile:
    core = (cutter.core or 0.0) / 2
    if core >= _radius(cutter):
        raise CutterUnshaped(f"the core of {cutter.label} is as wide as the cutter")
    return replace(_flat(cutter), core=core)


def _ball(cutter: Cutter) -> Profile:
    radius = _radius(cutter)
    return Profile(radius, 0.0, corner=radius)


def _bull(cutter: Cutter) -> Profile:
    if cutter.corner is None or cutter.corner.radius is None:
        raise CutterUnshaped(f"{cutter.label} has no corner.radius")
    return _flat(cutter)


def _cone(cutter: Cutter) -> Profile:
    if cutter.angle is None:
        raise CutterUnshaped(f"{cutter.label} has no angle")
    return _coned(cutter, (cutter.tip or 0.0) / 2, cutter.angle)


def _drill(cutter: Cutter) -> Profile:
    return _coned(cutter, 0.0, cutter.angle or DRILL_ANGLE)


def _coned(cutter: Cutter, tip: float, angle: float) -> Profile:
    radius, half = _radius(cutter), radians(angle / 2)
    tip = min(tip, radius)
    return Profile(radius, tip, slope=cos(half) / sin(half) if tip < radius else 0.0, tip_angle=angle)


def _polyline(cutter: Cutter) -> Profile:
    points = cutter.profile or ()
    if not points or max(r for r, _ in points) <= 0:
        raise CutterUnshaped(f"{cutter.label} has no profile that reaches past its axis")
    low = min(height for _, height in points)
    points = [(r, height - low) for r, height in points]
    if points[0][0] > 0:
        points.insert(0, (0.0, points[0][1]))
    rings = tuple((a[0], b[0], a[1], b[1]) if a[0] <= b[0] else (b[0], a[0], b[1], a[1])
                  for a, b in pairwise(points))
    return Profile(max(r for r, _ in points), rings=rings)


_SHAPES = {"flat": _flat, "facing": _facing, "ball": _ball, "bull": _bull, "cone": _cone, "drill": _drill,
           "profile": _polyline}
