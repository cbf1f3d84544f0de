"""Arc lines: from an order's words to an arc, or to the reason why there is none.

The law: NIST IR 6556, 3.5.3. The words give a centre or a radius, never both; which letters and axes count
is the plane's. An arc that cannot be drawn leaves the axes that its line names unknown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import dist, hypot, isfinite

from . import arcs, compensation
from .control import Control, Reason
from .modes import Group
from .motion import PLANE_AXES, Move
from .motions import fail, rate, target
from .orders import Order


def arc(control: Control, order: Order, code: str) -> None:
    """G2 and G3 in the plane in force."""
    try:
        _arc(control, order, code == "G3")
    except arcs.NoArc as bad:
        control.say(bad.condition, order.of(Group.MOTION), about=code, **bad.numbers)
        fail(control, order, Reason("lost-arc", "arc", {"line": control.line}),
             () if order.axes else PLANE_AXES[control.modes.plane][:2])


def _arc(control: Control, order: Order, ccw: bool) -> None:
    first, second, third = PLANE_AXES[control.modes.plane]
    end, named = target(control, order)
    start = control.here()
    drawn = _drawn(control, order, ccw, (start[first], start[second]), (end[first], end[second]))
    if drawn is None or not isfinite(drawn.sweep + start[third] + end[third]):
        length = dist(control.tip, control.real(end))
        control.go(Move.FEED, end, named=named, feed=rate(control, order, length))
        return
    _doubtful(control, order, drawn)
    if control.comp is not None:
        compensation.arc(control, order, drawn, end, _along(control, order, drawn, start, end))
        return
    drawn, end = _warped(control, drawn, end)
    start = control.tip
    control.count_arc(control.modes.plane, control.line)
    feed = _along(control, order, drawn, start, end)
    control.builder.arc(control.line, start, end, plane=control.modes.plane, centre=drawn.centre,
                        sweep=drawn.sweep, feed=feed)
    control.tip = end


def _warped(control: Control, drawn: arcs.Arc, end: list[float]) -> tuple[arcs.Arc, list[float]]:
    """The arc as mirroring, scaling and rotation leave it. Raises NoArc where it is no arc any more."""
    warp, axes = control.frames.warp, PLANE_AXES[control.modes.plane]
    if warp is None:
        return drawn, end
    if not warp.keeps_circles(axes[:2]):
        raise arcs.NoArc("arc-warped")
    centre = [0.0, 0.0, 0.0]
    centre[axes[0]], centre[axes[1]] = drawn.centre
    centre[axes[2]] = end[axes[2]]
    moved = control.real(centre)
    sweep = -drawn.sweep if warp.flips(axes[:2]) else drawn.sweep
    return replace(drawn, centre=(moved[axes[0]], moved[axes[1]]), sweep=sweep), control.real(end)


def _along(control: Control, order: Order, drawn: arcs.Arc, start: Sequence[float],
           end: Sequence[float]) -> float:
    """Feed along the helix."""
    first, second, third = PLANE_AXES[control.modes.plane]
    ends = (start[first], start[second]), (end[first], end[second])
    radius = sum(arcs.distance(point, drawn.centre) for point in ends) / 2
    flat = radius * abs(drawn.sweep)
    length = hypot(flat, end[third] - start[third])
    circled = control.rule("arc.feed_on") == "circle" and control.modes.feed_mode != 93
    return rate(control, order, length) * (length / flat if circled else 1.0)


def _drawn(control: Control, order: Order, ccw: bool, start: arcs.Flat, end: arcs.Flat) -> arcs.Arc | None:
    """The arc that the words say; None for a straight line, or where start or end are not known."""
    letters = centre_letters(control)
    given = [letter for letter in letters if letter in order.values]
    _wrong_plane(control, order)
    if not any(letter in order.values for letter in end_letters(control)):
        _no_end(control, order)
    if "R" in order.values and given:
        control.say("arc-r-and-centre", order.span("R"), about="R")
    elif "R" not in order.values and not given:
        return _no_centre(control)
    if not isfinite(sum(start) + sum(end) + sum(order.values[c] for c in (*given, "R") if c in order.values)):
        return None
    if "R" in order.values:
        return _radius_arc(control, order, ccw, start, end)
    return _centre_arc(control, order, ccw, start, end)


def centre_letters(control: Control) -> list[str]:
    return ["IJK"[axis] for axis in PLANE_AXES[control.modes.plane][:2]]


def end_letters(control: Control) -> list[str]:
    return ["XYZ"[axis] for axis in PLANE_AXES[control.modes.plane][:2]]


def _wrong_plane(control: Control, order: Order) -> None:
    letter = "IJK"[PLANE_AXES[control.modes.plane][2]]
    if letter in order.values:
        control.say("centre-wrong-plane", order.span(letter), about=letter, letter=letter,
                    plane=f"G{control.modes.plane}")


def _no_end(control: Control, order: Order) -> None:
    control.doubt("arc.no_end", order.of(Group.MOTION), "G2 G3")
    letters = " and ".join(end_letters(control))
    if control.rule("arc.no_end") == "error":
        raise arcs.NoArc("arc-no-end", letters=letters)
    control.say("arc-no-end", order.of(Group.MOTION), about="arc", letters=letters)


def _no_centre(control: Control) -> None:
    if control.rule("arc.no_centre") == "error":
        raise arcs.NoArc("arc-no-centre", letters=" or ".join(centre_letters(control)))


def tolerance(control: Control) -> arcs.Tolerance:
    rule = control.rule("arc.tol")
    inch = control.frames.inch and "inch" in rule
    absolute = rule["inch"] * control.frames.scale if inch else rule["abs"]
    return arcs.Tolerance(absolute, rule.get("rel", 0.0), rule.get("abs_hard", 0.0))


def _turns(control: Control, order: Order) -> int:
    letter = control.rule("arc.turns_word")
    turns = order.values.get(letter, 1.0)
    if isfinite(turns) and 1 <= round(turns) <= 10_000 and abs(turns - round(turns)) <= 0.0001:
        return round(turns)
    control.say("arc-turns", order.span(letter), about=letter, letter=letter, number=f"{turns:g}", least=1,
                most=10_000)
    return 1


def _radius_arc(control: Control, order: Order, ccw: bool, start: arcs.Flat,
                end: arcs.Flat) -> arcs.Arc | None:
    if arcs.same(start, end) and control.rule("arc.r_full") == "none":
        return None
    return arcs.by_radius(start, end, order.values["R"] * control.frames.scale, ccw, tolerance(control),
                          _turns(control, order), control.rule("arc.r_short") == "stretch")


def _centre_arc(control: Control, order: Order, ccw: bool, start: arcs.Flat, end: arcs.Flat) -> arcs.Arc:
    letters, absolute = centre_letters(control), control.modes.centres_absolute
    numbers = [order.values.get(letter) for letter in letters]
    if absolute and None in numbers:
        raise arcs.NoArc("arc-both-letters", letters=" and ".join(letters))
    if control.modes.single and not absolute:
        sizes = [abs(n or 0.0) * control.frames.scale for n in numbers]
        return arcs.in_quadrant(start, end, (sizes[0], sizes[1]), ccw, tolerance(control))
    centre, other = _centres(control, [n or 0.0 for n in numbers], start, absolute)
    if None not in numbers and control.modes.said.isdisjoint({"G90.1", "G91.1"}):
        control.doubt("arc.centre_default", order.of(Group.MOTION), "I J K")
    try:
        return arcs.by_centre(start, end, centre, ccw, tolerance(control), _turns(control, order))
    except arcs.NoArc as bad:
        raise _hinted(control, bad, start, end, other) from None


def _centres(control: Control, numbers: Sequence[float], start: arcs.Flat,
             absolute: bool) -> tuple[arcs.Flat, arcs.Flat]:
    """The centre as the mode in force reads it, and as the other mode would."""
    scale, shift = control.frames.scale, control.frames.shift
    first, second, _ = PLANE_AXES[control.modes.plane]
    counted = start[0] + numbers[0] * scale, start[1] + numbers[1] * scale
    placed = numbers[0] * scale + shift[first], numbers[1] * scale + shift[second]
    return (placed, counted) if absolute else (counted, placed)


def _hinted(control: Control, bad: arcs.NoArc, start: arcs.Flat, end: arcs.Flat,
            other: arcs.Flat) -> arcs.NoArc:
    """The same mistake, with what would make the radii agree."""
    radius = arcs.distance(start, other)
    agree = tolerance(control).allows(abs(radius - arcs.distance(end, other)), radius)
    if bad.condition != "arc-radii-differ" or not agree or radius <= arcs.ROUNDING:
        return bad
    one, two = letters = centre_letters(control)
    name = "arc-centre-counted" if control.modes.centres_absolute else "arc-centre-absolute"
    return arcs.NoArc(name, **bad.numbers, letters=" and ".join(letters), one=one, two=two,
                      a=other[0] - start[0], b=other[1] - start[1])


def _doubtful(control: Control, order: Order, drawn: arcs.Arc) -> None:
    where = order.of(Group.MOTION)
    if drawn.doubt:
        control.say(drawn.doubt, where, about="arc", turned=abs(drawn.sweep) * arcs.DEGREES)
    elif drawn.difference > arcs.ROUNDING * 2:
        control.say("arc-rounded", where, about="arc", difference=drawn.difference)
