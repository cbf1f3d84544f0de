"""Contours under cutter radius compensation as a whole: where the cutter is too wide for what it follows.

The law: beside its contour the cutter's axis keeps its radius away from every piece of it at the same height.
What the look at two neighbours cannot show (a slot narrower than the cutter) is found here. Source: NIST IR
6556, appendix B forbids such contours; the test is plane geometry.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from .meeting import Element, element_of
from .motion import MotionBuilder
from .warp import Compensation

if TYPE_CHECKING:
    from .control import Control

Piece = tuple[int, Element, float]  # its line, itself, its height
SLACK = 0.005  # mm: chords, and digits of a program
SAME = 1e-6  # mm: one height


def say_gouges(control: Control, but: int = 0) -> None:
    """The worst place of each contour that is over, but for the last few, as a finding at the line of the
    contour that is cut into; their pieces are let go."""
    done = control.contours[:len(control.contours) - but]
    del control.contours[:len(done)]
    here = control.line
    for contour in done:
        found = min(gouges(contour, control.builder), default=None)
        if found is not None:
            control.line = found[1]
            control.say("compensation-gouge", about="compensation", deep=contour.radius - found[0],
                        other=found[2], cutter=contour.radius)
    control.line = here


def gouges(contour: Compensation, builder: MotionBuilder) -> Iterator[tuple[float, int, int]]:
    """(distance, line of the piece, line of the move) wherever the axis comes too near to a piece."""
    kept = walls(contour)
    moves = builder.lines_and_moves(contour.first, contour.stop)
    ways = [(line, way, end[2]) for line, (start, end, arc) in moves
            if (way := element_of(start, end, arc)) is not None and way.length > SAME]
    if not kept or not ways or contour.radius <= SLACK:
        return
    import shapely  # loaded where a program compensates

    lines, pieces, heights = zip(*kept, strict=True)
    tree = shapely.STRtree([shapely.LineString(piece.points()) for piece in pieces])
    drawn = [shapely.LineString(way.points()) for _, way, _ in ways]
    near = tree.query(drawn, predicate="dwithin", distance=contour.radius - SLACK)
    for at, piece in near.T.tolist():
        if abs(ways[at][2] - heights[piece]) <= SAME:
            yield drawn[at].distance(tree.geometries[piece]), lines[piece], ways[at][0]


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
