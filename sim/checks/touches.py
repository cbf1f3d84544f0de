"""Where Z is touched off, and cutters that come into the spindle without it.

The law: Z is true where the cutting edges stand on the board as most of it lies. The first cutter that a
stage loads is the one Z was zeroed with; each other needs a touch-off or a length offset of its own. mm.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from ...parser.finding import finding
from ...parser.job import Cutter, Touch
from ...parser.motion import Happening
from ...parser.reading import Unchecked
from ..cutters import profile_of
from ..evidence import Check, Evidence, Said
from ..faced import openings
from ..feeds import by_cutter, cutting
from ..seating import cells_between
from ..setup import changes_in_order
from ..surface import Surface
from .repeats import repeated

LOW = 0.1  # mm under the middle height of the board; common practice, no published source
EXACT = 1e-4  # mm: heights are right to this
HIGHER = 0.01  # mm: what stands out by less under the core does not carry the cutter


def touch_missing(evidence: Evidence) -> Iterator[Said]:
    """Cutters that cut with neither a touch-off nor a length offset of their own."""
    if evidence.job.one_cutter:
        return
    motion, first = evidence.motion, zeroed_with(evidence)
    offset = motion.column("length_offset")
    without = cutting(evidence) & (motion.column("cutter") != first) & ~(offset > 0)
    for cutter, rows in by_cutter(evidence, without):
        if first is not None and not touched(evidence, cutter.number):
            yield repeated("touch-missing", evidence, rows, rows[0], about=cutter.label, number=cutter.number)


def zeroed_with(evidence: Evidence) -> int | None:
    """The number of the cutter that Z was zeroed with: the first that cuts or is loaded."""
    loads = [event for event in evidence.motion.events if event.kind is Happening.CUTTER and event.value]
    taken = np.flatnonzero(cutting(evidence))
    if not loads or (len(taken) and taken[0] < loads[0].before):
        cutter = evidence.cutter(int(taken[0])) if len(taken) else None
        return cutter.number if cutter else None
    return int(loads[0].value)


def touched(evidence: Evidence, number: int) -> bool:
    """Whether the job has a cutter touched off, or gives it a zero where it is changed."""
    changes = evidence.stage.changes
    touches = [*evidence.stage.touch, *(change.touch for change in changes if change.touch)]
    return any(touch.cutter in (None, number) for touch in touches) or any(
        change.cutter == number and change.zero is not None for change in changes)


def touch_doubt(evidence: Evidence) -> Iterator[Said]:
    """Touch-offs in a hole, on a low place or under the core."""
    for touch, row in touches(evidence):
        number = evidence.stage.cutter if touch.cutter is None else touch.cutter
        cutter = evidence.job.cutter(number) or evidence.job.cutters[0]
        if touch.on == "board" and touch.at is None:
            yield Unchecked("where Z is touched", f"the touch of {cutter.label} has no place (at)")
        elif touch.on == "bed" and evidence.bed_top is None:
            yield Unchecked("where Z is touched", "the bed's height is not known: Z0 is the stage's zero")
        elif touch.on == "board" and touch.at is not None:
            board = evidence.board_then(row, evidence.board)
            yield from doubts(evidence, cutter, touch.at, board)


def touches(evidence: Evidence) -> Iterator[tuple[Touch, int]]:
    """Each touch-off with the move before which it is made."""
    loads = {int(event.value): event.before for event in reversed(evidence.motion.events)
             if event.kind is Happening.CUTTER}
    yield from ((touch, loads.get(touch.cutter or 0, 0)) for touch in evidence.stage.touch)
    changes = changes_in_order(evidence.job, evidence.stage, evidence.reading, must_reach=False)
    yield from ((change.touch, row) for row, _, change in changes if change.touch is not None)


def doubts(evidence: Evidence, cutter: Cutter, at: tuple[float, float], board: Surface) -> Iterator[Said]:
    """What is wrong with the place where a cutter is touched off."""
    profile = profile_of(cutter)
    radius = profile.radius if profile.flat else 0.0  # a drill touches with its point
    rim = highest(board, at, profile.core, radius)
    core = highest(board, at, 0.0, profile.core) if profile.core else -np.inf
    usual = usual_height(evidence, board)
    if rim is None:
        where, height = "beside the board", None
    elif core is not None and core > rim + HIGHER:
        where, height = "on what lies under its core, where it has no edge", core
    elif rim < usual - LOW - EXACT:
        hole = shapely.intersects_xy(shapely.union(openings(evidence), evidence.drilled), *at)
        where, height = ("in a hole" if hole else "on a low place"), rim
    else:
        return
    x, y, z = evidence.stage.zero
    place = (*at, usual if height is None else height)
    yield finding("touch-doubt", at=place, shown=(place[0] - x, place[1] - y, place[2] - z), value=height,
                  limit=usual, about=cutter.label, where=where, place=(place[0] - x, place[1] - y))


def highest(board: Surface, at: tuple[float, float], inner: float, outer: float) -> float | None:
    """The highest cell of the board in a ring; None where it has none there."""
    cells = cells_between(board, at, inner, outer)
    return float(cells.max()) if len(cells) else None


def usual_height(evidence: Evidence, board: Surface) -> float:
    """The middle height of the board, holes and recesses left out."""
    gone = board.mask(shapely.union(openings(evidence), evidence.drilled))
    return float(np.median(board.heights[board.on_board & ~gone]))


CHECKS: tuple[Check, ...] = (touch_missing, touch_doubt)
