"""Passes: stretches of a stage's path as columns, and how far a place lies from them, seen from above.

The law: a pass is a straight or round stretch of the path and how far the cutter reaches to its sides;
what it covers lies no farther from the path than that. Millimetres, board frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .plan import circle_steps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TURN = 2 * np.pi
GENTLE = 0.05  # rad: a bend so small that two passes are drawn as one band
MEASURED = 200_000  # pairs of points and passes measured at a time


@dataclass(frozen=True)
class Straights:
    """k straight passes: start, end (k, 2), reach (k, 2) at start and end, row (k,) of the motion.

    cap_from, cap_span (k, 2): the round end at start and end, counter-clockwise from an angle: half a
    disc where the path begins or ends, else the wedge between this pass and the next.
    """

    start: Floats = field(default_factory=lambda: np.empty((0, 2)))
    end: Floats = field(default_factory=lambda: np.empty((0, 2)))
    reach: Floats = field(default_factory=lambda: np.empty((0, 2)))
    row: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    cap_from: Floats = field(default_factory=lambda: np.empty((0, 2)))
    cap_span: Floats = field(default_factory=lambda: np.empty((0, 2)))

    def __len__(self) -> int:
        return len(self.row)

    @cached_property
    def length(self) -> Floats:
        """(k,) length of each path, mm."""
        return np.hypot(*(self.end - self.start).T)

    @cached_property
    def linked(self) -> NDArray[np.bool_]:
        """(k,) true where the path goes straight on into the next pass: this one holds the wedge between."""
        return np.append(self.cap_span[1:, 0] == 0, False)


@dataclass(frozen=True)
class Rounds:
    """k level arcs: centre (k, 2), radius, first angle and sweep (≥ 0, counter-clockwise), reach, row."""

    centre: Floats = field(default_factory=lambda: np.empty((0, 2)))
    radius: Floats = field(default_factory=lambda: np.empty(0))
    angle: Floats = field(default_factory=lambda: np.empty(0))
    sweep: Floats = field(default_factory=lambda: np.empty(0))
    reach: Floats = field(default_factory=lambda: np.empty(0))
    row: Ints = field(default_factory=lambda: np.empty(0, np.int64))

    def __len__(self) -> int:
        return len(self.row)


@dataclass(frozen=True)
class Stamp:
    """What a move covers where that is no pass: a cutter moved so little that its core left something
    standing, or leans. `path`: of its axis, where it is known."""

    shape: BaseGeometry
    row: int
    path: BaseGeometry | None = None


@dataclass(frozen=True)
class Passes:
    """k straight passes, then m round ones, numbered 0 to k+m-1; and the few `stamps`."""

    straights: Straights = field(default_factory=Straights)
    rounds: Rounds = field(default_factory=Rounds)
    stamps: tuple[Stamp, ...] = ()

    def __len__(self) -> int:
        return len(self.straights) + len(self.rounds)

    @property
    def row(self) -> Ints:
        """(k+m,) row of the motion of each pass."""
        return np.concatenate((self.straights.row, self.rounds.row))

    @property
    def reach(self) -> Floats:
        """(k+m, 2) the least and the greatest reach of each pass."""
        ends = np.concatenate((self.straights.reach, np.column_stack((self.rounds.reach,) * 2)))
        return np.sort(ends, axis=1)

    @cached_property
    def goes_on(self) -> NDArray[np.bool_]:
        """(k+m,) true where a pass goes on into the next one with so small a bend that both are one band."""
        gentle = self.straights.linked & (self.straights.cap_span[:, 1] <= GENTLE)
        return np.append(gentle, np.zeros(len(self.rounds), bool))

    def distance(self, points: Floats, passes: Ints) -> Floats:
        """(p,) distance of each point (p, 2) from the path of the pass beside it in `passes` (p,)."""
        found = np.empty(len(points))
        for first in range(0, len(points), MEASURED):
            some = slice(first, first + MEASURED)
            found[some] = self._distance(points[some], passes[some])
        return found

    def _distance(self, points: Floats, passes: Ints) -> Floats:
        straight = passes < len(self.straights)
        found = np.empty(len(points))
        rounds = passes[~straight] - len(self.straights)
        found[straight] = from_straights(self.straights, points[straight], passes[straight])
        found[~straight] = from_rounds(self.rounds, points[~straight], rounds)
        return found

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """The paths of the passes, arcs as chords."""
        ends = np.stack((self.straights.start, self.straights.end), axis=1)
        straights = np.atleast_1d(np.asarray(shapely.linestrings(ends), object))
        rounds = [arc_path(self.rounds, number) for number in range(len(self.rounds))]
        return shapely.STRtree(np.concatenate((straights, np.array(rounds, object))))

    def within(self, points: Floats, distance: float) -> tuple[Ints, Ints]:
        """Numbers of points (p, 2) and of passes that lie no farther apart than `distance`, in pairs."""
        point, number = self._tree.query(shapely.points(points), predicate="dwithin", distance=distance)
        return point, number


def from_straights(passes: Straights, points: Floats, which: Ints) -> Floats:
    """(p,) distances from straight paths."""
    start, along = passes.start[which], passes.end[which] - passes.start[which]
    away = points - start
    square = np.einsum("ij,ij->i", along, along)
    part = np.einsum("ij,ij->i", away, along) / np.where(square > 0, square, 1.0)
    rest = away - np.clip(part, 0.0, 1.0)[:, None] * along
    return np.hypot(rest[:, 0], rest[:, 1])


def from_rounds(passes: Rounds, points: Floats, which: Ints) -> Floats:
    """(p,) distances from round paths: radially where the arc passes, else from its nearer end."""
    away = points - passes.centre[which]
    turned = np.mod(np.arctan2(away[:, 1], away[:, 0]) - passes.angle[which], TURN)
    radius, sweep = passes.radius[which], passes.sweep[which]
    radial = np.abs(np.hypot(away[:, 0], away[:, 1]) - radius)
    ends = [np.hypot(away[:, 0] - radius * np.cos(angle), away[:, 1] - radius * np.sin(angle))
            for angle in (passes.angle[which], passes.angle[which] + sweep)]
    return np.where(turned <= sweep, radial, np.minimum(*ends))


def arc_path(passes: Rounds, number: int) -> BaseGeometry:
    """The path of a round pass as chords."""
    radius, sweep = float(passes.radius[number]), float(passes.sweep[number])
    angle = passes.angle[number] + np.linspace(0.0, sweep, 1 + circle_steps(radius, sweep))
    along = np.column_stack((np.cos(angle), np.sin(angle)))
    return shapely.LineString(passes.centre[number] + radius * along)
