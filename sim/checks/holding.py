"""What holds the board while it is cut: enough of it, not all in one line, and near enough to the cut.

The law: a screw bears where it stands on a part, a clamp where it lies over one. Hold-down forces are never
checked; this only sees where there is nothing that could hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ...parser.finding import Finding, Severity, finding
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Phase, Said
from ..feeds import Rows, cutting
from ..held import Holder, bearing, farthest_cut, span_of
from ..solids import HeadSolid
from ..windows import runs
from .repeats import repeated

SLENDER = 0.2  # hold-downs whose strip is narrower than this part of its length, and of the board across it,
#                are in one line: common practice, no published source
ROUND = 10.0  # mm: a proposed span is rounded up to this
FEWEST = 3.0  # hold-downs that do not lie in one line


def loose(evidence: Evidence) -> Iterator[Said]:
    """A part is cut while too little holds it."""
    job = evidence.job
    if not job.fasteners and not job.clamps:
        yield Unchecked("what holds the board", "the job describes no screws and no clamps")
        return
    for phase in evidence.phases:
        for name, part in parts(evidence):
            rows = cut_in(evidence, phase, part)
            holders = bearing(phase, part)
            how = too_little(holders, part) if len(rows) else None
            if how is not None:
                yield repeated("loose", evidence, rows, rows[0], about=name, value=len(names(holders)),
                               limit=FEWEST, what=how,
                               severity=Severity.CAUTION if holders else Severity.STOP)


def parts(evidence: Evidence) -> list[tuple[str, BaseGeometry]]:
    """The parts of the board by name; without any the pieces of its outline."""
    if evidence.job.board.parts:
        return [(piece.name, piece.outline) for piece in evidence.lying]
    pieces = shapely.get_parts(evidence.board)
    return [("the board" if len(pieces) == 1 else f"piece {number} of the board", piece)
            for number, piece in enumerate(pieces, 1)]


def cut_in(evidence: Evidence, phase: Phase, part: BaseGeometry) -> Rows:
    """The moves of a phase that take material of a part: where they cut deepest, and where they cut last."""
    rows = np.flatnonzero(cutting(evidence)[phase.first:phase.stop]) + phase.first
    surface, there = evidence.surface, np.zeros(len(evidence.motion), np.bool_)
    mask = surface.mask(part)
    for band in surface.bands():
        last = runs(surface.last[band][mask[band]])[0] - np.int32(evidence.cut.first_id)
        there[last[last >= 0]] = True
    return rows[there[rows] | shapely.intersects_xy(part, *evidence.cut.deepest_at[rows].T)]


def names(holders: Sequence[Holder]) -> set[str]:
    return {holder.about for holder in holders}


def too_little(holders: Sequence[Holder], part: BaseGeometry) -> str | None:
    """What is wrong with what holds a part, None where nothing is."""
    if not holders:
        return "nothing bears on it"
    if len(names(holders)) == 1:
        return f"only {holders[0].about} bears on it"
    places = np.array([place for holder in holders for place in ends(holder, part)])
    return "all that bears on it lies in one line" if in_one_line(places, part) else None


def in_one_line(places: NDArray[np.float64], part: BaseGeometry) -> bool:
    """Whether the strip about places (n, 2) is slender, for its length and for the part that lies across it:
    on a narrow slat two rows stand close together, and hold it."""
    box = shapely.get_coordinates(shapely.oriented_envelope(shapely.MultiPoint(places)))
    if len(box) < 4:
        return True
    sides = np.diff(box[:3], axis=0)
    lengths = np.hypot(*sides.T)
    across = sides[np.argmin(lengths)] / lengths.min()
    reach = np.ptp(shapely.get_coordinates(part) @ across)
    return bool(lengths.min() <= SLENDER * min(lengths.max(), reach))


def ends(holder: Holder, part: BaseGeometry) -> list[tuple[float, float]]:
    """Where a holder bears: a screw at its axis, a clamp at both ends of its contact."""
    if isinstance(holder, HeadSolid):
        return [holder.at]
    contact = shapely.oriented_envelope(shapely.intersection(part, holder.footprint.shape))
    corners = shapely.get_coordinates(contact)
    if len(corners) < 4:
        return [tuple(corner) for corner in corners.tolist()]
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    along = first if np.hypot(*first) >= np.hypot(*second) else second
    middle = corners[:4].mean(axis=0)
    return [tuple((middle - along / 2).tolist()), tuple((middle + along / 2).tolist())]


def held_sparsely(evidence: Evidence) -> Iterator[Finding]:
    """A place is cut that lies far from everything that holds the board."""
    motion = evidence.motion
    for piece, place, row, away in farthest_cut(evidence):
        span = span_of(evidence, piece)
        if away > span:
            at = (*place, float(motion.end[row, 2]))
            yield finding("held-sparsely", line=int(motion.line[row]), at=at, shown=motion.shown(row, at),
                          value=away, limit=span, where=motion.shown(row, at)[:2],
                          enough=ceil(away / ROUND) * ROUND)


CHECKS: tuple[Check, ...] = (loose, held_sparsely)
