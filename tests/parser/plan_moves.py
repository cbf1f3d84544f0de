"""Moves in plan, for tests that hold paths against plain geometry."""

from __future__ import annotations

from proveout.parser.meeting import Element, Line, Turn
from proveout.parser.motion import Motion


def beside(motion: Motion, row: int) -> Element:
    """A move in plan."""
    begin, end = (tuple(point[row, :2].tolist()) for point in (motion.start, motion.end))
    arc = int(motion.arc[row])
    if arc < 0:
        return Line(begin, end)
    x, y = motion.arcs.centre[arc].tolist()
    return Turn(begin, end, (x, y), float(motion.arcs.sweep[arc]))
