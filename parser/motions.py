"""Straight moves, arcs and the way home: from an order to moves of the tip.

The law: a handler takes the control and one order, and leaves the tip where the machine leaves it. An arc
that cannot be drawn leaves the axes that it names unknown [NIST IR 6556, 3.5.1 to 3.5.3, 3.5.8, 3.5.12].
"""

from __future__ import annotations

from collections.abc import Sequence
from math import dist, hypot, isfinite, nan

from . import arcs
from .control import Control, Reason
from .modes import Group
from .motion import PLANE_AXES, Move
from .orders import Order

NO_ORIGIN = Reason("lost-machine", "machine position")
NO_HOME = Reason("lost-home", "home position")
NO_VALUE = Reason("lost-value", "value")


def target(control: Control, order: Order, machine: bool = False) -> tuple[list[float], list[int]]:
    """Where the line's axis words lead (board frame, mm) and which axes they name."""
    end, named = list(control.tip), []
    frames, values = control.frames, order.values
    for axis in range(3):
        number = values.get("XYZ"[axis])
        if number is None or "XYZ"[axis] not in order.axes:
            continue
        named.append(axis)
        if machine:
            place = frames.from_machine(axis, number * frames.scale)
        elif control.modes.absolute:
            place = number * frames.scale + frames.shift[axis]
        else:
            place = end[axis] + number * frames.scale
        if place != place:
            control.reasons[axis] = _why(control, axis, number, machine)
        end[axis] = place
    hide(control, end)
    return end, named


def _why(control: Control, axis: int, number: float, machine: bool) -> Reason:
    if not isfinite(number):
        return NO_VALUE
    if machine:
        return NO_ORIGIN
    return control.offset_reason if control.modes.absolute else control.reasons[axis]


def hide(control: Control, end: list[float]) -> None:
    """Transformations that are not simulated: the axes that they touch are unknown."""
    for axes, reason in control.bent.values():
        for letter in axes:
            axis = "XYZ".index(letter)
            end[axis], control.reasons[axis] = nan, reason


def fail(control: Control, order: Order, reason: Reason, axes: Sequence[int] = ()) -> None:
    """The line's motion is unknown: the axes that it names (or `axes`) are from now on."""
    lost = axes or [a for a in range(3) if "XYZ"[a] in order.axes]
    if not lost:
        return
    end = list(control.tip)
    for axis in lost:
        end[axis], control.reasons[axis] = nan, reason
    control.unplaced(reason)
    control.go(Move.FEED, end)


# --- straight ---

def straight(control: Control, order: Order, code: str) -> None:
    """G0 and G1, and G53 with either."""
    machine = Group.MACHINE in order.codes
    if machine and not control.modes.absolute:
        control.say("g53-with-g91", order.of(Group.MACHINE), about="G53")
    end, named = target(control, order, machine)
    if code == "G0":
        control.go(Move.RAPID, end, named=named, machine=machine)
    else:
        control.go(Move.FEED, end, named=named, feed=rate(control, order, dist(control.tip, end)))


def rate(control: Control, order: Order, length: float) -> float:
    """Feed along the path in mm/min, NaN (and a finding) where there is none."""
    mode, feed = control.modes.feed_mode, control.feed
    if mode == 93:
        feed = order.values.get("F", 0.0)
        return length * feed if feed else no_feed(control, "G93 wants an F word over 0 on every feed line")
    if not feed:
        if feed is None and control.rule("feed.initial") == "machine":
            return nan
        return no_feed(control, "F is 0" if feed == 0 else "no F word came before it")
    if mode == 95:
        if not control.speed:
            return no_feed(control, "G95 feeds by the turn, and no S was given")
        return feed * control.frames.scale * control.speed
    return feed * control.frames.scale


def no_feed(control: Control, why: str) -> float:
    last = control.findings[-1] if control.findings else None
    if last is None or (last.kind, last.line) != ("feed-missing", control.line):
        control.say("feed-missing", does=why)
    return nan


# --- arcs ---

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
    start = control.tip
    drawn = _drawn(control, order, ccw, (start[first], start[second]), (end[first], end[second]))
    if drawn is None or not isfinite(drawn.sweep + start[third] + end[third]):
        control.go(Move.FEED, end, named=named, feed=rate(control, order, dist(start, end)))
        return
    _doubtful(control, order, drawn)
    feed = _along(control, order, drawn, start, end)
    control.builder.arc(control.line, start, end, plane=control.modes.plane, centre=drawn.centre,
                        sweep=drawn.sweep, feed=feed)
    control.tip = end


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


def _tolerance(control: Control) -> arcs.Tolerance:
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
    return arcs.by_radius(start, end, order.values["R"] * control.frames.scale, ccw, _tolerance(control),
                          _turns(control, order), control.rule("arc.r_short") == "stretch")


def _centre_arc(control: Control, order: Order, ccw: bool, start: arcs.Flat, end: arcs.Flat) -> arcs.Arc:
    letters, absolute = centre_letters(control), control.modes.centres_absolute
    numbers = [order.values.get(letter) for letter in letters]
    if absolute and None in numbers:
        raise arcs.NoArc("arc-both-letters", letters=" and ".join(letters))
    centre, other = _centres(control, [n or 0.0 for n in numbers], start, absolute)
    if None not in numbers and control.modes.said.isdisjoint({"G90.1", "G91.1"}):
        control.doubt("arc.centre_default", order.of(Group.MOTION), "I J K")
    try:
        return arcs.by_centre(start, end, centre, ccw, _tolerance(control), _turns(control, order))
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
    agree = _tolerance(control).allows(abs(radius - arcs.distance(end, other)), radius)
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


# --- home ---

def home(control: Control, order: Order, code: str) -> None:
    """G28 and G30: through the point that is programmed, then to the stored position."""
    named = [a for a in range(3) if "XYZ"[a] in order.axes]
    if control.rule("home.kind") == "homing":
        end = list(control.tip)
        _home(control, end, named or [0, 1, 2], (nan, nan, nan))
        return
    if named:
        if control.modes.absolute:
            written = " ".join(f"{c}{order.values[c]:g}" for c in "XYZ" if c in order.axes)
            control.say("home-absolute", order.of(Group.ONCE), about=code, code=code, written=written)
        end, _ = target(control, order)
        control.go(Move.RAPID, end, named=named)
    stored = control.home30 if code == "G30" else control.home28
    _home(control, list(control.tip), _homed(control, order, code, named), stored)


def _homed(control: Control, order: Order, code: str, named: list[int]) -> list[int]:
    """The axes that the second move takes home."""
    if not named:
        return [] if control.rule("home.no_words") == "none" else [0, 1, 2]
    if len(named) < 3:
        control.doubt("home.axes", order.of(Group.ONCE), code)
    return named if control.rule("home.axes") == "named" else [0, 1, 2]


def _home(control: Control, end: list[float], axes: Sequence[int], stored: Sequence[float]) -> None:
    for axis in axes:
        end[axis] = control.frames.from_machine(axis, stored[axis])
        if end[axis] != end[axis]:
            control.reasons[axis] = NO_HOME
    hide(control, end)
    control.go(Move.RAPID, end, named=axes, machine=True)
