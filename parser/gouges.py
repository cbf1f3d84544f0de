"""Contours under cutter radius compensation as a whole: where the cutter is too wide for what it follows.

The law: beside its contour the cutter's axis keeps its radius away from every piece of it at the same height.
What the look at two neighbours cannot show (a slot narrower than the cutter) is found here. Source: NIST IR
6556, appendix B forbids such contours; the test is plane geometry.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .control import Control
from .meeting import Element, Line, Turn
from .motion import Motion
from .warp import Compensation

Piece = tuple[int, Element, float]  # its line, itself, its height
SLACK = 0.005  # mm: chords, and digits of a program
SAME = 1e-6  # mm: one height


def say_gouges(control: Control) -> None:
    """The worst place of each contour, as a finding at the line of the contour that is cut into."""
    if not control.contours:
        return
    motion = control.builder.motion()
    for contour in control.contours:
        found = min(gouges(contour, motion), default=None)
        if found is not None:
            control.line = found[1]
            control.say("compensation-gouge", about="compensation", deep=contour.radius - found[0],
                        other=found[2], cutter=contour.radius)


def gouges(contour: Compensation, motion: Motion) -> Iterator[tuple[float, int, int]]:
    """(distance, line of the piece, line of the move) wherever the axis comes too near to a piece."""
    import shapely  # loaded where a program compensates

    kept = walls(contour)
    if not kept:
        return
    lines, pieces, heights = zip(*kept, strict=True)
    tree = shapely.STRtree([shapely.LineString(piece.points()) for piece in pieces])
    rows = [row for row in range(contour.first, contour.stop) if beside(motion, row).length > SAME]
    ways = [shapely.LineString(beside(motion, row).points()) for row in rows]
    if not ways or contour.radius <= SLACK:
        return
    near = tree.query(ways, predicate="dwithin", distance=contour.radius - SLACK)
    for way, piece in near.T.tolist():
        if np.isclose(motion.end[rows[way], 2], heights[piece], rtol=0, atol=SAME):
            yield ways[way].distance(tree.geometries[piece]), lines[piece], int(motion.line[rows[way]])


def walls(contour: Compensation) -> list[Piece]:
    """The pieces that material stands behind: the closed part of a contour, without the ways that lead to it
    and away; of an open one all but the first and the last, which may be such ways."""
    pieces = contour.contour
    corners = [(*pieces[0][1].begin, pieces[0][2]), *((*piece.end, z) for _, piece, z in pieces)]
    first_at: dict[tuple[float, ...], int] = {}
    longest = (0, 0)
    for at, corner in enumerate(corners):
        begin = first_at.setdefault(tuple(round(value, 4) for value in corner), at)
        longest = max(longest, (at - begin, begin))
    count, begin = longest
    return pieces[begin:begin + count] if count else pieces[1:-1]


def beside(motion: Motion, row: int) -> Element:
    """A move in plan."""
    begin, end = (tuple(point[row, :2].tolist()) for point in (motion.start, motion.end))
    arc = int(motion.arc[row])
    if arc < 0:
        return Line(begin, end)
    x, y = motion.arcs.centre[arc].tolist()
    return Turn(begin, end, (x, y), float(motion.arcs.sweep[arc]))
