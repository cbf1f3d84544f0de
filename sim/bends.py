"""Ridges across passes that bend: arcs, spirals, paths of short chords.

The law: heights are taken along lines across the passes, radially for an arc, upright to a chord, close
together all over the face; a crest and a trough count when they lie no farther apart than the step there.
The step is the middle distance of the paths that such lines cross. Millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from .cutters import profile_of
from .evidence import Evidence
from .faced import Faced
from .stretches import arc_points

Floats = NDArray[np.float64]
Cells = NDArray[np.bool_]

EVERY = 2.0  # mm between the middles of lines across
MOST = 10_000  # lines
TOGETHER = 1_000  # lines whose heights are taken at once
ASKED = 256  # places where the step is measured
SAME = 1e-3  # mm: crossings that are one path


@dataclass(frozen=True)
class Ridge:
    """The highest ridge: height and step, mm; where its crest is; rows of the moves that left the
    crest and the trough, or flanks the crest; heading of the passes, rad from X (None: they bend)."""

    height: float
    step: float
    at: tuple[float, float, float]
    crest: int
    trough: int
    heading: float | None = None


def across_bends(face: Faced, moves: NDArray[np.bool_]) -> Ridge | None:
    """The highest ridge on finished cells that bending `moves` (n,) cut last; None where no two of their
    passes lie side by side."""
    middles = middles_of(face, moves)
    ways = across_at(face.evidence, middles)
    step = step_across(face.evidence, middles, ways, moves)
    if step is None:
        return None
    found = [highest(face, moves, middles[some], ways[some], step)
             for some in np.array_split(np.arange(len(middles)), 1 + len(middles) // TOGETHER)]
    return max((each for each in found if each), key=lambda ridge: ridge.height, default=None)


def finished_by(face: Faced, moves: NDArray[np.bool_], j: NDArray[np.intp] | slice,
                i: NDArray[np.intp] | slice) -> Cells:
    """Which cells are finished, and by one of some moves."""
    surface = face.evidence.surface
    rows = surface.last[j, i] - np.int32(face.evidence.cut.first_id)
    known = face.measured[j, i] & (rows >= 0) & (surface.heights[j, i] <= face.wanted.highest)
    return known & moves[np.clip(rows, 0, len(moves) - 1)]


def middles_of(face: Faced, moves: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(m, 2) rows and columns of cells evenly spread over those that some moves finished."""
    every = max(1, round(EVERY / face.evidence.surface.cell))
    some = slice(every // 2, None, every)
    middles = np.argwhere(finished_by(face, moves, some, some)) * every + every // 2
    return middles[::max(1, -(-len(middles) // MOST))]


def across_at(evidence: Evidence, middles: NDArray[np.intp]) -> Floats:
    """(m, 2) unit vectors across the pass that cut each cell last."""
    surface, motion = evidence.surface, evidence.motion
    rows = surface.last[middles[:, 0], middles[:, 1]] - evidence.cut.first_id
    way = motion.end[rows, :2] - motion.start[rows, :2]
    out = np.column_stack((-way[:, 1], way[:, 0]))
    round_ = motion.arc[rows] >= 0
    centres = motion.arcs.centre[motion.arc[rows[round_]]]
    places = np.column_stack((surface.x[middles[round_, 1]], surface.y[middles[round_, 0]]))
    out[round_] = places - centres
    length = np.hypot(*out.T)[:, None]
    return np.where(length > 0, out / np.where(length > 0, length, 1.0), (1.0, 0.0))


def step_across(evidence: Evidence, middles: NDArray[np.intp], ways: Floats,
                moves: NDArray[np.bool_]) -> float | None:
    """The middle distance between neighbouring paths of bending feed moves."""
    motion, surface = evidence.motion, evidence.surface
    rows = np.flatnonzero(moves & motion.is_feed)
    if not len(rows) or not len(middles):
        return None
    paths = np.array([path_of(evidence, int(row)) for row in rows], object)
    tree, gaps = shapely.STRtree(paths), []
    used = {id(cutter): cutter for cutter in evidence.cutters[rows]}.values()
    half = 2 * max(profile_of(cutter).radius for cutter in used)
    for k in np.unique(np.linspace(0, len(middles) - 1, ASKED).astype(int)):
        at = np.array((surface.x[middles[k, 1]], surface.y[middles[k, 0]]))
        line = shapely.LineString((at - half * ways[k], at + half * ways[k]))
        met = shapely.intersection(line, paths[tree.query(line, predicate="intersects")])
        along = np.sort(np.ravel((shapely.get_coordinates(met) - at) @ ways[k]))
        apart = np.diff(along)
        gaps += apart[apart > SAME].tolist()
    return float(np.median(gaps)) if gaps else None


def path_of(evidence: Evidence, row: int) -> shapely.LineString:
    """A move's path in plan."""
    motion = evidence.motion
    if motion.arc[row] >= 0:
        return shapely.LineString(arc_points(motion, row)[:, :2])
    return shapely.LineString((motion.start[row, :2], motion.end[row, :2]))


def highest(face: Faced, moves: NDArray[np.bool_], middles: NDArray[np.intp], ways: Floats,
            step: float) -> Ridge | None:
    """The highest crest over a trough within a step of it, with nothing unfinished between, on lines of two
    steps across `middles`."""
    surface = face.evidence.surface
    reach = max(1, int(step / surface.cell + 1e-9))
    j, i, inside = along_lines(surface.shape, middles, ways, reach)
    known = inside & finished_by(face, moves, j, i)
    heights = np.where(known, surface.heights[j, i], np.float32(np.nan))
    best, place, whole = -1.0, (0, 0, 0), known
    for apart in range(1, reach + 1):
        whole = whole[:, :-1] & known[:, apart:]
        rise = np.where(whole, np.abs(heights[:, apart:] - heights[:, :-apart]), -1.0)
        line, at = np.unravel_index(int(rise.argmax()), rise.shape)
        if rise[line, at] > best:
            best, place = float(rise[line, at]), (int(line), int(at), int(at) + apart)
    if best < 0:
        return None
    line, crest, trough = place
    if heights[line, crest] < heights[line, trough]:
        crest, trough = trough, crest
    rows = surface.last[j[line], i[line]] - face.evidence.cut.first_id
    where = (float(surface.x[i[line, crest]]), float(surface.y[j[line, crest]]), float(heights[line, crest]))
    seen = np.where(known[line], rows, rows[crest])
    return Ridge(best, step, where, int(rows[crest]), beside(seen, crest, trough))


def beside(moves: NDArray[np.int32], crest: int, trough: int) -> int:
    """The move that flanks a crest along a line of cells: the trough's, or where one pass made both (a ramp
    up to its edge) the nearest other one."""
    others = np.flatnonzero(moves != moves[crest])
    if moves[trough] != moves[crest] or not len(others):
        return int(moves[trough])
    return int(moves[others[np.abs(others - crest).argmin()]])


def along_lines(shape: tuple[int, int], middles: NDArray[np.intp], ways: Floats, reach: int
                ) -> tuple[NDArray[np.intp], NDArray[np.intp], Cells]:
    """Rows, columns and which of them are on the map, (m, 2·reach + 1) cells along lines across."""
    part = np.arange(-reach, reach + 1)
    i = np.rint(middles[:, 1, None] + part * ways[:, :1]).astype(np.intp)
    j = np.rint(middles[:, 0, None] + part * ways[:, 1:]).astype(np.intp)
    inside = (i >= 0) & (i < shape[1]) & (j >= 0) & (j < shape[0])
    return np.clip(j, 0, shape[0] - 1), np.clip(i, 0, shape[1] - 1), inside
