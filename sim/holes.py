"""Holes as a program drills them: descents on one axis, and full turns about one centre.

The law: a hole is found from the moves alone, exactly; pecks into it and turns about it are one hole.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FoundHole:
    """A drilled hole, mm, board frame.

    `at` its axis in plan · `bottom` Z where the full diameter ends · `tip` the lowest Z that the cutter
    reached · `line` the program's line that made the bottom · `moves` the rows of the motion that made
    it, in order · `entry` Z from which the cutter went down.
    """

    at: tuple[float, float]
    diameter: float
    bottom: float
    tip: float
    line: int
    moves: tuple[int, ...]
    entry: float
