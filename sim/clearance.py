"""How near the cutter comes to every body over a stage: exact geometry of the swept cutter, never the map.

The law: every placed move with a known cutter takes part, feeds and rapids alike, each along all paths
that the control may choose. A gap is the least distance over a move; an overlap is negative: by
how much the move would have to be raised. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import hypot
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Machine
from ..parser.motion import Motion
from .approach import (
    NOISE,
    STRIKE,
    Approach,
    Approaches,
    approaches,
    one_each,
    table_of,
    together,
    wanted,
    worst_of_each,
)
from .cover import cover_over
from .holder import Holder
from .lean import query
from .openings import freed
from .paths import RapidPath
from .shoe import BRUSHES, HARD, ShoeRide, layers_of, shoe_of
from .slack import Slack, slack_of
from .solids import HeadSolid
from .swarm import Bodies, Moves, Swarm, query_bed
from .tram import SQUARE, Tilt

if TYPE_CHECKING:
    from .evidence import Phase


@dataclass(frozen=True)
class Above:
    """What rides above the cutter: each body's nearest move of shank, nut and nose, and every strike of
    them, of the dust shoe's hard part, and of its brushes where they are bent more than they may be."""

    closest: tuple[Approach, ...] = ()
    contacts: Approaches = field(default_factory=Approaches)
    shoe: Approaches = field(default_factory=Approaches)
    brushes: Approaches = field(default_factory=Approaches)


@dataclass(frozen=True)
class Clearances:
    """A stage's approaches.

    closest: for each body (a head and its washer are one) and phase the nearest move · contacts: every
    move nearer to a body than its own limit, overlaps among them, by phase and body, then in program order
    · above: the same of what rides above the cutter · slack: how far the program may be off · face: by each
    head's `about`, Z of the virtual face over it after the stage · cover: that less the
    head's top · lowered: the move that lowered the virtual face over a head most, where one did; its gap is
    what it left.
    """

    closest: tuple[Approach, ...] = ()
    contacts: Approaches = field(default_factory=Approaches)
    above: Above = field(default_factory=Above)
    slack: Slack = field(default_factory=Slack)
    face: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    cover: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    lowered: Mapping[str, Approach] = field(default_factory=lambda: MappingProxyType({}))


def clearances(motion: Motion, cutters: NDArray[np.object_], phases: Sequence[Phase], *,
               rapid: RapidPath | None = None, counted: NDArray[np.bool_] | None = None,
               board_top: float = 0.0, earlier: Mapping[str, float] | None = None,
               machine: Machine | None = None, zero: float = 0.0, tilt: Tilt = SQUARE) -> Clearances:
    """Every body's approaches, phase by phase, and what is left over the heads.

    cutters (n,): the Cutter of each move or None · rapid: what the control does with rapids (straight when
    left out) · counted (n,): the moves that lower the virtual face (all feeds when left out) · earlier:
    `face` as the stages before left it · machine: for what rides above the cutter · zero: Z of the stage's
    zero · tilt: slopes of the spindle's plane. Raises CutterUnshaped for a cutter that lacks a measure.
    """
    moves = Moves(motion, cutters, rapid, tilt)
    closest: list[Approach] = []
    contacts: list[Approaches] = []
    faces = earlier or {}
    riders = Riders(moves, cutters, machine or Machine(), zero,
                    lambda head: min(faces.get(head.about, board_top), board_top))
    for phase in phases:
        swarm = moves.swarm(np.flatnonzero(moves.usable[phase.first:phase.stop]) + phase.first)
        used = cutters if tilt == SQUARE else None
        phase = over_leaning_bed(phase, swarm, moves.shapes)
        for found, near in (_of_solids(swarm, moves.shapes, phase), _of_bed(moves, swarm, phase, used)):
            closest += found
            contacts.append(near)
        riders.hold_against(swarm, phase)
        riders.slack = riders.slack.and_(slack_of(swarm, moves.shapes, phase, openings=True))
    counted = moves.usable & (motion.is_feed if counted is None else counted)
    over = cover_over(moves, phases, counted, board_top, faces)
    return Clearances(tuple(closest), together(contacts), riders.found(), riders.slack, over.face, over.cover,
                      over.lowered)


class Riders:
    """What rides above the cutter, held against one phase after the other."""

    def __init__(self, moves: Moves, cutters: NDArray[np.object_], machine: Machine, zero: float,
                 face: Callable[[HeadSolid], float]) -> None:
        self.holder = Holder(moves, cutters, machine)
        shoe = shoe_of(machine, cutters)
        self.layers = [ShoeRide(moves, cutters, shoe, layer, zero, face)
                       for layer in layers_of(shoe) if shoe is not None]
        self.closest: list[Approach] = []
        self.contacts: list[Approaches] = []
        self.slack = Slack()
        self.shoe: dict[str, list[Approaches]] = {ride.layer.name: [] for ride in self.layers}

    def hold_against(self, swarm: Swarm, phase: Phase) -> None:
        discs = self.holder.swarm(swarm)
        if discs is not None:
            for found, struck in (self.holder.near(discs, phase), self.holder.near_bed(discs, phase)):
                self.closest += found
                self.contacts.append(struck)
            self.slack = self.slack.and_(slack_of(discs, self.holder.shapes, phase, openings=False))
        for ride in self.layers:
            ridden = ride.swarm(swarm)
            if ridden is not None:
                self.shoe[ride.layer.name].append(ride.contacts(ridden, phase))

    def found(self) -> Above:
        hard, brushes = (together(self.shoe.get(name, [])) for name in (HARD, BRUSHES))
        return Above(tuple(self.closest), together(self.contacts), hard, brushes)


def _of_solids(swarm: Swarm, shapes: Bodies, phase: Phase) -> tuple[list[Approach], Approaches]:
    solids = phase.solids.tall
    limits = np.array([wanted(solid) - NOISE for solid in solids], float)
    found, under = query(swarm, shapes, table_of(solids), limits)
    met = np.flatnonzero(found[:, 1] >= 0)
    nearest = approaches(swarm, solids, met, found[met, 1], found[met, 0], found[met, 2])
    return one_each(nearest), worst_of_each(approaches(swarm, solids, *under.T))


def over_leaning_bed(phase: Phase, swarm: Swarm, shapes: Bodies) -> Phase:
    """The same with a bed that an upright cutter meets wherever the leaning one can: as much higher as a lean
    lowers a cutter at most, its openings as much narrower as a lean pushes it aside at the bed's face."""
    bed, slope = phase.solids.bed, hypot(*shapes.tilt)
    if bed is None or not slope or not len(swarm.paths):
        return phase
    down, aside = shapes.sway()[0], max(0.0, bed.top - float(swarm.paths.box[:, 0, 2].min())) * slope
    openings = tuple(replace(o, half=(o.half[0] - aside, o.half[1] - aside),
                             radius=o.radius and o.radius - aside)
                     for o in bed.openings if min(o.half) > aside)
    return replace(phase, solids=replace(phase.solids, bed=replace(bed, top=bed.top + down,
                                                                   openings=openings)))


def _of_bed(moves: Moves, swarm: Swarm, phase: Phase, cutters: NDArray[np.object_] | None
            ) -> tuple[list[Approach], Approaches]:
    """What comes near the bed; with an upright spindle (then `cutters`) openings that touch are one."""
    bed = phase.solids.bed
    if bed is None or not len(swarm.paths):
        return [], Approaches()
    found, under = query_bed(swarm, moves.shapes, bed.top, bed.table, -STRIKE)
    if cutters is not None and len(under):
        free = freed(bed, swarm.paths, under, cutters)
        if free.any():
            rows = np.setdiff1d(swarm.paths.row, swarm.paths.row[under[free, 0].astype(np.int64)])
            return _of_bed(moves, moves.swarm(rows), phase, None)
    nearest = approaches(swarm, (bed,), np.zeros(1), found[1:2], found[:1], found[2:])
    return list(nearest), worst_of_each(approaches(swarm, (bed,), np.zeros(len(under)), *under.T))
