"""Where two passes meet on a wanted face and a crest stays between them, as lines to draw.

The law: for the eye; the ridge that a verdict rests on is sim's. Seams are looked for along rows and columns
of the map, close enough together to meet every pass; a crest and a trough count when they lie within half a
step of the seam, both made by these two passes, on the finished face. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from itertools import pairwise
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import Motion
from ..sim.result import Result
from ..sim.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LOOKS = 160  # rows, and columns, along which seams are looked for at most
LEAST = 5e-4  # mm: less is the rounding of the map
ONE_WAY = np.pi / 180  # rad: directions that are one
SAME = 1e-3  # mm: passes closer than this are one
WIDEST = 120.0  # mm between two passes at most
AT_ONCE = 2_000_000  # cells that are looked at at once
MOST = 4000  # pieces that are drawn, the highest first


@dataclass(frozen=True)
class Ridges:
    """Pieces of ridges: ends (n, 2, 3) along the crest, height (n,) over the trough beside it, spacing (n,)
    of the two passes, lines (n, 2) of the program that made them, stage (n,) its number among the reported.
    highest: the highest that the simulation knows of."""

    ends: Floats
    height: Floats
    spacing: Floats
    lines: NDArray[np.int32]
    stage: NDArray[np.int32]
    highest: float = 0.0


@dataclass(frozen=True)
class Seams:
    """Places where the last move changes from one cell to the next: cell (m, 2) row and column before the
    change, axis 0 (to the next row) or 1, moves (m, 2) of the stage."""

    cell: Ints
    axis: int
    moves: Ints

    def some(self, which: NDArray) -> Seams:
        return Seams(self.cell[which], self.axis, self.moves[which])


@dataclass(frozen=True)
class Finished:
    """A stage's board: its map, its moves (the first has number `first_id` in the map), and which cells it
    finished: off (ny, nx) is their distance from the wanted face, NaN where none is wanted."""

    surface: Surface
    motion: Motion
    first_id: int
    off: NDArray[np.float32]
    tolerance: float


def ridges_of(result: Result, off: NDArray[np.float32], tolerance: float) -> Ridges:
    """The ridges of every reported stage; `off` as in Finished."""
    found = [piece for number, record in enumerate(result.records) if record.cut is not None
             for piece in of_stage(Finished(result.surface, record.reading.motion, record.cut.first_id, off,
                                            tolerance), number)]
    known = [stage.face.ridge_height for stage in result.stages if stage.face is not None]
    return together(found, max((each for each in known if each is not None and isfinite(each)), default=0.0))


def of_stage(board: Finished, number: int) -> Iterator[Ridges]:
    """The ridges between the passes of one stage: those that run more along X, then the others."""
    stride = max(1, max(board.surface.shape) // LOOKS)
    for axis in (0, 1):
        seams = passes_only(seams_of(board, axis, stride), board.motion)
        spacing = apart(board.motion, seams.moves)
        close = (spacing > SAME) & (spacing < WIDEST)
        seams, spacing = seams.some(close), spacing[close]
        if len(spacing):
            height, crest = rises(board, seams, spacing)
            high = height >= LEAST
            yield joined(board, seams.some(high), spacing[high], height[high], crest[high], stride, number)


def seams_of(board: Finished, axis: int, stride: int) -> Seams:
    """Where the last move changes along every `stride`-th column (axis 0) or row (axis 1)."""
    first = stride // 2
    some = (slice(None), slice(first, None, stride))[::1 if axis == 0 else -1]
    last = board.surface.last[some] - np.int32(board.first_id)
    mine = (board.off[some] <= board.tolerance) & (last >= 0) & (last < len(board.motion))
    here, there = (slice(None, -1), slice(None)), (slice(1, None), slice(None))
    if axis == 1:
        here, there = here[::-1], there[::-1]
    cells = np.argwhere(mine[here] & mine[there] & (last[here] != last[there])).astype(np.int64)
    beside = cells + ((1, 0) if axis == 0 else (0, 1))
    moves = np.column_stack((last[tuple(cells.T)], last[tuple(beside.T)])).astype(np.int64)
    cells[:, 1 - axis] = cells[:, 1 - axis] * stride + first
    return Seams(cells, axis, moves)


def passes_only(seams: Seams, motion: Motion) -> Seams:
    """Seams between two feed moves that run the same way, met more across than along; or two arcs."""
    a, b = seams.moves.T
    way = motion.end[:, :2] - motion.start[:, :2]
    length, bent = np.hypot(*way.T), motion.arc >= 0
    turned = np.abs(way[a, 0] * way[b, 1] - way[a, 1] * way[b, 0]) <= ONE_WAY * length[a] * length[b]
    flatter = np.abs(way[a, 0]) >= np.abs(way[a, 1])
    straight = ~bent[a] & ~bent[b] & turned & (flatter == (seams.axis == 0))
    return seams.some(motion.is_feed[a] & motion.is_feed[b] & (straight | (bent[a] & bent[b])))


def apart(motion: Motion, moves: Ints) -> Floats:
    """(m,) how far the second pass of each pair lies from the first: between lines, or of radii."""
    a, b = moves.T
    way, beside = motion.end[a, :2] - motion.start[a, :2], motion.start[b, :2] - motion.start[a, :2]
    length = np.hypot(*way.T)
    found = np.abs(way[:, 0] * beside[:, 1] - way[:, 1] * beside[:, 0]) / np.where(length > 0, length, 1.0)
    bent = np.flatnonzero(motion.arc[a] >= 0)
    found[bent] = np.abs(radius(motion, a[bent]) - radius(motion, b[bent]))
    return found


def radius(motion: Motion, rows: Ints) -> Floats:
    return np.hypot(*(motion.start[rows, :2] - motion.arcs.centre[motion.arc[rows]]).T)


def rises(board: Finished, seams: Seams, spacing: Floats) -> tuple[Floats, Ints]:
    """(m,) crest over trough within half a step on either side of each seam; (m, 2) the crest's cell."""
    reach = np.ceil(spacing / 2 / board.surface.cell)
    height, crest = np.empty(len(spacing)), seams.cell.copy()
    part = np.arange(-int(reach.max()), int(reach.max()) + 1)
    for some in np.array_split(np.arange(len(spacing)), 1 + len(spacing) * len(part) // AT_ONCE):
        cells = np.repeat(seams.cell[some, None], len(part), axis=1)
        cells[..., seams.axis] += part
        counted = (np.abs(part) <= reach[some, None]) & of_pair(board, seams.some(some), cells)
        z = board.surface.heights[cells[..., 0], cells[..., 1]].astype(np.float64)
        top = np.where(counted, z, -np.inf).argmax(axis=1)
        row = np.arange(len(some))
        height[some] = z[row, top] - np.where(counted, z, np.inf).min(axis=1)
        crest[some] = cells[row, top]
    return height, crest


def of_pair(board: Finished, seams: Seams, cells: Ints) -> NDArray[np.bool_]:
    """(m, k) which cells (m, k, 2) one of the seam's moves finished; those off the map are moved onto it."""
    size = board.surface.shape[seams.axis]
    inside = (cells[..., seams.axis] >= 0) & (cells[..., seams.axis] < size)
    cells[..., seams.axis] = np.clip(cells[..., seams.axis], 0, size - 1)
    at = cells[..., 0], cells[..., 1]
    last = board.surface.last[at] - board.first_id
    mine = (last == seams.moves[:, :1]) | (last == seams.moves[:, 1:])
    return inside & mine & (board.off[at] <= board.tolerance)


def joined(board: Finished, seams: Seams, spacing: Floats, height: Floats, crest: Ints, stride: int,
           number: int) -> Ridges:
    """Crests of one pair of passes that lie one look apart as lines: a straight pass's in one piece."""
    surface, motion, pair = board.surface, board.motion, np.sort(seams.moves, axis=1)
    across, along = seams.cell[:, seams.axis], seams.cell[:, 1 - seams.axis]
    order = np.lexsort((across, along, pair[:, 1], pair[:, 0]))
    pair, across, along, crest = pair[order], across[order], along[order], crest[order]
    height, spacing = height[order], spacing[order]
    bent = motion.arc[pair[:, 0]] >= 0
    far = bent[1:] & (np.abs(np.diff(across)) * surface.cell > 3 * spacing[1:])
    new = (np.diff(pair, axis=0) != 0).any(axis=1) | (np.diff(along) > 2 * stride) | far
    runs = np.split(np.arange(len(pair)), np.flatnonzero(new) + 1)
    pieces = [(int(a), int(b)) for run in runs if len(run) > 1
              for a, b in pairwise(run if bent[run[0]] else run[[0, -1]])]
    first, last = np.array(pieces, np.int64).reshape(-1, 2).T
    places = np.column_stack((surface.x[crest[:, 1]], surface.y[crest[:, 0]],
                              surface.heights[crest[:, 0], crest[:, 1]])).astype(np.float64)
    most = np.array([height[a:b + 1].max() for a, b in pieces])
    return Ridges(np.stack([places[first], places[last]], axis=1), most, spacing[first],
                  motion.line[pair[first]].astype(np.int32), np.full(len(pieces), number, np.int32))


def together(found: list[Ridges], highest: float) -> Ridges:
    """All in one, the highest first, at most MOST."""
    if not any(len(each.height) for each in found):
        return NO_RIDGES
    order = np.argsort(-np.concatenate([each.height for each in found]), kind="stable")[:MOST]
    columns = (np.concatenate([getattr(each, name) for each in found])[order] for name in COLUMNS)
    return Ridges(*columns, highest=max(highest, float(max(each.height.max(initial=0) for each in found))))


COLUMNS = tuple(each.name for each in fields(Ridges))[:-1]
NO_RIDGES = Ridges(np.empty((0, 2, 3)), np.empty(0), np.empty(0), np.empty((0, 2), np.int32),
                   np.empty(0, np.int32))
