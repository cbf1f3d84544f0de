"""Arc geometry: from what a G2 or G3 line says to a centre and a sweep, or why it cannot be drawn.

The law: everything is in the plane's own first and second axis, in millimetres; G17 (X, Y), G18 (Z, X),
G19 (Y, Z), never a special case [NIST IR 6556, 3.5.3]. Counter-clockwise is from +first toward +second.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, copysign, degrees, hypot, pi, sqrt, tau
from typing import Any

Flat = tuple[float, float]

ROUNDING = 0.0005  # mm: half a step of the third decimal; closer points are the same point
DEGREES = 180 / pi
QUADRANT = 1e-4  # radians over a right angle that are rounding
SPIRAL = 1e-6  # mm: radii that differ by more than binary rounding


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What difference of start and end radius a control takes: `absolute` (mm) always; beyond it, up to
    `share` of the radius and never over `hard` (mm). 0 share: `absolute` is all there is."""

    absolute: float = 0.002
    share: float = 0.0
    hard: float = 0.0

    def allows(self, difference: float, radius: float) -> bool:
        return difference <= max(self.absolute, min(self.share * radius, self.hard))

    def limit(self, radius: float) -> float:
        return max(self.absolute, min(self.share * radius, self.hard))


@dataclass(frozen=True, slots=True)
class Arc:
    """`centre` in first and second axis, mm; `sweep` in radians, positive counter-clockwise.

    `difference` is |start radius - end radius|; `doubt` names the condition of an ill-conditioned one.
    """

    centre: Flat
    sweep: float
    difference: float = 0.0
    doubt: str = ""


class NoArc(Exception):
    """No such arc: the condition's name and its numbers (mm)."""

    def __init__(self, condition: str, **numbers: Any) -> None:
        super().__init__(condition)
        self.condition, self.numbers = condition, numbers


def swept(start: Flat, end: Flat, centre: Flat, ccw: bool) -> float:
    """The signed sweep from start to end about a centre, in radians; the same point is a whole turn."""
    if same(start, end):
        return tau if ccw else -tau
    turn = (angle(end, centre) - angle(start, centre)) % tau
    return turn if ccw else turn - tau


def same(a: Flat, b: Flat) -> bool:
    """Points that a control's third decimal cannot tell apart: 1e-9 mm never decides on a whole turn."""
    return abs(a[0] - b[0]) <= ROUNDING and abs(a[1] - b[1]) <= ROUNDING


def angle(point: Flat, centre: Flat) -> float:
    return atan2(point[1] - centre[1], point[0] - centre[0])


def by_centre(start: Flat, end: Flat, centre: Flat, ccw: bool, tolerance: Tolerance, turns: int = 1) -> Arc:
    """Centre format. Raises NoArc for a zero radius, and where the radii differ beyond the tolerance."""
    first, last = distance(start, centre), distance(end, centre)
    if max(first, last) <= ROUNDING:
        raise NoArc("arc-no-radius")
    if not tolerance.allows(abs(first - last), first):
        raise NoArc("arc-radii-differ", first=first, last=last, value=abs(first - last),
                    limit=tolerance.limit(first))
    sweep = swept(start, end, centre, ccw)
    rounded = same(start, end) and distance(start, end) > SPIRAL
    return Arc(centre, sweep + copysign(tau * (turns - 1), sweep), abs(first - last),
               "arc-rounded-turn" if rounded else "")


def by_radius(start: Flat, end: Flat, radius: float, ccw: bool, tolerance: Tolerance, turns: int = 1,
              stretch: bool = False) -> Arc:
    """Radius format: |sweep| up to 180 degrees for a positive radius, over it for a negative one.

    Raises NoArc where start is end, where the radius is 0, and where it does not reach half the chord
    (`stretch`: the radius is then enlarged to it).
    """
    chord = distance(start, end)
    if same(start, end):
        raise NoArc("arc-one-point")
    if radius == 0:
        raise NoArc("arc-zero-r")
    if chord / 2 - abs(radius) > tolerance.absolute and not stretch:
        raise NoArc("arc-r-short", radius=abs(radius), chord=chord, least=chord / 2)
    centre = centre_of(start, end, radius, ccw)
    sweep = swept(start, end, centre, ccw)
    return Arc(centre, sweep + copysign(tau * (turns - 1), sweep), 0.0, radius_doubt(sweep))


def in_quadrant(start: Flat, end: Flat, sizes: Flat, ccw: bool, tolerance: Tolerance) -> Arc:
    """Centre format without signs: of the four centres the one whose radii agree best, with a sweep of a
    right angle at most. Raises NoArc where there is none. Source: practice of the older tape code sets."""
    found = []
    for x, y in {(a * sizes[0], b * sizes[1]) for a in (1, -1) for b in (1, -1)}:
        centre = start[0] + x, start[1] + y
        first, last = distance(start, centre), distance(end, centre)
        sweep = swept(start, end, centre, ccw)
        within = first > ROUNDING and abs(sweep) <= pi / 2 + QUADRANT
        if within and tolerance.allows(abs(first - last), first):
            found.append((abs(first - last), abs(sweep), centre, sweep))
    if not found:
        raise NoArc("arc-quadrant")
    off, _, centre, sweep = min(found)
    return Arc(centre, sweep, off)


def centre_of(start: Flat, end: Flat, radius: float, ccw: bool) -> Flat:
    """C = M + k·h·n, n the unit normal to the left of start to end [NIST IR 6556, 3.5.3.1]."""
    across, along = end[0] - start[0], end[1] - start[1]
    chord = hypot(across, along)
    height = sqrt(max(0.0, radius * radius - chord * chord / 4))
    side = 1.0 if ccw == (radius > 0) else -1.0
    return ((start[0] + end[0]) / 2 - side * height * along / chord,
            (start[1] + end[1]) / 2 + side * height * across / chord)


def radius_doubt(sweep: float) -> str:
    """The condition of R arcs near half and whole circles: the last digit of R moves the centre far."""
    turned = degrees(abs(sweep))
    if 165 <= turned <= 195 and abs(turned - 180) > 1e-4:
        return "arc-near-half"
    return "arc-near-whole" if turned > 345 else ""


def distance(a: Flat, b: Flat) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])
