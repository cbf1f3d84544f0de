"""How near the cutter comes to every body over a stage: exact geometry of the swept cutter, never the map.

The law: every placed move with a known cutter takes part, feeds and rapids alike, each along all paths
that the control may choose. A gap is the least distance over a move; an overlap is negative: by
how much the move would have to be raised. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import cos, inf, sin
from types import MappingProxyType
from typing import TYPE_CHECKING, overload

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Motion
from .kernels.distance import closest_bed, closest_solids
from .paths import Branch, RapidPath, paths_of
from .solids import BedSolid, ClampSolid, HeadSolid
from .swarm import WIDTH, Bodies, Swarm

if TYPE_CHECKING:
    from .evidence import Phase

Floats = NDArray[np.float64]
Solid = HeadSolid | ClampSolid | BedSolid

STRIKE = 1e-6  # mm: an overlap beyond this is a strike
NOISE = 1e-6  # mm: a gap this little under its limit is at its limit


@dataclass(frozen=True, slots=True)
class Approach:
    """How near one move comes to one body. `kind` is "head", "clamp" or "bed"; `gap` negative: an
    overlap; `at` the tip there; `branch` which of a rapid's paths it is; `body` the very body."""

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


@dataclass(frozen=True)
class Clearances:
    """A stage's approaches.

    closest: for each body (a head and its washer are one) and phase the nearest move · contacts: every
    move nearer to a body than its own limit, overlaps among them, by phase and body, then in program order
    · face: by each head's `about`, Z of the virtual face over it after the stage · cover: that less the
    head's top · lowered: the move that lowered the virtual face over a head most, where one did; its gap is
    what it left.
    """

    closest: tuple[Approach, ...] = ()
    contacts: Approaches = field(default_factory=Approaches)
    face: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    cover: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    lowered: Mapping[str, Approach] = field(default_factory=lambda: MappingProxyType({}))


def kind_of(body: Solid) -> str:
    """head, clamp or bed."""
    return {HeadSolid: "head", ClampSolid: "clamp", BedSolid: "bed"}[type(body)]


def clearances(motion: Motion, cutters: NDArray[np.object_], phases: Sequence[Phase], *,
               rapid: RapidPath | None = None, counted: NDArray[np.bool_] | None = None,
               board_top: float = 0.0, earlier: Mapping[str, float] | None = None) -> Clearances:
    """Every body's approaches, phase by phase, and what is left over the heads.

    cutters (n,): the Cutter of each move or None · rapid: what the control does with rapids (straight when
    left out) · counted (n,): the moves that lower the virtual face (all feeds when left out) · earlier:
    `face` as the stages before left it. Raises CutterUnshaped for a cutter that lacks a measure.
    """
    shapes = Bodies.of_cutters(cutters)
    usable = motion.placed & (shapes.of >= 0)
    boxes = motion.boxes()
    closest: list[Approach] = []
    contacts: list[Approaches] = []
    for phase in phases:
        rows = np.flatnonzero(usable[phase.first:phase.stop]) + phase.first
        swarm = Swarm.of_moves(motion, rows, shapes, rapid, boxes)
        for found, near in (_of_solids(swarm, shapes, phase), _of_bed(swarm, shapes, phase)):
            closest += found
            contacts.append(near)
    face, lowered = dict(earlier or {}), {}
    counted = usable & (motion.is_feed if counted is None else counted)
    tops: dict[str, float] = {}
    for swept in _swept(motion, shapes, phases, counted, boxes):
        about, top = swept.about, float(swept.body.top)
        before = min(face.get(about, inf), board_top)
        face[about], tops[about] = min(before, swept.gap + top), max(top, tops.get(about, -inf))
        if swept.gap + top <= before:
            lowered[about] = swept
    cover = {about: face[about] - top for about, top in tops.items()}
    face = {about: face[about] for about in tops}
    return Clearances(tuple(closest), _together(contacts), *(MappingProxyType(m) for m in (face, cover, lowered)))


def lowest_over(motion: Motion, cutters: NDArray[np.object_], discs: Sequence[tuple[tuple[float, float], float]],
                counted: NDArray[np.bool_]) -> Floats:
    """(q,) lowest Z that the counted moves sweep over each disc (place, radius) in plan; inf where none
    passes: with it the virtual face over heads that are fitted in a later stage is known."""
    shapes = Bodies.of_cutters(cutters)
    rows = np.flatnonzero(motion.placed & (shapes.of >= 0) & counted)
    table = np.array([[x, y, 1.0, 0.0, 0.0, 0.0, radius, 0.0] for (x, y), radius in discs]).reshape(-1, 8)
    return _query(Swarm.of_moves(motion, rows, shapes), shapes, table, np.full(len(table), -inf), True)[0][:, 0]


def _swept(motion: Motion, shapes: Bodies, phases: Sequence[Phase], counted: NDArray[np.bool_],
           boxes: Floats) -> Iterator[Approach]:
    """For every head of a stage the counted move that sweeps lowest over it until the last phase in which
    it stands; its gap is what it leaves over the head's top (inf where none passes)."""
    stands: dict[HeadSolid, int] = {}
    for phase in phases:
        stands.update({head: phase.stop for head in phase.solids.heads if head.part == "head"})
    for stop in sorted(set(stands.values())):
        heads = [head for head, until in stands.items() if until == stop]
        swarm = Swarm.of_moves(motion, np.flatnonzero(counted[:stop]), shapes, boxes=boxes)
        found, _ = _query(swarm, shapes, _table(heads), np.full(len(heads), -inf), True)
        for head, (over, path, part) in zip(heads, found, strict=True):
            yield _sweep_over(swarm, head, float(over), int(path), float(part))


def _sweep_over(swarm: Swarm, head: HeadSolid, over: float, path: int, part: float) -> Approach:
    if path < 0:
        return Approach(head.about, "head", -1, inf, (inf, inf, inf), Branch.WRITTEN, head)
    return _approaches(swarm, (head,), np.zeros(1, np.int64), np.array([path]), np.array([over]),
                       np.array([part]))[0]


def _query(swarm: Swarm, shapes: Bodies, table: Floats, near: Floats, cover: bool) -> tuple[Floats, Floats]:
    return closest_solids(swarm.table, swarm.paths.arc, swarm.paths.arcs, swarm.cutter, shapes.first, shapes.pieces,
                          shapes.rounds, swarm.boxes, swarm.leaves, swarm.nodes, WIDTH, table, near, cover)


def _table(solids: Sequence[HeadSolid | ClampSolid]) -> Floats:
    """(q, 8) bodies as the kernel takes them."""
    prints = [(s.footprint, s.top) for s in solids]
    return np.array([[*p.at, cos(p.turn), sin(p.turn), *p.half, p.round, top] for p, top in prints]).reshape(-1, 8)


def wanted(body: Solid) -> float:
    """Under which gap a body is worth saying: 0 for the bed, which only strikes."""
    if isinstance(body, BedSolid):
        return 0.0
    return max(body.near, body.beside) if isinstance(body, ClampSolid) else body.near


def _of_solids(swarm: Swarm, shapes: Bodies, phase: Phase) -> tuple[list[Approach], Approaches]:
    solids = (*phase.solids.heads, *phase.solids.clamps)
    limits = np.array([wanted(solid) - NOISE for solid in solids])
    found, under = _query(swarm, shapes, _table(solids), limits, False)
    met = np.flatnonzero(found[:, 1] >= 0)
    nearest = _approaches(swarm, solids, met, found[met, 1].astype(np.int64), found[met, 0], found[met, 2])
    contacts = _approaches(swarm, solids, under[:, 0].astype(np.int64), under[:, 1].astype(np.int64), under[:, 2],
                           under[:, 3])
    return _one_each(nearest), _worst_of_each(contacts)


def _of_bed(swarm: Swarm, shapes: Bodies, phase: Phase) -> tuple[list[Approach], Approaches]:
    bed = phase.solids.bed
    if bed is None or not len(swarm.paths):
        return [], Approaches()
    rows = sorted([*o.at, *o.half, o.radius, o.chamfer, o.depth] for o in bed.openings)
    found, under = closest_bed(swarm.table, swarm.paths.arc, swarm.paths.arcs, swarm.cutter, shapes.first,
                               shapes.pieces, shapes.rounds, shapes.reach, swarm.boxes, bed.top,
                               np.array(rows, float).reshape(-1, 7), -STRIKE)
    ones = np.zeros(len(under), np.int64)
    contacts = _approaches(swarm, (bed,), ones, under[:, 0].astype(np.int64), under[:, 1], under[:, 2])
    nearest = _approaches(swarm, (bed,), ones[:1] if len(ones) else np.zeros(1, np.int64),
                          found[1:2].astype(np.int64), found[:1], found[2:])
    return list(nearest), _worst_of_each(contacts)


def _approaches(swarm: Swarm, bodies: Sequence[Solid], which: NDArray, path: NDArray, gap: Floats,
                part: Floats) -> Approaches:
    paths = swarm.paths
    at = paths.places(path, part)
    return Approaches(tuple(bodies), which, paths.row[path], gap, paths.branch[path], at)


def _one_each(nearest: Approaches) -> list[Approach]:
    """A body of several parts (a head on its washer) counts once, where it is met worst."""
    best: dict[tuple[str, str], Approach] = {}
    for approach in nearest:
        key = (approach.kind, approach.about)
        if key not in best or approach.gap < best[key].gap:
            best[key] = approach
    return list(best.values())


def _worst_of_each(contacts: Approaches) -> Approaches:
    """By body, then in program order; of the paths of one move the worst."""
    order = np.lexsort((contacts.gap, contacts.move, contacts.which))
    which, move = contacts.which[order], contacts.move[order]
    first = np.ones(len(order), bool)
    first[1:] = (np.diff(which) != 0) | (np.diff(move) != 0)
    return contacts.taken(order[first])


def _together(contacts: Sequence[Approaches]) -> Approaches:
    """All phases' contacts in one table."""
    bodies: list[Solid] = []
    which = []
    for some in contacts:
        which.append(some.which + len(bodies))
        bodies += some.bodies
    columns = [np.concatenate([getattr(c, name) for c in contacts]) for name in ("move", "gap", "branch", "at")] \
        if contacts else []
    return Approaches(tuple(bodies), np.concatenate(which), *columns) if contacts else Approaches()
