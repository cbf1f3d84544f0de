"""The short way for plain lines: straight moves of plain numbers, the great majority.

The law: a line taken here does exactly what its Order would do, and says nothing; any other line is left
to the long way. The tests hold both ways against each other.
"""

from __future__ import annotations

from math import dist, isfinite, nan

from .choosing import choose
from .control import STANDING, Control
from .motion import Move
from .written import Block, Number

BITS = {"X": 1, "Y": 2, "Z": 4, "G": 8, "F": 16}
AXIS_BITS, G_BIT = 7, 8
FARTHEST = 1e7  # mm: what goes farther has more to be said about it


def plain(control: Control, block: Block) -> bool:
    """Carry out a plain line; false where it is none."""
    modes, frames = control.modes, control.frames
    if modes.feed_mode != 94 or block.assignments or not control.simple:
        return False
    motion, feed, end = modes.motion, control.feed, list(control.tip)
    absolute, scale, shift = modes.absolute, frames.scale, frames.shift
    seen = 0
    for word in block.words:
        value, bit = word.value, BITS.get(word.letter, 0)
        if not bit or seen & bit or type(value) is not Number:
            return False
        seen |= bit
        number = value.value
        if bit < G_BIT:
            axis = bit >> 1
            end[axis] = number * scale + (shift[axis] if absolute else end[axis])
        elif bit == G_BIT:
            if number != 0.0 and number != 1.0:
                return False
            motion = "G1" if number else "G0"
        elif number > 0:
            feed = number
        else:
            return False
    if not seen & AXIS_BITS or motion not in ("G0", "G1") or (motion == "G1" and not feed):
        return False
    if not (isfinite(sum(control.tip)) and abs(end[0]) + abs(end[1]) + abs(end[2]) < FARTHEST):
        return False
    if motion != modes.motion:
        choose(control, motion)
    control.feed = feed
    _go(control, motion == "G0", end, (feed or 0.0) * scale)
    return True


def _go(control: Control, rapid: bool, end: list[float], feed: float) -> None:
    if dist(control.tip, end) >= STANDING:
        control.builder.move(Move.RAPID if rapid else Move.FEED, control.line, control.tip, end,
                             feed=nan if rapid else feed)
        control.tip = end
