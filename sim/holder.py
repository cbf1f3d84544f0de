"""What turns above the cutter: a shank wider than it, the nut, the spindle's nose; and how near they come.

The law: each is a disc at a height over the tip that fills everything above it, so all that holds for a
cutter's distances holds for it. A disc no wider than its cutter goes wherever the cutter has been. With a
spindle that leans, a disc is so much wider and lower that it holds all of the leaning part: an error is only
toward a warning. Where a measure is missing nothing is guessed. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter, Machine
from .approach import STRIKE, Approach, Approaches, approaches, one_each, table_of, worst_of_each
from .cutters import profile_of
from .swarm import Bodies, Moves, Swarm, query, query_bed
from .tram import slopes

if TYPE_CHECKING:
    from .evidence import Phase

Found = tuple[list[Approach], Approaches]


@dataclass(frozen=True, slots=True)
class Disc:
    """A round part over the cutter: its name, radius, and how high over the tip its lower face is."""

    part: str
    radius: float
    over: float


def discs_of(cutter: Cutter, machine: Machine) -> tuple[Disc, ...]:
    """The parts over a cutter that are wider than it, from below upward, as far as they are known; leaning as
    the spindle does."""
    radius, slope = profile_of(cutter).radius, hypot(*slopes(machine.tram))
    return tuple(leaning(disc, length, slope) for disc, length in _parts(cutter, machine)
                 if disc.radius > radius)


def _parts(cutter: Cutter, machine: Machine) -> Iterator[tuple[Disc, float]]:
    """Each part and its length upward."""
    if cutter.shank is not None and cutter.flute_length is not None:
        length = max(0.0, (cutter.stickout or 0.0) - cutter.flute_length)
        yield Disc("shank", cutter.shank / 2, cutter.flute_length), length
    if cutter.stickout is None:
        return
    height = cutter.stickout
    for number, part in enumerate(machine.nose or ()):
        yield Disc("spindle nose" if number else "nut", part.diameter / 2, height), part.length
        height += part.length


def leaning(disc: Disc, length: float, slope: float) -> Disc:
    """The upright disc that holds a part whose axis leans by `slope` (tangent) about the tip.

    Turned by that angle, a point of the part `up` along the axis and `aside` from it lies no farther from the
    upright axis than aside + up·sin, and no lower than up·cos - aside·sin.
    """
    if not slope:
        return disc
    sine, cosine = slope / hypot(1.0, slope), 1 / hypot(1.0, slope)
    return Disc(disc.part, disc.radius + (disc.over + length) * sine,
                disc.over * cosine - disc.radius * sine)


def holder_shape(cutter: Cutter, machine: Machine) -> tuple[NDArray[np.float64], float]:
    """The discs over a cutter as the kernels' pieces."""
    rows = [[disc.radius, disc.over, disc.radius, disc.over] for disc in discs_of(cutter, machine)]
    return np.array(rows, float).reshape(-1, 4), 0.0


class Holder:
    """All that is above the cutters of a stage, ready to be held against what stands."""

    def __init__(self, moves: Moves, cutters: NDArray[np.object_], machine: Machine) -> None:
        self.moves = moves
        self.shapes = Bodies.of_cutters(cutters, lambda cutter: holder_shape(cutter, machine))

    def swarm(self, cutters: Swarm) -> Swarm | None:
        """The discs on the cutters' paths; None where nothing is known of any."""
        if not len(self.shapes.first) > 1 or not len(cutters.paths):
            return None
        return self.moves.riding(cutters, self.shapes)

    def near(self, swarm: Swarm, phase: Phase) -> Found:
        """Each body's nearest move, and every strike."""
        solids = phase.solids.tall
        found, under = query(swarm, self.shapes, table_of(solids), np.full(len(solids), -STRIKE))
        met = np.flatnonzero(found[:, 1] >= 0)
        nearest = approaches(swarm, solids, met, found[met, 1], found[met, 0], found[met, 2])
        return one_each(nearest), worst_of_each(approaches(swarm, solids, *under.T))

    def near_bed(self, swarm: Swarm, phase: Phase) -> Found:
        bed = phase.solids.bed
        if bed is None or not len(swarm.paths):
            return [], Approaches()
        found, under = query_bed(swarm, self.shapes, bed.top, bed.table, -STRIKE)
        nearest = approaches(swarm, (bed,), np.zeros(1), found[1:2], found[:1], found[2:])
        return list(nearest), worst_of_each(approaches(swarm, (bed,), np.zeros(len(under)), *under.T))


def part_at(approach: Approach, cutter: Cutter, machine: Machine) -> Disc:
    """Which of the discs over a cutter comes nearest to a body, where the tip is at an approach."""
    x, y, z = approach.at
    body = approach.body
    away = 0.0 if approach.kind == "bed" else float(body.footprint.away(x, y))  # type: ignore[union-attr]

    def gap(disc: Disc) -> float:
        aside, over = away - disc.radius, z + disc.over - body.top
        if aside < 0:
            return over
        return float(np.hypot(aside, max(over, 0.0)))
    return min(discs_of(cutter, machine), key=gap)
