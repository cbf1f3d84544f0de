"""Wanted holes and drilled ones: which is meant for which.

The law: as many pairs as there can be, then the least total distance, none farther apart than the wanted
diameter; between holes at one place the nearer diameter decides. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
import shapely

from ..parser.job import Holes, Job, Stage
from .holes import FoundHole
from .linked import groups
from .plan import face_height, hole_spots

DIAMETER_WEIGHT = 1e-6  # so little that it decides between equal distances only
UNPAIRED = 1e9  # mm: dearer than any sum of distances
FEW = 4  # holes of a group whose every pairing is tried: sooner done than a solver is loaded


@dataclass(frozen=True)
class WantedHole:
    """A wanted hole: its number in the stage, from 1; where; and the table that wants it."""

    number: int
    at: tuple[float, float]
    table: Holes

    @property
    def diameter(self) -> float | None:
        return self.table.diameter

    def from_(self, hole: FoundHole) -> float:
        """Distance of a drilled hole from where this one is wanted, mm."""
        return float(np.hypot(self.at[0] - hole.at[0], self.at[1] - hole.at[1]))


@dataclass(frozen=True)
class Pairing:
    """Pairs, and what is left over on both sides, in the order of their numbers."""

    pairs: tuple[tuple[WantedHole, FoundHole], ...]
    missing: tuple[WantedHole, ...]
    extra: tuple[FoundHole, ...]


def holes_wanted(stage: Stage, job: Job) -> list[WantedHole]:
    """The holes that a stage wants, numbered in written order."""
    places = [(at, table) for table in stage.holes for at in hole_spots(table, job)]
    return [WantedHole(number, at, table) for number, (at, table) in enumerate(places, 1)]


def holes_meant(stage: Stage, found: Sequence[FoundHole]) -> tuple[FoundHole, ...]:
    """What a stage drills that is meant to be a hole: a facing's own descents and full turns are none, nor
    is in a stage that wants both what goes no deeper than its faces."""
    if not stage.face:
        return tuple(found)
    lowest = min(face_height(face, stage) - face.tolerance for face in stage.face)
    return tuple(hole for hole in found if stage.holes and hole.bottom < lowest)


def paired(wanted: Sequence[WantedHole], found: Sequence[FoundHole]) -> Pairing:
    """Which drilled hole is meant for which wanted one."""
    pairs = sorted(_pairs(wanted, found)) if wanted and found else []
    took, used = {w for w, _ in pairs}, {f for _, f in pairs}
    return Pairing(tuple((wanted[w], found[f]) for w, f in pairs),
                   tuple(each for number, each in enumerate(wanted) if number not in took),
                   tuple(each for number, each in enumerate(found) if number not in used))


def _pairs(wanted: Sequence[WantedHole], found: Sequence[FoundHole]) -> Iterator[tuple[int, int]]:
    """(wanted, found) numbers; what has no neighbour in common is paired on its own."""
    near = list(_neighbours(wanted, found))
    if not near:
        return
    edges = np.array(near)
    group = groups(len(wanted) + len(found), edges[:, 0], edges[:, 1] + len(wanted))[edges[:, 0]]
    for each in np.unique(group):
        yield from _best(edges[group == each], wanted, found)


def _neighbours(wanted: Sequence[WantedHole], found: Sequence[FoundHole]) -> Iterator[tuple[int, int]]:
    """Pairs that lie no farther apart than the wanted diameter (the drilled one's where none is given)."""
    sites = shapely.STRtree(shapely.points([hole.at for hole in found]))
    widest = max(hole.diameter for hole in found)
    for w, want in enumerate(wanted):
        reach = (want.diameter or widest) + 2e-9
        for f in sorted(sites.query(shapely.Point(want.at), "dwithin", reach).tolist()):
            if want.from_(found[f]) <= (want.diameter or found[f].diameter) + 1e-9:
                yield w, f


def _best(edges: np.ndarray, wanted: Sequence[WantedHole], found: Sequence[FoundHole]
          ) -> Iterator[tuple[int, int]]:
    """The pairs of one group of neighbours, by least total distance."""
    rows, columns = np.unique(edges[:, 0]), np.unique(edges[:, 1])
    cost = np.full((len(rows), len(columns)), UNPAIRED)
    for w, f in edges:
        unlike = abs((wanted[w].diameter or found[f].diameter) - found[f].diameter)
        place = np.searchsorted(rows, w), np.searchsorted(columns, f)
        cost[place] = wanted[w].from_(found[f]) + DIAMETER_WEIGHT * unlike
    if cost.size == 1:
        yield int(rows[0]), int(columns[0])
        return
    for i, j in _least(cost) if max(cost.shape) <= FEW else _solved(cost):
        if cost[i, j] < UNPAIRED:
            yield int(rows[i]), int(columns[j])


def _least(cost: np.ndarray) -> list[tuple[int, int]]:
    """The cheapest way to pair all rows or all columns of a small table: each is tried."""
    if cost.shape[0] > cost.shape[1]:
        return [(i, j) for j, i in _least(cost.T)]
    ways = (list(enumerate(way)) for way in permutations(range(cost.shape[1]), cost.shape[0]))
    return min(ways, key=lambda way: sum(cost[pair] for pair in way))


def _solved(cost: np.ndarray) -> Iterator[tuple[int, int]]:
    from scipy.optimize import linear_sum_assignment  # slow to load, and seldom needed

    return zip(*linear_sum_assignment(cost), strict=True)
