"""The program as a whole against the board: is it the right size, does it get there at all.

The law: a program that is plainly meant for something else is told so before any detail is. Scaling is
about the program's own zero, as the control would scale it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from ...parser.family import guess
from ...parser.motion import Floats
from ...parser.reading import Unchecked
from ...parser.units import MM_PER_INCH
from ..evidence import Check, Evidence, Said
from ..feeds import Rows, loaded
from .repeats import repeated

GROWN = 2.0  # cutter diameters around the board that a path may reach
SPANS = 0.30  # of a side of the board: a scaled path spans at least so much
TINY = 0.08  # of both sides: an unscaled path smaller than this is suspect
HUGE = 3.0  # boards: an unscaled path larger than this is suspect
FARTHEST = 100_000.0  # mm: no move is longer
CLEAR_OF = 0.01  # mm: a path that stays closer above the board touches it


def scale_suspect(evidence: Evidence) -> Iterator[Said]:
    """The program is 25.4 times too large or too small for the board."""
    rows = np.flatnonzero(evidence.motion.is_feed & evidence.motion.placed)
    board = np.array(evidence.board.bounds).reshape(2, 2)
    if not len(rows) or not np.isfinite(board).all():
        return
    size, sides = _size(_path(evidence, rows, 1.0)), board[1] - board[0]
    if not ((size < TINY * sides).all() or (size > HUGE * sides).any()):
        return
    for factor, said in ((MM_PER_INCH, "25.4"), (1 / MM_PER_INCH, "1/25.4")):
        if _fits(_path(evidence, rows, factor), board, GROWN * _widest(evidence, rows)):
            side = int((size / sides).argmax())
            yield repeated("scale-suspect", evidence, rows, rows[0], value=size[side], limit=sides[side],
                           factor=said, axis="XY"[side])


def _path(evidence: Evidence, rows: Rows, factor: float) -> Floats:
    """(m, 2) corners of the boxes around the path in plan, scaled about the zero that is active there."""
    corners = evidence.motion.boxes()[rows]
    shift = np.array([state.shift for state in evidence.motion.states])[evidence.motion.state[rows]][:, None]
    return ((corners - shift) * factor + shift)[..., :2].reshape(-1, 2)


def _size(points: Floats) -> Floats:
    return points.max(axis=0) - points.min(axis=0)


def _fits(points: Floats, board: Floats, margin: float) -> bool:
    """Whether a scaled path lies on the grown board and takes up a good part of it."""
    inside = (points >= board[0] - margin).all() and (points <= board[1] + margin).all()
    return bool(inside and (_size(points) >= SPANS * (board[1] - board[0])).any())


def _widest(evidence: Evidence, rows: Rows) -> float:
    return max((c.diameter or 0.0 for c in evidence.cutters[rows] if c is not None), default=0.0)


def off_board(evidence: Evidence) -> Iterator[Said]:
    """The cut passes beside or above the board and never meets it (asked where all of it is placed)."""
    motion = evidence.motion
    rows = np.flatnonzero(motion.is_feed & motion.placed & loaded(evidence))
    if not len(rows) or (evidence.cut.volume[rows] > 0).any() or _partly_unplaced(evidence):
        return
    beside, nearest = _beside(evidence, rows)
    above, lowest = _above(evidence, rows)
    if beside > 0:
        yield repeated("off-board", evidence, rows, nearest, value=beside, by=beside,
                       what="The cut never meets the board: it passes beside it by",
                       fix="Check X and Y of the zero and of the program; they are off by at least")
    elif above > CLEAR_OF:
        yield repeated("off-board", evidence, rows, lowest, value=above, by=above,
                       what="The cut never meets the board: it stays above it by",
                       fix="Check Z of the zero; the path would have to come down by at least")


def _partly_unplaced(evidence: Evidence) -> bool:
    return any(found.kind == "unplaced" for found in evidence.reading.findings)


def _beside(evidence: Evidence, rows: Rows) -> tuple[float, int]:
    """The least distance in plan between the cutter and the board, and the move that comes so near.

    An arc counts as the box around it, which is near enough for a path off the board.
    """
    motion = evidence.motion
    ends = np.stack((motion.start[rows, :2], motion.end[rows, :2]), axis=1)
    paths = np.array(shapely.linestrings(ends), object)
    round_ = motion.arc[rows] >= 0
    boxes = motion.boxes()[rows[round_]]
    paths[round_] = shapely.box(boxes[:, 0, 0], boxes[:, 0, 1], boxes[:, 1, 0], boxes[:, 1, 1])
    radius = np.array([(c.diameter or 0.0) / 2 for c in evidence.cutters[rows]])
    gaps = shapely.distance(paths, evidence.board) - radius
    return float(gaps.min()), int(rows[gaps.argmin()])


def _above(evidence: Evidence, rows: Rows) -> tuple[float, int]:
    """How far the lowest feed move stays above the highest place of the board, and which it is."""
    heights = evidence.cut.before
    top = float(np.nanmax(heights)) if np.isfinite(heights).any() else evidence.job.board.top
    low = np.minimum(evidence.motion.start[rows, 2], evidence.motion.end[rows, 2])
    return float(low.min()) - top, int(rows[low.argmin()])


def too_far(evidence: Evidence) -> Iterator[Said]:
    """A move that no machine of this trade could make."""
    length = evidence.motion.length()
    rows = np.flatnonzero(length > FARTHEST)
    if len(rows):
        worst = rows[length[rows].argmax()]
        yield repeated("off-board", evidence, rows, worst, about="length", value=length[worst], by=FARTHEST,
                       limit=FARTHEST, what="The move is longer than any machine:",
                       fix="Check the decimal points on this line, and G20 or G21; no move is longer than")


def other_trade(evidence: Evidence) -> Iterator[Said]:
    """A program of another trade: what of it nobody looked at."""
    source = evidence.reading.source
    if source.data and (family := guess(source)).blind:
        yield Unchecked(family.blind, f"this seems to be {family.title} ({family.why})")


CHECKS: tuple[Check, ...] = (scale_suspect, off_board, too_far, other_trade)
