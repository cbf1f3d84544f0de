"""Corners that a word behind a comma rounds (,R) or breaks (,C): where this line's move meets the next one's.

The law: both moves are shortened to where the rounding touches them, or to where the break leaves them, and
the corner's own move is put between. What cannot be made is said and stays sharp. Source: practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, dist, hypot, isfinite, pi, sin, tau

from .control import Control, Span
from .meeting import CLOSE, Element, Flat, Line, Turn, element_of, meet
from .motion import Move
from .orders import Order

WORDS = (",R", ",C")
ROUNDED = frozenset({"G1", "G2", "G3"})


@dataclass(frozen=True, slots=True)
class Corner:
    """What the line at hand says of its end: `size` in mm (the radius, or the length cut off each way)."""

    word: str
    size: float
    line: int
    span: Span


class Sharp(Exception):
    """A corner that cannot be made; the message says why."""


def asked(control: Control, order: Order, motion: str) -> Corner | None:
    """The corner that a line asks for at its end."""
    word = next((word for word in WORDS if word in order.values), None)
    if word is None:
        return None
    size = order.values[word] * control.frames.scale
    corner = Corner(word, size, control.line, order.span(word))
    if motion not in ROUNDED or not (size > 0 and isfinite(size)):
        refuse(control, corner, "it stands with no feed move, or is not over 0")
        return None
    return corner


def make(control: Control, corner: Corner, before: int) -> None:
    """Put the corner between the move that was the last of `before` and the one made since."""
    builder = control.builder
    try:
        if control.comp is not None or control.modes.plane != 17:
            raise Sharp("it goes with G17, and not with G41 or G42")
        if len(builder) != before + 1 or builder.tail() < 2:
            raise Sharp("no single move follows it")
        (a, one), (b, two) = ((row, element_of(*row)) for row in builder.last_two())
        if one is None or two is None or not min(one.length, two.length) > CLOSE:
            raise Sharp("the moves before and behind it do not both go along X and Y")
        first, last, between = (rounded if corner.word == ",R" else broken)(one, two, corner.size)
    except Sharp as why:
        refuse(control, corner, str(why))
        return
    height, feed = a[1][2], builder.feed_of_last(2)
    share = two.share(last)
    builder.drop_last()
    builder.end_last_at((*first, height), a[2][3] * one.share(first) if a[2] else 0.0)
    if isinstance(between, Turn):
        builder.arc(corner.line, (*first, height), (*last, height), plane=17, centre=between.centre,
                    sweep=between.sweep, feed=feed)
    else:
        builder.move(Move.FEED, corner.line, (*first, height), (*last, height), feed=feed)
    builder.put_back((*last, height), b[2][3] * (1 - share) if b[2] else 0.0)


def refuse(control: Control, corner: Corner, why: str) -> None:
    line, control.line = control.line, corner.line
    control.say("corner-bad", corner.span, about=corner.word, word=corner.word, why=why)
    control.line = line


# --- geometry ---

def broken(one: Element, two: Element, size: float) -> tuple[Flat, Flat, Element]:
    """Where the way leaves the first line and comes to the second. Raises Sharp."""
    if not (isinstance(one, Line) and isinstance(two, Line)):
        raise Sharp("only two straight moves can be broken")
    if size >= min(one.length, two.length):
        raise Sharp("a move beside it is shorter than what it takes")
    first, last = _along(one, 1 - size / one.length), _along(two, size / two.length)
    return first, last, Line(first, last)


def rounded(one: Element, two: Element, radius: float) -> tuple[Flat, Flat, Element]:
    """Where the rounding touches each, and the rounding itself: its centre lies a radius beside both."""
    turn = _way(two, two.begin) - _way(one, one.end)
    turn = (turn + pi) % tau - pi
    if abs(turn) < CLOSE:
        raise Sharp("both moves go on in one direction")
    side = 1.0 if turn > 0 else -1.0
    beside = _beside(one, side * radius), _beside(two, side * radius)
    centre = None if None in beside else meet(*beside)  # type: ignore[arg-type]
    if centre is None:
        raise Sharp("a move beside it is shorter than what it takes")
    first, last = _touched(one, centre), _touched(two, centre)
    sweep = (atan2(last[1] - centre[1], last[0] - centre[0])
             - atan2(first[1] - centre[1], first[0] - centre[0])) * side % tau
    return first, last, Turn(first, last, centre, side * sweep)


def _along(line: Line, share: float) -> Flat:
    return tuple(a + (b - a) * share for a, b in zip(line.begin, line.end, strict=True))  # type: ignore


def _way(element: Element, point: Flat) -> float:
    """The direction of travel at a point of it, radians."""
    if isinstance(element, Line):
        return atan2(element.end[1] - element.begin[1], element.end[0] - element.begin[0])
    arm = atan2(point[1] - element.centre[1], point[0] - element.centre[0])
    return arm + (pi / 2 if element.sweep > 0 else -pi / 2)


def _beside(element: Element, off: float) -> Element | None:
    """The same, `off` to its left; None where an arc has no room for that."""
    if isinstance(element, Line):
        way = _way(element, element.begin)
        by = -off * sin(way), off * cos(way)
        return Line(*((p[0] + by[0], p[1] + by[1]) for p in (element.begin, element.end)))
    grown = element.radius - off * (1 if element.sweep > 0 else -1)
    if grown <= CLOSE:
        return None
    begin, end = (_from(element.centre, point, grown) for point in (element.begin, element.end))
    return Turn(begin, end, element.centre, element.sweep)


def _from(centre: Flat, point: Flat, radius: float) -> Flat:
    """The place at a radius from a centre, toward a point."""
    away = dist(centre, point)
    return (centre[0] + (point[0] - centre[0]) * radius / away,
            centre[1] + (point[1] - centre[1]) * radius / away)


def _touched(element: Element, centre: Flat) -> Flat:
    """The place of an element that is nearest to a centre beside it."""
    if isinstance(element, Line):
        return _along(element, element.share(centre))
    return _from(element.centre, centre, hypot(element.begin[0] - element.centre[0],
                                               element.begin[1] - element.centre[1]))
