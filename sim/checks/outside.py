"""Material taken where nobody wants it: outside the wanted face and outside every hole.

The law: in stages with `face` or `holes` only, and only cells that a move of this stage lowered. About a face
the cutter may run out by its radius and 1 mm; a hole that is drilled in the wrong place is told as such.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from ...parser.finding import Finding, Severity
from ...parser.job import Cutter
from ..cutters import profile_of
from ..evidence import Check, Evidence
from ..feeds import Rows
from ..parts import Piece
from ..plan import allowed_holes, disc, joined, wanted_faces
from .repeats import repeated

DEEP = 0.1  # mm: a scratch of this depth is no cut
RUN_OUT = 1.0  # mm beyond the cutter's radius about a face
EXACT = 1e-4  # mm

Cells = NDArray[np.bool_]


def cut_outside(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each cutter that cuts where neither face nor hole is."""
    if not (evidence.stage.face or evidence.stage.holes) or not (evidence.cut.volume > 0).any():
        return
    low = lowered(evidence)
    np.greater(low, holes(evidence), out=low)  # low and no hole
    if not other_parts(evidence):
        np.greater(low, about_face(evidence, narrowest(evidence)), out=low)  # there every cutter may run
    rows = evidence.surface.last[low] - evidence.cut.first_id
    for cutter in dict.fromkeys(evidence.cutters[np.unique(rows)]):
        mine = np.zeros_like(low)
        mine[low] = (evidence.cutters == cutter)[rows]  # cells are many, moves few
        rest = mine & ~about_face(evidence, cutter)
        for piece in other_parts(evidence):
            there = mine & evidence.surface.mask(piece.outline)
            if there.any():
                yield found(evidence, cutter, there, f" in {piece.called}, which the stage does not face")
            rest &= ~there
        if rest.any():
            yield found(evidence, cutter, rest)


def narrowest(evidence: Evidence) -> Cutter:
    """The narrowest of the stage's cutters."""
    return min(evidence.used, key=lambda cutter: profile_of(cutter).radius)


def lowered(evidence: Evidence) -> Cells:
    """(ny, nx) true for the cells that this stage's moves lowered by more than a scratch."""
    surface, cut = evidence.surface, evidence.cut
    cells = np.empty(surface.shape, np.bool_)

    def seen(band: slice) -> None:
        deep = cut.before[band] - surface.heights[band] > DEEP + EXACT
        np.logical_and(deep, surface.last[band] >= cut.first_id, out=cells[band])

    list(surface.over_bands(seen))
    return cells


def holes(evidence: Evidence) -> Cells:
    """(ny, nx) true in every hole, wanted or drilled, with a cell about it."""
    cell = evidence.surface.cell
    drilled = joined(disc(hole.at, hole.diameter / 2 + cell) for hole in evidence.found)
    return evidence.surface.mask(allowed_holes(evidence.job, cell)) | evidence.surface.mask(drilled)


def about_face(evidence: Evidence, cutter: Cutter) -> Cells:
    """(ny, nx) true where a cutter that makes the faces of the stage may run."""
    faces = shapely.union_all([face.area for face in wanted_faces(evidence.stage, evidence.board)])
    return evidence.surface.mask(shapely.buffer(faces, profile_of(cutter).radius + RUN_OUT))


def other_parts(evidence: Evidence) -> list[Piece]:
    """The pieces of the board that no wanted face of a stage with faces is on."""
    if not evidence.stage.face or not evidence.job.board.parts:
        return []
    faces = shapely.union_all([face.area for face in wanted_faces(evidence.stage, evidence.board)])
    return [piece for piece in evidence.lying
            if shapely.area(shapely.intersection(piece.outline, faces)) == 0]


def found(evidence: Evidence, cutter: Cutter, outside: Cells, where: str = "") -> Finding:
    """All that one cutter takes outside, placed where it is deepest; in another part than the face's it is a
    stop (`where` names it)."""
    severity = Severity.STOP if where else Severity.CAUTION
    surface, cut = evidence.surface, evidence.cut
    depth = np.where(outside, cut.before - surface.heights, 0.0)
    j, i = np.unravel_index(int(np.argmax(depth)), depth.shape)
    rows: Rows = np.unique(surface.last[outside] - cut.first_id).astype(np.intp)
    worst, area = int(surface.last[j, i] - cut.first_id), float(outside.sum()) * surface.cell**2
    at = (float(surface.x[i]), float(surface.y[j]), float(surface.heights[j, i]))
    shown = evidence.motion.shown(worst, at)
    return repeated("cut-outside", evidence, rows, worst, severity=severity, about=cutter.label,
                    value=float(depth[j, i]), limit=DEEP, area=area, deepest=shown[:2], where=where)


CHECKS: tuple[Check, ...] = (cut_outside,)
