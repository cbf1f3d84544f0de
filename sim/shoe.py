"""The dust shoe: a rectangle about the spindle's axis, its hard part and its brushes apart.

The law: a rectangle meets a body where its reference point meets the body grown by the rectangle, so its
distances are those of a point, exact. A shoe that does not ride with Z stands as high as it does with the
tip at the stage's zero. One that rides on a leaning spindle is so much wider and lower that it holds the
leaning one: an error is only toward a warning. `v` is as everywhere: a gap, or negative: how much too low.
Millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import cos, hypot, sin
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter, Machine, Shoe
from .approach import STRIKE, Approaches, approaches, together, worst_of_each
from .paths import Paths
from .solids import ClampSolid, HeadSolid
from .swarm import Bodies, Moves, Swarm, bounded, numbered, query
from .tram import slopes

if TYPE_CHECKING:
    from .evidence import Phase

Floats = NDArray[np.float64]
Tall = HeadSolid | ClampSolid

HARD, BRUSHES = "dust shoe", "brushes"
TURNS = 64  # chords to a turn, where a body stands askew: within 1.2e-3 of the arc's radius
POINT = 1e-4  # mm: the reference point as the kernels want it, a disc; bodies are smaller by as much
STRAIGHT = 1e-9  # radians: a body turned by less stands square to the axes


@dataclass(frozen=True)
class Layer:
    """The shoe from one height on: its hard part, or its brushes. over: from the nut's lower face; slack:
    how far below a body's top it may be."""

    name: str
    over: float
    slack: float = 0.0


def layers_of(shoe: Shoe | None) -> tuple[Layer, ...]:
    """Hard part and brushes, as far as the job gives them."""
    if shoe is None:
        return ()
    hard = Layer(HARD, shoe.hard)
    return (hard,) if shoe.brush is None else (hard, Layer(BRUSHES, shoe.brush, shoe.bend))


def shoe_of(machine: Machine, cutters: NDArray[np.object_]) -> Shoe | None:
    """The shoe as it rides over some cutters: an upright one that holds it as it leans with the spindle.

    Turned about the tip by the angle of the lean, a place of it `up` along the axis and `aside` from it moves
    aside by no more than up·sin, and down by no more than aside·sin + up·(1 - cos).
    """
    shoe, slope = machine.shoe, hypot(*slopes(machine.tram))
    if shoe is None or not slope or not shoe.moves:
        return shoe
    over_nut = max(0.0, shoe.hard, sum(part.length for part in machine.nose or ()))
    highest = over_nut + max((cutter.stickout or 0.0 for cutter in numbered(cutters)[1]), default=0.0)
    sine, less = slope / hypot(1.0, slope), 1 - 1 / hypot(1.0, slope)
    aside = highest * sine
    down = hypot(*(max(map(abs, side)) for side in (shoe.x, shoe.y))) * sine + highest * less
    return replace(shoe, x=(shoe.x[0] - aside, shoe.x[1] + aside), y=(shoe.y[0] - aside, shoe.y[1] + aside),
                   hard=shoe.hard - down, brush=None if shoe.brush is None else shoe.brush - down)


def over_tip(cutter: Cutter | None, layer: Layer) -> float:
    """How high over the tip a layer begins, NaN where the cutter's stickout is not known."""
    return np.nan if cutter is None or cutter.stickout is None else cutter.stickout + layer.over


class ShoeRide:
    """One layer of the shoe on a stage's moves."""

    def __init__(self, moves: Moves, cutters: NDArray[np.object_], shoe: Shoe, layer: Layer, zero: float,
                 face: Callable[[HeadSolid], float]) -> None:
        self.moves, self.shoe, self.layer, self.zero, self.face = moves, shoe, layer, zero, face
        self.shapes = Bodies.of_cutters(cutters, lambda cutter: _point(over_tip(cutter, layer)))

    def swarm(self, cutters: Swarm) -> Swarm | None:
        """The shoe's reference point on the cutters' paths; None where no stickout is known."""
        if not len(self.shapes.first) > 1 or not len(cutters.paths):
            return None
        ridden = self.moves.riding(cutters, self.shapes)
        return ridden if self.shoe.moves else _levelled(ridden, self.shapes, self.zero)

    def contacts(self, swarm: Swarm, phase: Phase) -> Approaches:
        """Every move that brings the layer farther below a body's top than it may be."""
        bodies = [body for body in phase.solids.tall if not np.isinf(self.slack(body))]
        found = [self._square(swarm, [body for body in bodies if not askew(body)])]
        found += [self._askew(swarm, body) for body in bodies if askew(body)]
        return together(found)

    def slack(self, body: Tall) -> float:
        """How far below a body's top the layer may be: brushes bend, but not over a screw that stands out of
        the board; sunk screws they do not feel (inf)."""
        if self.layer.name != BRUSHES or not isinstance(body, HeadSolid):
            return self.layer.slack
        return 0.0 if body.nominal.top > self.face(body) else np.inf

    def _square(self, swarm: Swarm, bodies: Sequence[Tall]) -> Approaches:
        rows = np.array([summed(body, self.shoe) for body in bodies], float).reshape(-1, 8)
        limit = np.array([-self.slack(body) - STRIKE for body in bodies], float)
        return worst_of_each(approaches(swarm, bodies, *query(swarm, self.shapes, rows, limit)[1].T))

    def _askew(self, swarm: Swarm, body: Tall) -> Approaches:
        """A turned body and the rectangle make an eight-sided outline: that which lies in both its boxes."""
        boxes = np.array([summed(body, self.shoe), _turned(body, self.shoe)], float)
        under = query(swarm, self.shapes, boxes, np.full(2, -self.layer.slack - STRIKE))[1]
        both = np.intersect1d(under[under[:, 0] == 0, 1], under[under[:, 0] == 1, 1]).astype(np.int64)
        over = self.shapes.low[self.shapes.of[swarm.paths.row[both]]]
        z = None if self.shoe.moves else self.zero
        value, part = _within(swarm.paths, both, boxes, z)
        value = value + over - body.top
        some = value < -self.layer.slack - STRIKE
        which = np.zeros(int(some.sum()))
        return worst_of_each(approaches(swarm, (body,), which, both[some], value[some], part[some]))


def _point(height: float) -> tuple[Floats, float]:
    known = np.isfinite(height)
    return (np.array([[POINT, height, POINT, height]]) if known else np.empty((0, 4))), 0.0


def askew(body: Tall) -> bool:
    """Whether a body stands neither square to the axes nor round."""
    turn = body.footprint.turn
    return bool(any(body.footprint.half)) and min(abs(sin(turn)), abs(cos(turn))) > STRAIGHT


def summed(body: Tall, shoe: Shoe) -> list[float]:
    """The box along the axes that the shoe's axis may not enter, as the kernel takes it."""
    print_, (cx, cy), (sx, sy) = body.footprint, _middle(shoe), _half(shoe)
    c, s, (hx, hy) = abs(cos(print_.turn)), abs(sin(print_.turn)), print_.half
    half = (c * hx + s * hy + sx - POINT, s * hx + c * hy + sy - POINT)
    return [print_.at[0] - cx, print_.at[1] - cy, 1.0, 0.0, *half, print_.round, body.top]


def _turned(body: Tall, shoe: Shoe) -> list[float]:
    """The same along the body's own sides."""
    print_, (cx, cy), (sx, sy) = body.footprint, _middle(shoe), _half(shoe)
    c, s, (hx, hy) = cos(print_.turn), sin(print_.turn), print_.half
    half = (hx + abs(c) * sx + abs(s) * sy - POINT, hy + abs(s) * sx + abs(c) * sy - POINT)
    return [print_.at[0] - cx, print_.at[1] - cy, c, s, *half, print_.round, body.top]


def _middle(shoe: Shoe) -> tuple[float, float]:
    return sum(shoe.x) / 2, sum(shoe.y) / 2


def _half(shoe: Shoe) -> tuple[float, float]:
    return abs(shoe.x[1] - shoe.x[0]) / 2, abs(shoe.y[1] - shoe.y[0]) / 2


def _within(paths: Paths, chosen: NDArray[np.int64], boxes: Floats, level: float | None
            ) -> tuple[Floats, Floats]:
    """(k,) lowest z of the chosen paths inside all the boxes, inf where none is, and the part (0 to 1) there.

    Straight lines are clipped in closed form; arcs go in chords.
    """
    lowest, where = np.full(len(chosen), np.inf), np.zeros(len(chosen))
    turns = np.abs(paths.arcs[paths.arc[chosen], 6]).max(initial=0.0)
    steps = 1 + int(turns * TURNS / (2 * np.pi))
    for step in range(steps):
        u0, u1 = (np.full(len(chosen), (step + more) / steps) for more in (0, 1))
        a, b = paths.places(chosen, u0), paths.places(chosen, u1)
        first, last = np.zeros(len(chosen)), np.ones(len(chosen))
        for box in boxes:
            for first_, last_ in _spans(a[:, :2], b[:, :2], box):
                first, last = np.maximum(first, first_), np.minimum(last, last_)
        za, zb = (a[:, 2], b[:, 2]) if level is None else (np.full(len(a), level), np.full(len(a), level))
        t = np.where(zb < za, last, first)
        z = np.where(first < last - 1e-12, za + t * (zb - za), np.inf)
        z = np.where((first <= last) & (a[:, :2] == b[:, :2]).all(axis=1), np.minimum(za, zb), z)
        where = np.where(z < lowest, u0 + t * (u1 - u0), where)
        lowest = np.minimum(lowest, z)
    return lowest, where


def _spans(a: Floats, b: Floats, box: Floats) -> list[tuple[Floats, Floats]]:
    """For each direction of a box, the parts of the lines from a to b that lie between its two sides."""
    found = []
    for (ux, uy), half in (((box[2], box[3]), box[4]), ((-box[3], box[2]), box[5])):
        start = (a[:, 0] - box[0]) * ux + (a[:, 1] - box[1]) * uy
        way = (b[:, 0] - a[:, 0]) * ux + (b[:, 1] - a[:, 1]) * uy
        still = np.abs(way) < 1e-12
        inside = np.abs(start) < half
        safe = np.where(still, 1.0, way)
        t = np.sort(np.stack(((-half - start) / safe, (half - start) / safe)), axis=0)
        found.append((np.where(still, np.where(inside, 0.0, 2.0), t[0]),
                      np.where(still, np.where(inside, 1.0, -1.0), t[1])))
    return found


def _levelled(swarm: Swarm, shapes: Bodies, z: float) -> Swarm:
    """The same paths all at one height; an arc that stands upright runs straight along its shadow."""
    table, boxes = swarm.table.copy(), swarm.boxes.copy()
    upright = (swarm.paths.arcs[swarm.paths.arc, 0] != 17)[swarm.order] & (swarm.arc > 0)
    shadow = swarm.paths.box[swarm.order]
    table[upright, :3], table[upright, 3:] = shadow[upright, 0], shadow[upright, 1]
    table[:, [2, 5]] = z
    boxes[:, 4] = z + shapes.low[swarm.cutter]
    leaves = bounded(boxes)
    arc = np.where(upright, 0, swarm.arc).astype(np.int32)
    return replace(swarm, table=table, boxes=boxes, leaves=leaves, nodes=bounded(leaves), arc=arc)
