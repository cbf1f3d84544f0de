"""Cutters and paths as the distance kernels take them: arrays, sorted by place, with bounds over bounds.

The law: nothing here decides anything; a bound lies on the near side of all that it stands for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Motion
from .cutters import Profile, profile_of
from .kernels.distance import STACK, closest_bed, closest_solids
from .paths import Paths, RapidPath, paths_of
from .tram import SQUARE, Tilt

Floats = NDArray[np.float64]

Shape = tuple[Floats, float]  # pieces (k, 4) and the radius of their rounded rim

WIDTH = 32  # paths to a leaf, leaves to a node
MORE = 1024  # rows of room for what is found under a limit, beyond those that one body may take


@dataclass(frozen=True)
class Bodies:
    """What rides with the moves, as the kernels take it: `of` (n,) the shape of each move (-1: none known),
    and for each shape its pieces[first[k]:first[k+1]], the radius of its rim, its reach, and how high over
    the tip it begins. `tilt`: the slopes of the spindle's plane; `lift`: how far that raises each axis."""

    of: NDArray[np.int32]
    first: NDArray[np.int32]
    pieces: Floats
    rounds: Floats
    reach: Floats
    low: Floats
    tilt: Tilt = SQUARE
    lift: Floats = field(default_factory=lambda: np.empty(0))

    @staticmethod
    def of_cutters(cutters: NDArray[np.object_], shape: Callable[[Cutter], Shape] | None = None,
                   tilt: Tilt = SQUARE) -> Bodies:
        """The cutters themselves, leaning, or the `shape` over each (no pieces: none), upright. Raises
        CutterUnshaped where a cutter lacks a measure."""
        of, kinds = numbered(cutters)
        shapes = [(shape or cutter_edges)(cutter) for cutter in kinds]
        known = np.array([len(edges) > 0 for edges, _ in shapes] + [False])  # -1, none known, is the last
        number = np.where(known, np.cumsum(known) - 1, -1).astype(np.int32)
        shapes = [each for each in shapes if len(each[0])]
        first = np.concatenate(([0], np.cumsum([len(edges) for edges, _ in shapes]))).astype(np.int32)
        pieces = np.concatenate([edges for edges, _ in shapes]) if shapes else np.empty((0, 4))
        reach = [float(edges[:, 2].max()) + rim for edges, rim in shapes]
        low = [float(edges[:, [1, 3]].min()) for edges, _ in shapes]
        lift = [] if shape else [profile_of(cutter).lift(hypot(*tilt)) for cutter in kinds]
        return Bodies(number[of], first, pieces, np.array([rim for _, rim in shapes], float),
                      np.array(reach, float), np.array(low, float), tilt, np.array(lift, float))

    def sway(self) -> tuple[float, float]:
        """How far a lean lowers a cutter at most anywhere, and raises it."""
        slope = hypot(*self.tilt) * self.reach
        return float(np.max(slope - self.lift, initial=0.0)), float(np.max(slope + self.lift, initial=0.0))


def cutter_edges(cutter: Cutter) -> Shape:
    """A cutter's own lower surface."""
    return edges_of(profile_of(cutter))


def numbered(cutters: NDArray[np.object_]) -> tuple[NDArray[np.int32], list[Cutter]]:
    """(n,) the number of each move's cutter among the different ones (-1 for None), and those."""
    marks = np.fromiter(map(id, cutters), np.int64, len(cutters))
    _, where, of = np.unique(marks, return_index=True, return_inverse=True)
    kinds: list[Cutter | None] = cutters[where].tolist()
    number = np.cumsum([cutter is not None for cutter in kinds]) - 1
    number = np.array([n if c is not None else -1 for n, c in zip(number, kinds, strict=True)], np.int32)
    return number[of], [cutter for cutter in kinds if cutter is not None]


def edges_of(profile: Profile) -> tuple[Floats, float]:
    """(k, 4) pieces of a full cutter's lower surface (from radius, height; to radius, height), each with
    all that lies within and above it, and the radius of its rounded rim."""
    if profile.rings:
        return np.array([_ring(*ring) for ring in profile.rings]), 0.0
    flat, radius = profile.flat_radius, profile.radius
    if profile.slope:
        return np.array([[flat, 0.0, radius, profile.slope * (radius - flat)]]), 0.0
    return np.array([[flat, 0.0, flat, 0.0]]), profile.corner


def _ring(r0: float, r1: float, h0: float, h1: float) -> list[float]:
    """A ring that falls outward is led by its outer edge alone, an upright one by its lower edge."""
    return [r0, h0, r1, h1] if h1 >= h0 and r1 > r0 else [r1, min(h0, h1), r1, min(h0, h1)]


@dataclass(frozen=True)
class Swarm:
    """Paths, and the same sorted by place (the number of each in `order`) with bounds over ever more."""

    paths: Paths
    order: NDArray[np.intp]
    arc: NDArray[np.int32]
    cutter: NDArray[np.int32]
    table: Floats
    boxes: Floats
    leaves: Floats
    nodes: Floats

    @staticmethod
    def of_moves(motion: Motion, rows: NDArray, shapes: Bodies, rapid: RapidPath | None = None,
                 boxes: Floats | None = None) -> Swarm:
        """The paths of placed rows whose cutters are known; `boxes` as for `paths_of`."""
        return Swarm.of_paths(paths_of(motion, rows, rapid, boxes), shapes)

    @staticmethod
    def of_paths(paths: Paths, shapes: Bodies) -> Swarm:
        """The same of paths that are there."""
        cutter = shapes.of[paths.row]
        order = np.argsort(along_curve(paths.box.sum(axis=1)[:, :2]), kind="stable")
        boxes = grown_boxes(paths, shapes, cutter)[order]
        leaves = bounded(boxes)
        table = np.column_stack((paths.start, paths.end))[order]
        return Swarm(paths, order, paths.arc[order], cutter[order], table, boxes, leaves, bounded(leaves))

    def regrown(self, shapes: Bodies) -> Swarm:
        """The same paths with other shapes on them, known for every one of them."""
        cutter = shapes.of[self.paths.row]
        boxes = grown_boxes(self.paths, shapes, cutter)[self.order]
        leaves = bounded(boxes)
        return replace(self, cutter=cutter[self.order], boxes=boxes, leaves=leaves, nodes=bounded(leaves))

    def numbered(self, found: Floats, column: int) -> Floats:
        """What a kernel found, with the paths' own numbers in a column (-1 stays)."""
        met = found[:, column] >= 0
        found[met, column] = self.order[found[met, column].astype(np.int64)]
        return found


class Moves:
    """A stage's moves made ready: the same rows asked for again are the same swarm."""

    def __init__(self, motion: Motion, cutters: NDArray[np.object_], rapid: RapidPath | None = None,
                 tilt: Tilt = SQUARE) -> None:
        """Raises CutterUnshaped for a cutter that lacks a measure."""
        self.motion, self.rapid = motion, rapid
        self.shapes, self.boxes = Bodies.of_cutters(cutters, tilt=tilt), motion.boxes()
        self.usable = motion.placed & (self.shapes.of >= 0)
        self._last: tuple[NDArray, Swarm] | None = None

    def swarm(self, rows: NDArray) -> Swarm:
        """Of the paths of these placed rows whose cutters are known."""
        if self._last is None or not np.array_equal(self._last[0], rows):
            self._last = rows, Swarm.of_moves(self.motion, rows, self.shapes, self.rapid, self.boxes)
        return self._last[1]

    def riding(self, swarm: Swarm, shapes: Bodies) -> Swarm:
        """Other shapes on the same paths, where they are known."""
        known = shapes.of[swarm.paths.row] >= 0
        if known.all():
            return swarm.regrown(shapes)
        return Swarm.of_moves(self.motion, np.unique(swarm.paths.row[known]), shapes, self.rapid, self.boxes)


def grown_boxes(paths: Paths, shapes: Bodies, cutter: NDArray[np.int32]) -> Floats:
    """(k, 5) x, x, y, y of all that a shape passes over, and its lowest z."""
    low, high, grown = paths.box[:, 0], paths.box[:, 1], shapes.reach[cutter]
    return np.column_stack((low[:, 0] - grown, high[:, 0] + grown, low[:, 1] - grown, high[:, 1] + grown,
                            low[:, 2] + shapes.low[cutter]))


def along_curve(points: Floats) -> NDArray[np.uint32]:
    """Places in plan as numbers along a curve that keeps neighbours together (bits of x and y in turn)."""
    if not len(points):
        return np.empty(0, np.uint32)
    low = points.min(axis=0)
    span = max(float((points.max(axis=0) - low).max()), 1e-9)
    bits = ((points - low) * (65535 / span)).astype(np.uint32)
    for shift, mask in ((8, 0x00FF00FF), (4, 0x0F0F0F0F), (2, 0x33333333), (1, 0x55555555)):
        bits = (bits | (bits << np.uint32(shift))) & np.uint32(mask)
    return bits[:, 0] | (bits[:, 1] << np.uint32(1))


def bounded(boxes: Floats) -> Floats:
    """The bounds of every WIDTH boxes."""
    starts = np.arange(0, len(boxes), WIDTH)
    if not len(starts):
        return np.empty((0, 5))
    least, most = np.minimum.reduceat(boxes, starts), np.maximum.reduceat(boxes, starts)
    return np.column_stack((least[:, 0], most[:, 1], least[:, 2], most[:, 3], least[:, 4]))


def query(swarm: Swarm, shapes: Bodies, bodies: Floats, near: Floats, *,
          cover: bool = False) -> tuple[Floats, Floats]:
    """`closest_solids` for bodies (q, 8) with their limits (q,), paths by their own numbers."""
    found, stack = np.empty((len(bodies), 3)), np.empty((STACK + 2, 2))
    room, under, done = np.empty((2 * len(swarm.table) + MORE, 4)), [np.empty((0, 4))], 0
    while done < len(bodies):
        done, used = closest_solids(swarm.table, swarm.arc, swarm.paths.arcs, swarm.cutter, shapes.first,
                                    shapes.pieces, shapes.rounds, swarm.boxes, swarm.leaves, swarm.nodes,
                                    WIDTH, bodies, near, cover, done, found, room, stack)
        under.append(room[:used].copy())
    return swarm.numbered(found, 1), swarm.numbered(np.concatenate(under), 1)


def query_bed(swarm: Swarm, shapes: Bodies, top: float, openings: Floats,
              near: float) -> tuple[Floats, Floats]:
    """`closest_bed` for openings (p, 7) in any order, paths by their own numbers."""
    openings = np.ascontiguousarray(openings[np.argsort(openings[:, 0], kind="stable")])
    found, under, stack = np.empty(3), np.empty((len(swarm.table), 3)), np.empty((STACK + 2, 2))
    used = closest_bed(swarm.table, swarm.arc, swarm.paths.arcs, swarm.cutter, shapes.first, shapes.pieces,
                       shapes.rounds, shapes.reach, swarm.boxes, top, openings, near, found, under, stack,
                       np.empty(len(openings), np.int64))
    return swarm.numbered(found[None], 1)[0], swarm.numbered(under[:used].copy(), 0)
