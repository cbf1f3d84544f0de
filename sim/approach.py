"""An approach: how near one move comes to one body; and many of them as columns.

The law: a gap is the least distance over the move; an overlap is negative: by how much the move would have
to be raised. `at` is the tip at that place. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import cos, sin
from typing import overload

import numpy as np
from numpy.typing import NDArray

from .paths import Branch
from .solids import BedSolid, ClampSolid, HeadSolid, ObstacleSolid
from .swarm import Swarm

Floats = NDArray[np.float64]
Solid = HeadSolid | ClampSolid | BedSolid

KINDS = {HeadSolid: "head", ClampSolid: "clamp", ObstacleSolid: "obstacle", BedSolid: "bed"}
STRIKE = 1e-6  # mm: an overlap beyond this is a strike
NOISE = 1e-6  # mm: a gap this little under its limit is at its limit


@dataclass(frozen=True, slots=True)
class Approach:
    """How near one move comes to one body. `kind` is "head", "clamp", "obstacle" or "bed"; `gap` negative:
    an overlap; `at` the tip there; `branch` which of a rapid's paths it is; `body` the very body."""

    about: str
    kind: str
    move: int
    gap: float
    at: tuple[float, float, float]
    branch: Branch
    body: Solid

    @property
    def strikes(self) -> bool:
        return self.gap < -STRIKE


@dataclass(frozen=True)
class Approaches(Sequence[Approach]):
    """k approaches as columns: which (k,) of `bodies`, move, gap, branch (k,), at (k, 3)."""

    bodies: tuple[Solid, ...] = ()
    which: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    move: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    gap: Floats = field(default_factory=lambda: np.empty(0))
    branch: NDArray[np.uint8] = field(default_factory=lambda: np.empty(0, np.uint8))
    at: Floats = field(default_factory=lambda: np.empty((0, 3)))

    def __len__(self) -> int:
        return len(self.move)

    @overload
    def __getitem__(self, index: int) -> Approach: ...
    @overload
    def __getitem__(self, index: slice) -> Approaches: ...
    def __getitem__(self, index: int | slice) -> Approach | Approaches:
        if isinstance(index, slice):
            return self.taken(np.arange(len(self))[index])
        body = self.bodies[self.which[index]]
        x, y, z = self.at[index].tolist()
        return Approach(body.about, kind_of(body), int(self.move[index]), float(self.gap[index]), (x, y, z),
                        Branch(int(self.branch[index])), body)

    def taken(self, rows: NDArray) -> Approaches:
        """The chosen ones, in that order."""
        return replace(self, which=self.which[rows], move=self.move[rows], gap=self.gap[rows],
                       branch=self.branch[rows], at=self.at[rows])


def kind_of(body: Solid) -> str:
    """head, clamp, obstacle or bed."""
    return KINDS[type(body)]


def wanted(body: Solid) -> float:
    """Under which gap a body is worth saying: 0 for the bed, which only strikes."""
    if isinstance(body, BedSolid):
        return 0.0
    return max(body.near, body.beside) if isinstance(body, ClampSolid) else body.near


def table_of(solids: Sequence[HeadSolid | ClampSolid]) -> Floats:
    """(q, 8) bodies as the kernel takes them."""
    prints = [(s.footprint, s.top) for s in solids]
    rows = [[*p.at, cos(p.turn), sin(p.turn), *p.half, p.round, top] for p, top in prints]
    return np.array(rows, float).reshape(-1, 8)


def approaches(swarm: Swarm, bodies: Sequence[Solid], which: NDArray, found: NDArray, gap: Floats,
               part: Floats) -> Approaches:
    """What the kernels found, as approaches of moves."""
    paths, path = swarm.paths, found.astype(np.int64)
    at = paths.places(path, part)
    return Approaches(tuple(bodies), which.astype(np.int64), paths.row[path], gap, paths.branch[path], at)


def one_each(nearest: Approaches) -> list[Approach]:
    """A body of several parts (a head on its washer) counts once, where it is met worst."""
    best: dict[tuple[str, str], Approach] = {}
    for approach in nearest:
        key = (approach.kind, approach.about)
        if key not in best or approach.gap < best[key].gap:
            best[key] = approach
    return list(best.values())


def worst_of_each(contacts: Approaches) -> Approaches:
    """By body, then in program order; of the paths of one move the worst."""
    order = np.lexsort((contacts.gap, contacts.move, contacts.which))
    which, move = contacts.which[order], contacts.move[order]
    first = np.ones(len(order), bool)
    first[1:] = (np.diff(which) != 0) | (np.diff(move) != 0)
    return contacts.taken(order[first])


def together(contacts: Sequence[Approaches]) -> Approaches:
    """All phases' contacts in one table."""
    bodies: list[Solid] = []
    which = []
    for some in contacts:
        which.append(some.which + len(bodies))
        bodies += some.bodies
    if not contacts:
        return Approaches()
    names = ("move", "gap", "branch", "at")
    columns = [np.concatenate([getattr(some, name) for some in contacts]) for name in names]
    return Approaches(tuple(bodies), np.concatenate(which), *columns)
