"""Where two elements of a path in plan meet: lines and arcs, each as long as it is.

The law: pure geometry, millimetres. A point lies on an element at a share of its length, 0 at its beginning
and 1 at its end; two elements meet where both shares lie between.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, dist, hypot, sin, sqrt, tau

Flat = tuple[float, float]
CLOSE = 1e-6  # mm, and share of an element
CHORD = 1e-3  # mm: how far a chord may lie from its arc


@dataclass(frozen=True, slots=True)
class Line:
    begin: Flat
    end: Flat

    def share(self, point: Flat) -> float:
        ux, uy = self.end[0] - self.begin[0], self.end[1] - self.begin[1]
        return ((point[0] - self.begin[0]) * ux + (point[1] - self.begin[1]) * uy) / (ux * ux + uy * uy)

    @property
    def length(self) -> float:
        return dist(self.begin, self.end)

    def points(self) -> list[Flat]:
        return [self.begin, self.end]


@dataclass(frozen=True, slots=True)
class Turn:
    """An arc about a centre; `sweep` in radians, counter-clockwise positive."""

    begin: Flat
    end: Flat
    centre: Flat
    sweep: float

    def share(self, point: Flat) -> float:
        turned = _angle(self.centre, point) - _angle(self.centre, self.begin)
        turned = (turned if self.sweep > 0 else -turned) % tau
        if turned > tau - CLOSE:
            turned -= tau
        return turned / abs(self.sweep)

    @property
    def radius(self) -> float:
        return dist(self.begin, self.centre)

    @property
    def length(self) -> float:
        return self.radius * abs(self.sweep)

    def points(self) -> list[Flat]:
        """Chords of it, ends included."""
        steps = max(2, ceil(abs(self.sweep) / sqrt(8 * CHORD / max(self.radius, 8 * CHORD))))
        first, r = _angle(self.centre, self.begin), self.radius
        angles = (first + self.sweep * step / steps for step in range(steps + 1))
        return [(self.centre[0] + r * cos(a), self.centre[1] + r * sin(a)) for a in angles]


Element = Line | Turn


def element_of(start: Sequence[float], end: Sequence[float], arc: Sequence[float]) -> Element | None:
    """A move in plan, as a MotionBuilder tells of it; None for an arc that does not lie there."""
    begin, stop = (start[0], start[1]), (end[0], end[1])
    if not arc:
        return Line(begin, stop)
    return Turn(begin, stop, (arc[1], arc[2]), arc[3]) if arc[0] == 17 else None


def _angle(centre: Flat, point: Flat) -> float:
    return atan2(point[1] - centre[1], point[0] - centre[0])


def meet(one: Element, two: Element) -> Flat | None:
    """The point where the first crosses the second, nearest to the first's end; None where none is left of
    either."""
    if min(one.length, two.length) < CLOSE:
        return None
    shared = [(one.share(point), point) for point in crossings(one, two)
              if CLOSE < one.share(point) <= 1 + CLOSE and -CLOSE <= two.share(point) < 1 - CLOSE]
    return max(shared)[1] if shared else None


def crossings(one: Element, two: Element) -> Iterator[Flat]:
    """Where the lines and circles cross that the elements are parts of."""
    if isinstance(one, Line) and isinstance(two, Line):
        yield from _lines(one, two)
    elif isinstance(one, Line):
        assert isinstance(two, Turn)
        yield from _line_and_circle(one, two)
    elif isinstance(two, Line):
        yield from _line_and_circle(two, one)
    else:
        yield from _circles(one, two)


def _lines(one: Line, two: Line) -> Iterator[Flat]:
    dx, dy = one.end[0] - one.begin[0], one.end[1] - one.begin[1]
    ux, uy = two.end[0] - two.begin[0], two.end[1] - two.begin[1]
    cross = dx * uy - dy * ux
    if abs(cross) > CLOSE * CLOSE:
        t = ((two.begin[0] - one.begin[0]) * uy - (two.begin[1] - one.begin[1]) * ux) / cross
        yield one.begin[0] + t * dx, one.begin[1] + t * dy


def _line_and_circle(line: Line, turn: Turn) -> Iterator[Flat]:
    """From the foot of the centre on the line, half a chord to either side."""
    foot = line.share(turn.centre)
    ux, uy = line.end[0] - line.begin[0], line.end[1] - line.begin[1]
    at = line.begin[0] + foot * ux, line.begin[1] + foot * uy
    half = turn.radius**2 - dist(at, turn.centre)**2
    if half >= -CLOSE:
        reach = sqrt(max(0.0, half)) / hypot(ux, uy)
        yield from ((at[0] + way * reach * ux, at[1] + way * reach * uy) for way in (-1, 1))


def _circles(one: Turn, two: Turn) -> Iterator[Flat]:
    """From the foot of the common chord on the line of centres, half a chord to either side."""
    apart = dist(one.centre, two.centre)
    if apart < CLOSE:
        return
    along = (apart**2 + one.radius**2 - two.radius**2) / (2 * apart)
    half = one.radius**2 - along**2
    if half < -CLOSE:
        return
    ux, uy = ((two.centre[i] - one.centre[i]) / apart for i in range(2))
    reach = sqrt(max(0.0, half))
    yield from ((one.centre[0] + along * ux - way * reach * uy, one.centre[1] + along * uy + way * reach * ux)
                for way in (-1, 1))
