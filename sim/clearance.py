"""How near the cutter comes to every body over a stage: exact geometry of the swept cutter, never the map.

The law: every placed move with a known cutter takes part, feeds and rapids alike, each along all paths
that the control may choose. A gap is the least distance over a move; an overlap is negative: by
how much the move would have to be raised. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

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
from .paths import RapidPath
from .swarm import Bodies, Moves, Swarm, query, query_bed

if TYPE_CHECKING:
    from .evidence import Phase


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


def clearances(motion: Motion, cutters: NDArray[np.object_], phases: Sequence[Phase], *,
               rapid: RapidPath | None = None, counted: NDArray[np.bool_] | None = None,
               board_top: float = 0.0, earlier: Mapping[str, float] | None = None) -> Clearances:
    """Every body's approaches, phase by phase, and what is left over the heads.

    cutters (n,): the Cutter of each move or None · rapid: what the control does with rapids (straight when
    left out) · counted (n,): the moves that lower the virtual face (all feeds when left out) · earlier:
    `face` as the stages before left it. Raises CutterUnshaped for a cutter that lacks a measure.
    """
    moves = Moves(motion, cutters, rapid)
    closest: list[Approach] = []
    contacts: list[Approaches] = []
    for phase in phases:
        swarm = moves.swarm(np.flatnonzero(moves.usable[phase.first:phase.stop]) + phase.first)
        for found, near in (_of_solids(swarm, moves.shapes, phase), _of_bed(swarm, moves.shapes, phase)):
            closest += found
            contacts.append(near)
    counted = moves.usable & (motion.is_feed if counted is None else counted)
    over = cover_over(moves, phases, counted, board_top, earlier or {})
    return Clearances(tuple(closest), together(contacts), over.face, over.cover, over.lowered)


def _of_solids(swarm: Swarm, shapes: Bodies, phase: Phase) -> tuple[list[Approach], Approaches]:
    solids = phase.solids.tall
    limits = np.array([wanted(solid) - NOISE for solid in solids], float)
    found, under = query(swarm, shapes, table_of(solids), limits)
    met = np.flatnonzero(found[:, 1] >= 0)
    nearest = approaches(swarm, solids, met, found[met, 1], found[met, 0], found[met, 2])
    return one_each(nearest), worst_of_each(approaches(swarm, solids, *under.T))


def _of_bed(swarm: Swarm, shapes: Bodies, phase: Phase) -> tuple[list[Approach], Approaches]:
    bed = phase.solids.bed
    if bed is None or not len(swarm.paths):
        return [], Approaches()
    openings = [[*o.at, *o.half, o.radius, o.chamfer, o.depth] for o in bed.openings]
    found, under = query_bed(swarm, shapes, bed.top, np.array(openings, float).reshape(-1, 7), -STRIKE)
    nearest = approaches(swarm, (bed,), np.zeros(1), found[1:2], found[:1], found[2:])
    return list(nearest), worst_of_each(approaches(swarm, (bed,), np.zeros(len(under)), *under.T))
