"""What lies between a written point and a place: mirroring, scaling, rotation, polar points, compensation.

The law: a Warp maps program points (mm, work offset already taken off) in the fixed order mirror, scale,
rotate, and back. Source: trade practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import cos, sin

from .meeting import Element


@dataclass(frozen=True, slots=True)
class Warp:
    """mirror: (axis, place) pairs · factors about `centre` · angle (radians, counter-clockwise) about `pivot`
    in the first and second of `axes` · turned (radians) about a point in X and Y: a work system that is."""

    mirror: tuple[tuple[int, float], ...] = ()
    factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
    centre: tuple[float, float, float] = (0.0, 0.0, 0.0)
    angle: float = 0.0
    pivot: tuple[float, float] = (0.0, 0.0)
    axes: tuple[int, int] = (0, 1)
    turned: float = 0.0
    about: tuple[float, float] = (0.0, 0.0)

    def forward(self, point: Sequence[float]) -> list[float]:
        moved = list(point)
        for axis, place in self.mirror:
            moved[axis] = 2 * place - moved[axis]
        moved = [c + f * (v - c) for v, f, c in zip(moved, self.factors, self.centre, strict=True)]
        moved = _turned(moved, self.angle, self.pivot, self.axes)
        return _turned(moved, self.turned, self.about)

    def back(self, point: Sequence[float]) -> list[float]:
        moved = _turned(list(point), -self.turned, self.about)
        moved = _turned(moved, -self.angle, self.pivot, self.axes)
        moved = [c + (v - c) / f for v, f, c in zip(moved, self.factors, self.centre, strict=True)]
        for axis, place in self.mirror:
            moved[axis] = 2 * place - moved[axis]
        return moved

    def flips(self, axes: Sequence[int]) -> bool:
        """Whether turning within two axes changes its sense."""
        negative = sum(self.factors[a] < 0 for a in axes)
        return (negative + sum(axis in axes for axis, _ in self.mirror)) % 2 == 1

    def keeps_circles(self, axes: Sequence[int]) -> bool:
        """Whether circles in the plane of two axes stay circles in a plane of the axes."""
        one, two = (abs(self.factors[a]) for a in axes)
        return abs(one - two) < 1e-9 and (not self.angle or set(axes) == set(self.axes)) and (
            not self.turned or set(axes) == {0, 1})


PLAIN = Warp()


def in_force(warp: Warp) -> Warp | None:
    """None for one that leaves every point where it is."""
    still = not (warp.mirror or warp.angle or warp.turned) and warp.factors == (1.0, 1.0, 1.0)
    return None if still else warp


def _turned(point: list[float], angle: float, pivot: tuple[float, float],
            axes: tuple[int, int] = (0, 1)) -> list[float]:
    if angle:
        first, second = axes
        a, b = point[first] - pivot[0], point[second] - pivot[1]
        point[first] = pivot[0] + a * cos(angle) - b * sin(angle)
        point[second] = pivot[1] + a * sin(angle) + b * cos(angle)
    return point


@dataclass(slots=True)
class Polar:
    """G16: the last radius (mm) and angle (degrees)."""

    radius: float = 0.0
    angle: float = 0.0
    known: bool = False


@dataclass(slots=True)
class Compensation:
    """side: 1 left, -1 right of the way · radius, mm · point: the programmed place that the cutter stands
    beside · entered: whether a move has led it there · contour: line, element and height of each piece of
    the contour, `first` and `stop` the rows of the moves beside it · whole: whether it is all there."""

    side: int
    radius: float
    point: tuple[float, float] = (0.0, 0.0)
    entered: bool = False
    contour: list[tuple[int, Element, float]] = field(default_factory=list)
    first: int = 0
    stop: int = 0
    whole: bool = True

