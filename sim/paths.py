"""The paths that a tip may take: one for each feed move and arc, for a rapid all that the control may choose.

The law: a path is straight or an arc and lies wholly where its move is placed; what a control may do with
a rapid is its dialect's word (`rapid.path`), and where that is unknown both are here. Bounds are exact,
bulges of arcs included. Millimetres, board frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import PLANE_AXES, Motion, Move

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

NO_ARC = np.zeros((1, 7))
COLUMNS = ("start", "end", "arc", "row", "branch", "box")


class Branch(IntEnum):
    """Which of the paths of a rapid this is; WRITTEN where there is but one."""

    WRITTEN = 0
    STRAIGHT = 1
    DOG_LEG = 2

    @property
    def said(self) -> str:
        """How a message puts it."""
        return ("", " (if the control goes straight)", " (if each axis goes on its own)")[self]


@dataclass(frozen=True)
class RapidPath:
    """How a control gets to the end of a rapid: in a straight line, each axis on its own at its own speed
    (mm/min; only their ratios count), or nobody knows."""

    path: Literal["linear", "per_axis", "unknown"] = "linear"
    speed: tuple[float, float, float] = (1.0, 1.0, 1.0)


def rapid_speed(rapid: float | tuple[float, float, float] | None) -> tuple[float, float, float]:
    """A job's `machine.rapid` for each axis; equal speeds where it is one number or left out."""
    return rapid if isinstance(rapid, tuple) else (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Paths:
    """k paths: start, end (k, 3) · arc (k,): row of `arcs`, whose row 0 stands for straight paths · row
    (k,): the move · branch (k,): a Branch · box (k, 2, 3): least and greatest coordinates, bulges included.
    An arc is (plane, centre, centre, radius at start and end, angle at start, sweep)."""

    start: Floats
    end: Floats
    arc: Ints
    row: NDArray[np.int64]
    branch: NDArray[np.uint8]
    box: Floats
    arcs: Floats = field(default_factory=lambda: NO_ARC)

    def __len__(self) -> int:
        return len(self.row)

    def places(self, path: NDArray, part: Floats) -> Floats:
        """(m, 3) the tip at a part (0 to 1) of each chosen path."""
        point = self.start[path] + part[:, None] * (self.end[path] - self.start[path])
        arcs = self.arcs[self.arc[path]]
        radius, angle = arcs[:, 3] + part * (arcs[:, 4] - arcs[:, 3]), arcs[:, 5] + part * arcs[:, 6]
        for number, (first, second, _) in PLANE_AXES.items():
            some = arcs[:, 0] == number
            point[some, first] = (arcs[:, 1] + radius * np.cos(angle))[some]
            point[some, second] = (arcs[:, 2] + radius * np.sin(angle))[some]
        return point


def paths_of(motion: Motion, rows: NDArray, rapid: RapidPath | None = None,
             boxes: Floats | None = None) -> Paths:
    """The paths of the given (placed) rows, in the rows' order but for rapids with several; `boxes` is
    `motion.boxes()` where the caller has it."""
    rapid = rapid or RapidPath()
    boxes = motion.boxes() if boxes is None else boxes
    fast = motion.kind[rows] == Move.RAPID
    written = rows[~fast] if rapid.path == "per_axis" else rows
    paths = _written(motion, written, rapid.path == "unknown", boxes)
    return paths if rapid.path == "linear" else joined(paths, _dog_legs(motion, rows[fast], rapid))


def _written(motion: Motion, rows: NDArray, doubtful: bool, boxes: Floats) -> Paths:
    box, table = boxes[rows], arc_table(motion, rows)
    arc = (motion.arc[rows] + 1).astype(np.int32)
    spread = np.abs(table[arc, 4] - table[arc, 3])[:, None]  # a growing radius may reach so much farther
    box[:, 0], box[:, 1] = box[:, 0] - spread, box[:, 1] + spread
    fast = motion.kind[rows] == Move.RAPID
    branch = np.where(fast & doubtful, Branch.STRAIGHT, Branch.WRITTEN).astype(np.uint8)
    return Paths(motion.start[rows], motion.end[rows], arc, np.asarray(rows, np.int64), branch, box, table)


def arc_table(motion: Motion, rows: NDArray) -> Floats:
    """(m + 1, 7) the arcs of a motion by their row plus one, filled for the given moves."""
    arcs = motion.arcs
    table = np.zeros((len(arcs) + 1, 7))
    table[1:, 0], table[1:, 1:3], table[1:, 6] = arcs.plane, arcs.centre, arcs.sweep
    curved = rows[motion.arc[rows] >= 0]
    arc = motion.arc[curved]
    for plane, (first, second, _) in PLANE_AXES.items():
        some = arcs.plane[arc] == plane
        at, centre = arc[some] + 1, arcs.centre[arc[some]]
        out = motion.start[curved[some]][:, [first, second]] - centre
        back = motion.end[curved[some]][:, [first, second]] - centre
        table[at, 3], table[at, 4] = np.hypot(*out.T), np.hypot(*back.T)
        table[at, 5] = np.arctan2(out[:, 1], out[:, 0])
    return table


def _dog_legs(motion: Motion, rows: NDArray, rapid: RapidPath) -> Paths:
    """The legs of rapids whose axes go on their own; where both ways are asked for, those that differ."""
    corners = dog_leg(motion.start[rows], motion.end[rows], rapid.speed)
    both = rapid.path == "unknown"
    if both:
        moved = (motion.start[rows] != motion.end[rows]).sum(axis=1) > 1
        rows, corners = rows[moved], corners[moved]
    start, end = corners[:, :-1].reshape(-1, 3), corners[:, 1:].reshape(-1, 3)
    row = np.repeat(np.asarray(rows, np.int64), 3)
    some = (start != end).any(axis=1) | (np.arange(len(row)) % 3 == 2)
    branch = np.full(len(row), Branch.DOG_LEG if both else Branch.WRITTEN, np.uint8)
    box = np.stack((np.minimum(start, end), np.maximum(start, end)), axis=1)
    straight = np.zeros(int(some.sum()), np.int32)
    return Paths(start[some], end[some], straight, row[some], branch[some], box[some])


def dog_leg(start: Floats, end: Floats, speed: tuple[float, float, float]) -> Floats:
    """(n, 4, 3) corners of the ways from start to end (n, 3) when each axis runs on its own at its speed
    until it is there. Source: worked by hand in the tests."""
    way = end - start
    need = np.abs(way) / np.asarray(speed, float)
    when = np.concatenate((np.zeros((len(way), 1)), np.sort(need, axis=1)), axis=1)
    part = np.minimum(when[:, :, None] / np.where(need > 0, need, 1.0)[:, None, :], 1.0)
    corners = start[:, None, :] + part * way[:, None, :]
    arrived = when[:, :, None] >= need[:, None, :]
    return np.where(arrived, end[:, None, :], corners)


def rapid_paths(motion: Motion, row: int, rapid: RapidPath) -> dict[Branch, Floats]:
    """The ways (k, 3) that the control may take for one rapid, by branch."""
    straight = np.stack((motion.start[row], motion.end[row]))
    bent = dog_leg(straight[:1], straight[1:], rapid.speed)[0]
    bent = bent[np.concatenate(([True], (np.diff(bent, axis=0) != 0).any(axis=1)))]
    if rapid.path == "linear" or len(bent) < 3:
        return {Branch.WRITTEN: straight}
    if rapid.path == "per_axis":
        return {Branch.WRITTEN: bent}
    return {Branch.STRAIGHT: straight, Branch.DOG_LEG: bent}


def joined(first: Paths, second: Paths) -> Paths:
    """Both, one after the other; the second has no arcs of its own."""
    columns = [np.concatenate((getattr(first, name), getattr(second, name)))
               for name in COLUMNS]
    return Paths(*columns, arcs=first.arcs)
