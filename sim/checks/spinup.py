"""Whether the spindle has come up to speed when the cutter first meets the board.

The law: time runs from each M3 or M4 that starts a still spindle to the first contact after it: whole moves,
dwells, and of the move that touches the part before it does. Where the program stops for the operator there
is time enough. Seconds.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from ...parser.motion import Event, Happening, Spindle
from ...parser.reading import Unchecked
from ..cutters import profile_of
from ..evidence import Check, Evidence, Said
from ..feeds import by_hand, cutting
from .repeats import repeated

EXACT = 1e-6  # s
WAITS = (Happening.STOP, Happening.OPTIONAL_STOP)


def spindle_early(evidence: Evidence) -> Iterator[Said]:
    """First contact sooner than the spindle needs."""
    taken, needed = np.flatnonzero(cutting(evidence)), evidence.job.machine.spin_up
    begun = starts(evidence)
    if not len(taken) or by_hand(evidence) or not begun:
        return
    if needed is None:
        yield Unchecked("contact before the spindle is up to speed", "machine.spin_up is not given")
        return
    ends = [*(event.before for event in begun[1:]), len(evidence.motion)]
    for start, until in zip(begun, ends, strict=True):
        rows = taken[(taken >= start.before) & (taken < until)]
        passed = waited(evidence, start, int(rows[0])) if len(rows) else needed
        if passed < needed - EXACT:
            row = int(rows[0])
            cutter = evidence.cutter(row)
            yield repeated("spindle-early", evidence, rows[:1], row, value=passed, limit=needed,
                           about=cutter.label if cutter else "",
                           code=start.code, switched=start.line, wait=needed - passed)


def starts(evidence: Evidence) -> list[Event]:
    """The events that set a still spindle turning, or turn it the other way."""
    found, direction = [], 0.0
    for event in evidence.motion.events:
        if event.kind is Happening.CUTTER:
            direction = 0.0
        elif event.kind is Happening.SPINDLE:
            if event.value not in (Spindle.STILL, direction):
                found.append(event)
            direction = event.value
    return found


def waited(evidence: Evidence, start: Event, row: int) -> float:
    """Seconds from a start to the contact in move `row`; inf where the program stops between them."""
    events = evidence.motion.events
    between = [e for e in events[events.index(start):] if e.before <= row]
    if any(e.kind in WAITS and e.value for e in between):
        return np.inf
    dwells = sum(e.value for e in between if e.kind is Happening.DWELL)
    moves = float(evidence.seconds[start.before:row].sum())
    return dwells + moves + part_before_contact(evidence, row) * float(evidence.seconds[row])


def part_before_contact(evidence: Evidence, row: int) -> float:
    """How much of a straight move (0 to 1) the cutter makes before it can touch the board; 0 for arcs."""
    motion, cutter = evidence.motion, evidence.cutters[row]
    if motion.arc[row] >= 0 or cutter is None:
        return 0.0
    return max(_down(evidence, row), _along(evidence, row, profile_of(cutter).radius))


def _down(evidence: Evidence, row: int) -> float:
    """The part of a move above everything that stands on the board."""
    z0, z1 = evidence.motion.start[row, 2], evidence.motion.end[row, 2]
    top = float(np.nanmax(evidence.cut.before))
    return float((z0 - top) / (z0 - z1)) if z0 > top > z1 else 0.0


def _along(evidence: Evidence, row: int, radius: float) -> float:
    """The part of a move beside the board."""
    start, end = evidence.motion.start[row, :2], evidence.motion.end[row, :2]
    length = float(np.hypot(*(end - start)))
    if length < EXACT:
        return 0.0
    near = shapely.intersection(shapely.LineString((start, end)), shapely.buffer(evidence.board, radius))
    return float(shapely.distance(near, shapely.Point(start))) / length if not near.is_empty else 0.0


CHECKS: tuple[Check, ...] = (spindle_early,)
