"""Cutter radius compensation: from the programmed contour to the path of the cutter's axis.

The law: NIST IR 6556, 3.5.10 and appendix B. The entry ends at a right angle beside its programmed point;
outside corners get an arc of the cutter's radius; an inside corner is refused, or cut where both offset
paths meet where the dialect looks ahead. What cannot be followed is said, and hides X and Y until G40.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import acos, atan2, cos, dist, hypot, isfinite, nan, pi, sin
from typing import Any

from .arcs import Arc
from .control import Control, Reason
from .gouges import say_gouges
from .meeting import CLOSE, Element, Flat, Line, Turn, element_of, meet
from .modes import Code, Group
from .motion import Move
from .orders import Order, whole
from .warp import Compensation

MOST_PIECES = 200_000  # of a contour that is looked at as a whole


class NotFollowed(Exception):
    """A contour that this cutter cannot follow: the condition's name and its numbers."""

    def __init__(self, condition: str, **numbers: Any) -> None:
        super().__init__(condition)
        self.condition, self.numbers = condition, numbers


# --- switching ---

def switch(control: Control, order: Order, code: Code) -> None:
    """G41 and G42 with their D, G40."""
    control.bent.pop("G40", None)
    if code.name == "G40":
        leave(control)
        return
    if control.comp is not None or control.modes.plane != 17 or control.frames.warp is not None:
        condition = "compensation-on" if control.comp is not None else "compensation-plane"
        control.say(condition, order.of(Group.RADIUS), about=code.name, code=code.name)
        return
    diameter = _diameter(control, order, code)
    if diameter is None:
        reason = Reason("lost-diameter", code.name, {"code": code.name, "line": control.line})
        control.bent["G40"] = "XY", reason
        return
    side = 1 if code.name.startswith("G41") else -1
    control.comp = Compensation(side if diameter >= 0 else -side, abs(diameter) / 2)


def leave(control: Control) -> None:
    """Compensation is over; the contour is kept, to be looked at as a whole."""
    if control.comp is not None and control.comp.contour:
        if control.comp.whole:
            control.comp.stop = len(control.builder)
        control.contours.append(control.comp)
        say_gouges(control, but=1)  # the moves of the last one may still change
    control.comp = None


def _keep(control: Control, comp: Compensation, piece: Element, height: float) -> None:
    """A piece of the contour, as long as it can be looked at as a whole."""
    if len(comp.contour) < MOST_PIECES:
        comp.contour.append((control.line, piece, height))
    elif comp.whole:
        comp.whole, comp.stop = False, len(control.builder)
        control.overlong.append(control.line)


def _diameter(control: Control, order: Order, code: Code) -> float | None:
    """By the D word, or the cutter in the spindle; None where it is not known."""
    if code.name.endswith(".1"):
        diameter = order.values.get("D", nan) * control.frames.scale
        return diameter if isfinite(diameter) else None
    number = control.frames.cutter
    if "D" in order.values:
        number = whole(control, order, "D", 0, 9999)
        if number == 0:
            return 0.0
    return None if number is None else control.diameters.get(number)


# --- following ---

def straight(control: Control, order: Order, rapid: bool, end: Sequence[float], named: Sequence[int],
             feed: float) -> None:
    """A straight line of the contour, programmed to `end`."""
    comp, kind = control.comp, Move.RAPID if rapid else Move.FEED
    assert comp is not None
    goal = end[0], end[1]
    try:
        if not isfinite(sum(control.tip[:2]) + sum(goal)):
            place, comp.entered = goal, False
        elif comp.entered and dist(comp.point, goal) < CLOSE:
            place = control.tip[0], control.tip[1]
        elif comp.entered:
            place = _beside(comp, comp.point, goal, goal)
            first = _beside(comp, comp.point, goal, comp.point)
            _join(control, comp, first, Line(first, place), feed, rapid)
            _keep(control, comp, Line(comp.point, goal), end[2])
        else:
            place = _entry(comp, (control.tip[0], control.tip[1]), goal)
            comp.entered, comp.first = True, len(control.builder) + 1
    except NotFollowed as bad:
        give_up(control, order, bad)
        return
    comp.point = goal
    control.go(kind, (*place, end[2]), named=named, feed=feed)


def arc(control: Control, order: Order, drawn: Arc, end: Sequence[float], feed: float) -> None:
    """An arc of the contour, programmed from where the last line of it ended."""
    comp = control.comp
    assert comp is not None
    begin, goal, centre = comp.point, (end[0], end[1]), drawn.centre
    try:
        if not comp.entered:
            raise NotFollowed("compensation-entry-arc")
        grown = -comp.side * comp.radius if drawn.sweep > 0 else comp.side * comp.radius
        radii = dist(begin, centre), dist(goal, centre)
        if min(radii) + grown <= CLOSE:
            raise NotFollowed("compensation-concave", radius=min(radii), cutter=comp.radius)
        first, last = (_along(centre, point, (r + grown) / r)
                       for point, r in zip((begin, goal), radii, strict=True))
        done = _join(control, comp, first, Turn(first, last, centre, drawn.sweep), feed, False)
    except NotFollowed as bad:
        give_up(control, order, bad)
        return
    _keep(control, comp, Turn(begin, goal, centre, drawn.sweep), end[2])
    comp.point = goal
    _turn_about(control, centre, drawn.sweep * (1 - done), [*last, end[2]], feed)


def _turn_about(control: Control, centre: Flat, sweep: float, place: list[float], feed: float) -> None:
    control.builder.arc(control.line, control.tip, place, plane=17, centre=centre, sweep=sweep, feed=feed)
    control.tip = place


def give_up(control: Control, order: Order, bad: NotFollowed) -> None:
    """The contour cannot be followed: X and Y are unknown until compensation ends."""
    control.say(bad.condition, order.of(Group.MOTION), about="compensation", **bad.numbers)
    reason = Reason("lost-contour", "compensation", {"line": control.line})
    leave(control)
    control.bent["G40"] = "XY", reason
    control.unplaced(reason)
    control.lose((0, 1), reason)


def _entry(comp: Compensation, here: Flat, goal: Flat) -> Flat:
    """Beside the first programmed point, at a right angle to the way there."""
    way = dist(here, goal)
    if way <= comp.radius:
        raise NotFollowed("compensation-entry", way=way, cutter=comp.radius)
    back = atan2(here[1] - goal[1], here[0] - goal[0]) - comp.side * acos(comp.radius / way)
    return goal[0] + comp.radius * cos(back), goal[1] + comp.radius * sin(back)


def _beside(comp: Compensation, begin: Flat, end: Flat, point: Flat) -> Flat:
    """The place beside a point of the line from begin to end."""
    along, up = end[0] - begin[0], end[1] - begin[1]
    reach = comp.side * comp.radius / hypot(along, up)
    return point[0] - up * reach, point[1] + along * reach


def _along(centre: Flat, point: Flat, factor: float) -> Flat:
    return centre[0] + (point[0] - centre[0]) * factor, centre[1] + (point[1] - centre[1]) * factor


# --- corners ---

def _join(control: Control, comp: Compensation, first: Flat, ahead: Element, feed: float,
          rapid: bool) -> float:
    """From beside the last element's end to beside the next one's beginning, `first`; `ahead` is the way
    beside that. How much of it the inside of a corner leaves out."""
    corner, here = comp.point, (control.tip[0], control.tip[1])
    if dist(here, first) < CLOSE:
        return 0.0
    turn = _turn(corner, here, first)
    if comp.side * turn < 0 or abs(turn) > pi - CLOSE:
        if not rapid:
            sweep = -comp.side * abs(turn)
            place = [*first, control.tip[2]]
            _turn_about(control, corner, sweep, place, feed)
        return 0.0
    if control.rule("compensation.inside") == "error":
        raise NotFollowed("compensation-inside", cutter=comp.radius)
    return _meet(control, ahead, comp.radius)


def _turn(corner: Flat, a: Flat, b: Flat) -> float:
    """The signed angle from a to b seen from a corner, counter-clockwise positive."""
    one, two = (a[0] - corner[0], a[1] - corner[1]), (b[0] - corner[0], b[1] - corner[1])
    return atan2(one[0] * two[1] - one[1] * two[0], one[0] * two[0] + one[1] * two[1])


def _meet(control: Control, ahead: Element, radius: float) -> float:
    """An inside corner: the last move ends where its way meets the one ahead, and that begins there."""
    before = control.builder.last()
    behind = None if before is None else element_of(*before)
    place = None if behind is None else meet(behind, ahead)
    if before is None or behind is None or place is None:
        raise NotFollowed("compensation-inside", cutter=radius)
    share = min(behind.share(place), 1.0)
    (*_, begin), (*_, height), bent = before
    if bent:
        height = begin + (height - begin) * share
    control.tip = [*place, height]
    control.builder.end_last_at(control.tip, bent[3] * share if bent else 0.0)
    return max(ahead.share(place), 0.0)
