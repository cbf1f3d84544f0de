"""Whether a cut goes too deep: below the wanted face, into what has to stay, too much in one pass, or
straight down with a cutter that cannot.

The law: only places that a move of this stage lowered count; wear from before is no fault of the program.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import ceil, radians, tan

import numpy as np
from numpy.typing import NDArray

from ...parser.finding import Finding, Severity, finding
from ...parser.job import Cutter
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Said, once
from ..faced import faced
from ..feeds import SKIN, Rows, by_cutter, cutting, loaded
from ..plan import allowed_holes
from ..stretches import arc_points
from .repeats import repeated

STEEPEST = 3.0  # degrees: the steepest ramp for a cutter with no edge at its centre; common practice
EXACT = 1e-4  # mm: heights are right to this

Cells = NDArray[np.bool_]
Heights = NDArray[np.float32]


def over_depth(evidence: Evidence) -> Iterator[Finding]:
    """Cut below the wanted face by more than its tolerance."""
    for face in faced(evidence):
        region = np.greater(face.measured, holes(evidence))  # measured and no hole
        yield from too_low(evidence, region, face.wanted.lowest, face.wanted.z, "the wanted face allows")


def too_thin(evidence: Evidence) -> Iterator[Finding]:
    """The board is left thinner than the job wants to keep, anywhere but in wanted holes."""
    keep = evidence.job.board.keep
    for piece in evidence.lying if keep else ():
        if piece.underside is not None and keep:
            lowest = piece.underside + keep
            why = f"keeps {evidence.job.units.text(keep)} of {piece.called}"
            cells = ~holes(evidence) if len(evidence.lying) == 1 else (
                evidence.surface.mask(piece.outline) & ~holes(evidence))
            yield from too_low(evidence, cells, lowest, lowest, why)


@once
def holes(evidence: Evidence) -> Cells:
    """(ny, nx) true where a wanted hole may take material, as far off and as wide as it may be."""
    return evidence.surface.mask(allowed_holes(evidence.job))


def too_low(evidence: Evidence, region: Cells, lowest: float, wanted: float, why: str
            ) -> Iterator[Finding]:
    """The moves that left a cell of a region lower than `lowest`: the first, the one that went lowest and the
    last, which stand for all of them."""
    rows, heights, cells = lowest_of_each(evidence, region, lowest)
    if not len(rows):
        return
    worst = int(heights.argmin())
    told = sorted({0, worst, len(rows) - 1})
    for number in told:
        found = too_deep(evidence, rows[number], heights[number], cells[number], lowest, wanted, why)
        if number == 0:
            found = replace(found, count=len(rows) + 1 - len(told),
                            last_line=int(evidence.motion.line[rows].max()))
        yield found


def lowest_of_each(evidence: Evidence, region: Cells, lowest: float) -> tuple[Rows, Heights, Rows]:
    """(k,) moves that left a cell of a region lower than `lowest`, in order; the lowest height that each left
    and the cell (counted through the map) where that is."""
    surface, first, nx = evidence.surface, evidence.cut.first_id, evidence.surface.shape[1]

    def seen(band: slice) -> tuple[Rows, Heights, Rows]:
        low = region[band] & (surface.heights[band] < lowest - EXACT)
        low &= surface.last[band] >= first
        cells = np.flatnonzero(low) + band.start * nx
        return lowest_each(surface.last[band][low] - first, surface.heights[band][low], cells)

    bands = list(surface.over_bands(seen))
    rows, heights, cells = (np.concatenate(each) for each in zip(*bands, strict=True))
    return lowest_each(rows, heights, cells)


def lowest_each(rows: NDArray[np.integer], heights: Heights, cells: NDArray[np.integer]
                ) -> tuple[Rows, Heights, Rows]:
    """Of cells, the lowest one of each move, in the order of moves."""
    order = np.lexsort((cells, heights, rows))
    order = order[np.append(True, np.diff(rows[order]) != 0)[:len(order)]]
    return rows[order].astype(np.intp), heights[order], cells[order].astype(np.intp)


def too_deep(evidence: Evidence, row: int, height: float, cell: int, lowest: float, wanted: float,
             why: str) -> Finding:
    """One move that went too low, where it went lowest."""
    surface, motion = evidence.surface, evidence.motion
    j, i = divmod(int(cell), surface.shape[1])
    at = (float(surface.x[i]), float(surface.y[j]), float(height))
    reached = min(motion.start[row, 2], motion.end[row, 2])
    return finding("over-depth", line=int(motion.line[row]), at=at, shown=motion.shown(int(row), at),
                   value=at[2], limit=lowest, why=why, excess=wanted - at[2],
                   wanted=motion.shown(int(row), (0.0, 0.0, wanted))[2],
                   programmed=motion.shown(int(row), (0.0, 0.0, reached))[2])


def deep_pass(evidence: Evidence) -> Iterator[Said]:
    """More than a cutter takes in one pass, or than its flutes are long. Drills by their flutes only."""
    for cutter, rows in by_cutter(evidence, cutting(evidence) & loaded(evidence)):
        if cutter.deepest_pass is None and cutter.shape != "drill":
            yield Unchecked(f"depth of a pass of {cutter.label}", "the cutter's deepest_pass is not given")
        yield from _too_much(evidence, cutter, rows)


def _too_much(evidence: Evidence, cutter: Cutter, rows: Rows) -> Iterator[Finding]:
    depth = evidence.cut.depth[rows]
    for what, limit, severity in (("its flute length", cutter.flute_length, Severity.STOP),
                                  ("its deepest pass", cutter.deepest_pass, Severity.CAUTION)):
        if limit is None or (what == "its deepest pass" and cutter.shape == "drill"):
            continue
        over = rows[depth > limit + EXACT]
        if len(over):
            worst = over[np.argmax(evidence.cut.depth[over])]
            most = float(evidence.cut.depth[worst])
            passes = ceil(most / limit - 1e-6)
            yield repeated("deep-pass", evidence, over, worst, severity=severity, about=cutter.label,
                           value=most, limit=limit, what=what, passes=passes, each=most / passes)
            return


def plunge_no_centre(evidence: Evidence) -> Iterator[Finding]:
    """Down into material, straight or too steep, with nothing that cuts in the middle."""
    steep = cutting(evidence) & loaded(evidence) & (descents(evidence) > STEEPEST + 1e-6)
    for cutter, rows in by_cutter(evidence, steep):
        if cuts_at_centre(cutter):
            continue
        angles = descents(evidence)[rows]
        worst = rows[np.argmax(angles)]
        drop = float(evidence.motion.start[worst, 2] - evidence.motion.boxes()[worst, 0, 2])
        yield repeated("plunge-no-centre", evidence, rows, worst, about=cutter.label,
                       value=float(angles.max()), limit=STEEPEST, run=drop / tan(radians(STEEPEST)))


def cuts_at_centre(cutter: Cutter) -> bool:
    """As the job says; facing cutters do not, others do."""
    return cutter.shape != "facing" if cutter.centre_cutting is None else cutter.centre_cutting


def descents(evidence: Evidence) -> NDArray[np.float64]:
    """(n,) degrees of each move below level, along its path; 0 where it does not go down."""
    motion = evidence.motion
    drop = np.maximum(motion.start[:, 2] - motion.end[:, 2], 0.0)
    along = np.sqrt(np.maximum(motion.length() ** 2 - drop**2, 0.0))
    angle = np.where(drop > SKIN, np.degrees(np.arctan2(drop, along)), 0.0)
    for row in np.flatnonzero(motion.placed & (motion.arc >= 0)):
        if motion.arcs.plane[motion.arc[row]] != 17:
            angle[row] = _steepest(arc_points(motion, int(row)))
    return np.where(motion.placed, angle, 0.0)


def _steepest(points: NDArray[np.float64]) -> float:
    """Degrees below level of the steepest way down along points (k, 3); 0 where none goes down."""
    way = np.diff(points, axis=0)
    angles = np.degrees(np.arctan2(-way[:, 2], np.hypot(way[:, 0], way[:, 1])))
    return max(0.0, float(angles.max()))


CHECKS: tuple[Check, ...] = (over_depth, too_thin, deep_pass, plunge_no_centre)
