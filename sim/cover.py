"""What is left over the heads: the virtual face, lowered by every sweep that passes over a head.

The law: the virtual face is the board's top as if no recess or hole were there; over a head it is the
lowest that any part of its disc has been swept to, exact from the moves. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Motion
from .approach import Approach, approaches, table_of
from .lean import query
from .solids import HeadSolid
from .swarm import Moves
from .tram import SQUARE, Tilt

if TYPE_CHECKING:
    from .evidence import Phase

Floats = NDArray[np.float64]
Disc = tuple[tuple[float, float], float]  # place, radius


@dataclass(frozen=True)
class Cover:
    """By each head's `about`: face, Z of the virtual face · cover, that less the head's top · lowered, the
    move that brought the face there in this stage (its gap is the cover it left), where one did."""

    face: Mapping[str, float]
    cover: Mapping[str, float]
    lowered: Mapping[str, Approach]


def cover_over(moves: Moves, phases: Sequence[Phase], counted: NDArray[np.bool_], board_top: float,
               earlier: Mapping[str, float]) -> Cover:
    """The cover over every head that stands during a stage. counted (n,): the moves that sweep."""
    face: dict[str, float] = {}
    cover: dict[str, float] = {}
    lowered: dict[str, Approach] = {}
    for head, swept in _swept(moves, phases, counted):
        before = earlier.get(head.about, board_top)
        here = min(before, swept.gap + head.top) if swept else before
        if swept and here < face.get(head.about, inf) and swept.gap + head.top <= before:
            lowered[head.about] = swept
        face[head.about] = min(here, face.get(head.about, inf))
        cover[head.about] = min(here - head.top, cover.get(head.about, inf))
    return Cover(face, cover, lowered)


def lowest_over(motion: Motion, cutters: NDArray[np.object_], discs: Sequence[Disc],
                counted: NDArray[np.bool_], tilt: Tilt = SQUARE) -> Floats:
    """(q,) lowest Z that the counted moves sweep over each disc (place, radius) in plan; inf where none
    passes: with it the virtual face over heads that are fitted in a later stage is known."""
    moves = Moves(motion, cutters, tilt=tilt)
    bodies = [[x, y, 1.0, 0.0, 0.0, 0.0, radius, 0.0] for (x, y), radius in discs]
    swarm, table = moves.swarm(np.flatnonzero(moves.usable & counted)), np.array(bodies, float).reshape(-1, 8)
    return query(swarm, moves.shapes, table, np.full(len(table), -inf), cover=True)[0][:, 0]


def _swept(moves: Moves, phases: Sequence[Phase],
           counted: NDArray[np.bool_]) -> Iterator[tuple[HeadSolid, Approach | None]]:
    """Every head of a stage with the counted move that sweeps lowest over it until the last phase in which
    it stands; the gap is what it leaves over the head's top."""
    stands: dict[HeadSolid, int] = {}
    for phase in phases:
        stands.update({head: phase.stop for head in phase.solids.heads if head.part == "head"})
    for stop in sorted(set(stands.values())):
        heads = [head for head, until in stands.items() if until == stop]
        swarm = moves.swarm(np.flatnonzero(counted[:stop]))
        found, _ = query(swarm, moves.shapes, table_of(heads), np.full(len(heads), -inf), cover=True)
        some = found[:, 1] >= 0
        met = approaches(swarm, heads, np.flatnonzero(some), found[some, 1], found[some, 0], found[some, 2])
        by = dict(zip(np.flatnonzero(some).tolist(), met, strict=True))
        yield from ((head, by.get(number)) for number, head in enumerate(heads))
