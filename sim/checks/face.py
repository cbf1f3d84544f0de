"""Whether the wanted face is finished: strips, edges and corners that stay uncut, and ridges.

The law: what is uncut is judged by plan geometry, piece by piece, whatever the map's cell; each piece is
one finding of one kind.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from ...parser.finding import Finding, Phrase, Point, finding
from ..cusps import margin
from ..cutters import profile_of
from ..evidence import Check, Evidence
from ..faced import Faced, faced
from ..heights import heights_of
from ..leftovers import Leftover
from ..remedies import narrower, remedy
from ..ridges import Ridge, highest_ridges
from ..stage_figures import FaceFigures, RidgeFigures

SEEN = 1.0  # mm²: less of a board is not worth a word


def unfinished(evidence: Evidence) -> Iterator[Finding]:
    """What of the wanted faces stays uncut: edge-left, ridge, missed-area."""
    for face in faced(evidence):
        for piece in face.unfinished:
            yield SAYING[piece.kind](face, piece)


def ridges(evidence: Evidence) -> Iterator[Finding]:
    """A ridge that stands higher over the surface beside it than the face allows."""
    for face, ridge in zip(faced(evidence), highest_ridges(evidence), strict=True):
        if ridge is not None and ridge.height > face.wanted.ridge + 1e-6:
            yield ridge_high(face, ridge)


def edge_left(face: Faced, piece: Leftover) -> Finding:
    """A piece along the border of the wanted face."""
    row, at, shown = place(face, piece)
    kind = margin(face, piece)
    return finding("edge-left", line=line_of(face, row), at=at, shown=shown, value=piece.area, limit=0.0,
                   width=piece.width, length=piece.length, what=kind.said,
                   fix=farther_out(face, piece, shown, kind.closer))


def farther_out(face: Faced, piece: Leftover, shown: Point, closer: float | None) -> Phrase:
    """What brings the cutter to a piece at the border; with no pass low enough the passes have to go down,
    and where the machine's travel ends before it nothing does."""
    beyond = out_of_reach(face, piece)
    if beyond > SEEN:
        return Phrase("Trim the board to what is faced: {beyond:area} of this lie where the machine's travel "
                      "takes no cutter of this stage", {"beyond": beyond})
    if piece.depth > 0 and (len(face.passes) or face.passes.stamps):
        or_closer = "" if closer is None else ", or bring the passes to {closer:length} apart or less"
        return Phrase("Take the path {farther:length} farther out at {middle:place}" + or_closer,
                      {"farther": piece.depth, "middle": shown, "closer": closer})
    return Phrase("Take passes over it down to Z {low:length} (as the control shows it)", {"low": shown[2]})


def out_of_reach(face: Faced, piece: Leftover) -> float:
    """mm² of a piece that no place within the machine's travel brings a cutter to; 0 where travel is not
    known. A cutter reaches as far beyond its axis as it is wide."""
    machine, widest = face.evidence.job.machine, max(
        (profile_of(cutter).radius for cutter in face.evidence.cutters if cutter is not None), default=0.0)
    travel, origin = machine.travel, machine.origin
    if travel is None or origin is None or travel.x is None or travel.y is None:
        return 0.0
    (x0, x1), (y0, y1) = travel.x, travel.y
    axis = shapely.box(x0 - origin[0], y0 - origin[1], x1 - origin[0], y1 - origin[1])
    return float(shapely.difference(piece.shape, axis.buffer(widest, quad_segs=64)).area)


def missed(face: Faced, piece: Leftover) -> Finding:
    """A piece inside the wanted face, or in a corner that no pass came near."""
    row, at, shown = place(face, piece)
    return finding("missed-area", line=line_of(face, row), at=at, shown=shown, value=piece.area, limit=0.0,
                   width=piece.width, length=piece.length, middle=shown)


def ridge_left(face: Faced, piece: Leftover) -> Finding:
    """A strip between two passes that are too far apart."""
    row, at, shown = place(face, piece)
    first, second = sorted(line_of(face, flank) for flank in (*piece.flanks[:2], row)[:2])
    step = piece.step if piece.step is not None else piece.width
    return finding("ridge", line=second, at=at, shown=shown, value=piece.width, limit=0.0, what="wide",
                   first=first, second=second, step=step, along=heading_words(heading_of(face, row)),
                   fix=narrower(face, piece, step))


def ridge_high(face: Faced, ridge: Ridge) -> Finding:
    """A ridge within the tolerance of the face but felt all the same."""
    motion = face.evidence.motion
    first, second = sorted(int(motion.line[row]) for row in (ridge.crest, ridge.trough))
    return finding("ridge", line=int(motion.line[ridge.crest]), at=ridge.at,
                   shown=motion.shown(ridge.crest, ridge.at), value=ridge.height, limit=face.wanted.ridge,
                   what="high", first=first, second=second, step=ridge.step,
                   along=heading_words(ridge.heading), fix=remedy(face, ridge))


def heading_of(face: Faced, row: int | None) -> float | None:
    """Direction of a straight move, rad from X; None where there is none."""
    motion = face.evidence.motion
    if row is None or motion.arc[row] >= 0:
        return None
    way = motion.end[row] - motion.start[row]
    return float(np.arctan2(way[1], way[0])) if way[:2].any() else None


def heading_words(heading: float | None) -> str:
    """How a ridge lies."""
    if heading is None:
        return ", along a bend"
    degrees = round(float(np.degrees(heading))) % 180
    return {0: ", along X", 90: ", along Y"}.get(degrees, f", at {degrees}° to X")


SAYING = {"edge-left": edge_left, "ridge": ridge_left, "missed-area": missed}


def place(face: Faced, piece: Leftover) -> tuple[int | None, Point, Point]:
    """The move nearest to blame (None: there is none), and the piece's middle on the board and as shown."""
    at = (*piece.at, face.wanted.z)
    row = piece.flanks[0] if piece.flanks else nearest(face, piece)
    x, y, z = face.evidence.stage.zero
    from_zero = (at[0] - x, at[1] - y, at[2] - z)
    return row, at, from_zero if row is None else face.evidence.motion.shown(row, at)


def nearest(face: Faced, piece: Leftover) -> int | None:
    """The row whose pass comes nearest to a piece; None where no pass is low enough."""
    passes = face.passes
    if not len(passes):
        nearest = min(passes.stamps, key=lambda stamp: stamp.shape.distance(piece.shape), default=None)
        return nearest and nearest.row
    numbers = np.arange(len(passes))
    apart = passes.distance(np.broadcast_to(piece.at, (len(numbers), 2)), numbers)
    return int(passes.row[apart.argmin()])


def line_of(face: Faced, row: int | None) -> int:
    return 0 if row is None else int(face.evidence.motion.line[row])


def face_figures(evidence: Evidence) -> FaceFigures | None:
    """The wanted faces of a stage as they are at its end, all together; None in stages that want none."""
    faces = faced(evidence)
    if not faces:
        return None
    lie = heights_of(faces)
    ridge = max((r for r in highest_ridges(evidence) if r is not None), key=lambda r: r.height, default=None)
    seen = lie.highest >= lie.lowest
    return FaceFigures(
        area=float(sum(face.region.area for face in faces)),
        missed_area=float(sum(piece.area for face in faces for piece in face.unfinished)),
        over_area=lie.over * evidence.surface.cell**2,
        highest=round(lie.highest, 6) if seen else None,
        lowest=round(lie.lowest, 6) if seen else None,
        ridge_height=(round(ridge.height, 6) if ridge else 0.0) if seen else None,
        band=lie.band, levels=lie.levels, histogram=lie.histogram,
        ridge=ridge_figures(evidence, ridge) if ridge and ridge.height > 0 else None)


def ridge_figures(evidence: Evidence, ridge: Ridge) -> RidgeFigures:
    first, second = sorted(int(evidence.motion.line[row]) for row in (ridge.crest, ridge.trough))
    direction = None if ridge.heading is None else float(np.degrees(ridge.heading)) % 180
    return RidgeFigures(round(ridge.height, 6), ridge.step, direction, (first, second))


CHECKS: tuple[Check, ...] = (unfinished, ridges)
