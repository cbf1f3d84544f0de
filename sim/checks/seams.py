"""Steps in a finished board: walls that stand beside the face, and parts that do not lie level.

The law: read from the map at the stage's end. A wall is board beside the cut face that stands over 0.1 mm
higher; parts are compared by their middle heights, recesses and holes left out. Where one of two parts is
faced and the other is not, the step between them is the face's wall and is told once. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from ...parser.finding import Finding, finding
from ..cutters import profile_of
from ..evidence import Check, Evidence
from ..faced import Faced, faced, openings
from ..parts import Piece
from ..plan import joined
from ..windows import extreme_about

STEP = 0.1  # mm
EXACT = 1e-4  # mm: heights are right to this
BESIDE = 25.0  # mm: parts no farther apart lie side by side; common practice, no published source

Cells = NDArray[np.bool_]


def wall_left(evidence: Evidence) -> Iterator[Finding]:
    """Board that is left standing beside a wanted face, one finding for each face and piece of the board."""
    faces = faced(evidence)
    wanted = joined(face.wanted.area for face in faces)
    for face in faces:
        if not len(face.passes):
            continue
        reach = widest(evidence, face)
        for piece in evidence.lying:
            if shapely.covers(wanted, piece.outline):
                continue
            if shapely.distance(piece.outline, face.wanted.area) < reach:
                walls = np.greater(evidence.surface.mask(piece.outline), evidence.surface.mask(wanted))
                walls &= standing(evidence, face)
                if walls.any():
                    walls &= beside(evidence, face, piece, reach)
                if walls.any():
                    yield wall(evidence, face, piece, walls)


def widest(evidence: Evidence, face: Faced) -> float:
    """The radius of the widest cutter that finishes some of a face."""
    cutters = [evidence.cutter(int(row)) for row in np.unique(face.passes.row)]
    return max(profile_of(cutter).radius for cutter in cutters if cutter is not None)


def standing(evidence: Evidence, face: Faced) -> Cells:
    """(ny, nx) true for the cells that stand too high beside a face."""
    return evidence.surface.heights > face.wanted.z + max(STEP, face.wanted.tolerance) + EXACT


def beside(evidence: Evidence, face: Faced, piece: Piece, reach: float) -> Cells:
    """(ny, nx) true right beside what was cut to the face's height; across a seam, within the cutter's
    radius of the face."""
    surface, area = evidence.surface, face.wanted.area
    if shapely.area(shapely.intersection(piece.outline, area)) == 0:
        return surface.mask(shapely.buffer(area, reach))
    about = surface.mask(shapely.buffer(area, reach + surface.cell))
    low = about & (surface.heights <= face.wanted.highest + EXACT) & (surface.last >= evidence.cut.first_id)
    return extreme_about(np.maximum, low, (3, 3), False)


def wall(evidence: Evidence, face: Faced, piece: Piece, walls: Cells) -> Finding:
    """The wall on one piece, where it is highest."""
    surface = evidence.surface
    j, i = np.unravel_index(int(np.argmax(np.where(walls, surface.heights, -np.inf))), walls.shape)
    at = (float(surface.x[i]), float(surface.y[j]), float(surface.heights[j, i]))
    row = nearest_pass(face, at[:2])
    x0, y0, x1, y1 = span(evidence, walls)
    return finding("wall-left", line=int(evidence.motion.line[row]), at=at,
                   shown=evidence.motion.shown(row, at), value=at[2] - face.wanted.z, limit=STEP,
                   about=piece.name, where="" if len(evidence.lying) == 1 else f" on {piece.called}",
                   long=max(x1 - x0, y1 - y0),
                   down=evidence.motion.shown(row, (0.0, 0.0, face.wanted.z))[2])


def nearest_pass(face: Faced, at: tuple[float, float]) -> int:
    """The move of the pass that comes nearest to a place."""
    numbers = np.arange(len(face.passes))
    apart = face.passes.distance(np.broadcast_to(at, (len(numbers), 2)), numbers)
    return int(face.passes.row[apart.argmin()])


def span(evidence: Evidence, cells: Cells) -> tuple[float, float, float, float]:
    """The box around marked cells."""
    j, i = np.nonzero(cells)
    x, y, half = evidence.surface.x, evidence.surface.y, evidence.surface.cell / 2
    return (float(x[i.min()]) - half, float(y[j.min()]) - half, float(x[i.max()]) + half,
            float(y[j.max()]) + half)


# --- parts --------------------------------------------------------------------------------------------

def part_step(evidence: Evidence) -> Iterator[Finding]:
    """Parts side by side whose tops lie apart: after a face, or at the end of a job that wants none."""
    job = evidence.job
    last = evidence.stage is job.stages[-1] and not any(stage.face for stage in job.stages)
    if not job.board.parts or not (evidence.stage.face or last):
        return
    areas = joined(face.wanted.area for face in faced(evidence))
    for one, other in combinations(evidence.lying, 2):
        if shapely.distance(one.outline, other.outline) <= BESIDE and is_faced(one, areas) == is_faced(
                other, areas):
            yield from stepped(evidence, one, other)


def is_faced(piece: Piece, areas: shapely.geometry.base.BaseGeometry) -> bool:
    return bool(shapely.area(shapely.intersection(piece.outline, areas)) > 0)


def stepped(evidence: Evidence, one: Piece, other: Piece) -> Iterator[Finding]:
    heights = {piece.name: middle(evidence, piece) for piece in (one, other)}
    low, high = sorted((one, other), key=lambda piece: heights[piece.name])
    step = heights[high.name] - heights[low.name]
    if step > STEP + EXACT:
        a, b = shapely.get_coordinates(shapely.shortest_line(one.outline, other.outline))
        at = (*((a + b) / 2).tolist(), heights[high.name])
        x, y, z = evidence.stage.zero
        yield finding("part-step", at=at, shown=(at[0] - x, at[1] - y, at[2] - z), value=step, limit=STEP,
                      about=f"{one.name} and {other.name}", high=high.called, low=low.called)


def middle(evidence: Evidence, piece: Piece) -> float:
    """The height that half of a piece lies above, recesses and holes left out."""
    surface = evidence.surface
    cells = surface.mask(piece.outline) & ~surface.mask(openings(evidence)) & surface.on_board
    return float(np.median(surface.heights[cells])) if cells.any() else piece.top


CHECKS: tuple[Check, ...] = (wall_left, part_step)
