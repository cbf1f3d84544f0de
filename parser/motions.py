"""Straight moves, arcs and the way home: from an order to moves of the tip.

The law: a handler takes the control and one order, and leaves the tip where the machine leaves it. An arc
that cannot be drawn leaves the axes that it names unknown [NIST IR 6556, 3.5.1 to 3.5.3, 3.5.8, 3.5.12].
"""

from __future__ import annotations

from collections.abc import Sequence
from math import dist, hypot, isfinite, nan

from . import arcs
from .control import NO_ORIGIN, Control, Reason
from .finding import Severity
from .modes import Group
from .motion import PLANE_AXES, Move
from .orders import Order

HOME_UNKNOWN = Reason("it goes to the machine's stored home position, which is not given",
                      "Give machine.origin and the stored position, or go to a position of the work offset instead",
                      "home")
VALUE_UNKNOWN = Reason("a value that it depends on is known to the machine only",
                       "Give that value, for example with --set '#500=3'", "value")


def target(control: Control, order: Order, machine: bool = False) -> tuple[list[float], list[int]]:
    """Where the line's axis words lead (board frame, mm) and which axes they name."""
    end, named = list(control.tip), []
    frames, values = control.frames, order.values
    for axis in range(3):
        number = values.get("XYZ"[axis])
        if number is None:
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
    if control.bent:
        hide(control, end)
    return end, named


def _why(control: Control, axis: int, number: float, machine: bool) -> Reason:
    if not isfinite(number):
        return VALUE_UNKNOWN
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
    lost = axes or [a for a in range(3) if "XYZ"[a] in order.values]
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
    if machine and not machine_ok(control, order, code):
        return
    end, named = target(control, order, machine)
    if code == "G0":
        control.go(Move.RAPID, end, named=named, machine=machine)
    else:
        control.go(Move.FEED, end, named=named, feed=rate(control, order, dist(control.tip, end)))


def machine_ok(control: Control, order: Order, code: str) -> bool:
    """G53 wants G0 or G1, axis words, and absolute numbers."""
    where = order.of(Group.MACHINE)
    if not order.axes:
        control.say("value-bad", where, condition="word-missing", about="G53", fix="Add X, Y or Z to the line",
                    what="G53 needs axis words, and the line has none")
        return False
    if not control.modes.absolute:
        control.say("code-conflict", where, condition="g53-with-g91", about="G53",
                    what="G53 asks for a machine position while G91 counts increments",
                    fix="Put G90 on the line")
    return True


def rate(control: Control, order: Order, length: float) -> float:
    """Feed along the path in mm/min, NaN (and a finding) where there is none."""
    mode, feed = control.modes.feed_mode, control.feed
    if mode == 93:
        if "F" not in order.values:
            return no_feed(control, "G93 wants an F word on every feed line")
        feed = order.values["F"]
        return length * feed if feed > 0 else no_feed(control, "F is 0")
    if not feed:
        return no_feed(control, "F is 0" if feed == 0 else "no F word came before it")
    if mode == 95:
        if not control.speed:
            return no_feed(control, "G95 feeds per turn, and no S was given")
        return feed * control.frames.scale * control.speed
    return feed * control.frames.scale


def no_feed(control: Control, why: str) -> float:
    last = control.findings[-1] if control.findings else None
    if last is None or (last.kind, last.line) != ("feed-missing", control.line):
        control.say("feed-missing", condition="feed-missing", why=why)
    return nan


# --- arcs ---

def arc(control: Control, order: Order, code: str) -> None:
    """G2 and G3 in the plane in force."""
    try:
        _arc(control, order, code == "G3")
    except arcs.NoArc as bad:
        weight = control.say("arc-mismatch", order.of(Group.MOTION), condition="arc-mismatch", about=code,
                             value=bad.difference, limit=bad.limit, what=bad.what, fix=bad.fix)
        fail(control, order, Reason(f"the arc cannot be drawn: {bad.what}", bad.fix, "arc"),
             () if order.axes else PLANE_AXES[control.modes.plane][:2])
        assert weight is not Severity.NOTE


def _arc(control: Control, order: Order, ccw: bool) -> None:
    first, second, third = PLANE_AXES[control.modes.plane]
    end, named = target(control, order)
    start = control.tip
    flat_start, flat_end = (start[first], start[second]), (end[first], end[second])
    needed = (*flat_start, *flat_end, start[third], end[third])
    if not all(isfinite(v) for v in needed):
        control.go(Move.FEED, end, named=named, feed=rate(control, order, nan))
        return
    drawn = _drawn(control, order, ccw, flat_start, flat_end)
    if drawn is None:
        control.go(Move.FEED, end, named=named, feed=rate(control, order, dist(start, end)))
        return
    _doubtful(control, order, drawn)
    radius = (arcs.distance(flat_start, drawn.centre) + arcs.distance(flat_end, drawn.centre)) / 2
    length = hypot(radius * drawn.sweep, end[third] - start[third])
    control.builder.arc(control.line, start, end, plane=control.modes.plane, centre=drawn.centre,
                        sweep=drawn.sweep, feed=rate(control, order, length))
    control.tip = end


def _drawn(control: Control, order: Order, ccw: bool, start: arcs.Flat, end: arcs.Flat) -> arcs.Arc | None:
    """The arc that the words say, None for a straight line (a dialect may want one)."""
    plane, values = control.modes.plane, order.values
    letters = ["IJK"[a] for a in PLANE_AXES[plane][:2]]
    given = [letter for letter in letters if letter in values]
    radius = values.get("R")
    _wrong_plane(control, order)
    if not any("XYZ"[a] in values for a in PLANE_AXES[plane][:2]):
        _no_end(control, order)
    if radius is not None and given:
        _both_formats(control, order)
        given = []
    if radius is not None:
        return _radius_arc(control, order, radius, ccw, start, end)
    if not given:
        return _no_centre(control)
    return _centre_arc(control, order, letters, ccw, start, end)


def _tolerance(control: Control) -> arcs.Tolerance:
    rule = control.rule("arc.tol")
    absolute = rule["inch" if control.frames.inch and "inch" in rule else "abs"]
    scale = control.frames.scale if control.frames.inch and "inch" in rule else 1.0
    return arcs.Tolerance(absolute * scale, rule.get("rel", 0.0), rule.get("abs_hard", 0.0))


def _turns(control: Control, order: Order) -> int:
    letter = control.rule("arc.turns_word")
    if letter not in order.values:
        return 1
    turns = order.values[letter]
    if turns < 1 or abs(turns - round(turns)) > 0.0001:
        control.say("value-bad", order.span(letter), condition="value-range", about=letter,
                    what=f"{letter} counts an arc's turns and must be a whole number from 1; it is {turns:g}",
                    fix=f"Write {letter}1 or more")
        return 1
    return round(turns)


def _radius_arc(control: Control, order: Order, radius: float, ccw: bool, start: arcs.Flat,
                end: arcs.Flat) -> arcs.Arc | None:
    if arcs.same(start, end) and control.rule("arc.r_full") == "none":
        return None
    return arcs.by_radius(start, end, radius * control.frames.scale, ccw, _tolerance(control),
                          _turns(control, order), control.rule("arc.r_short") == "stretch")


def _centre_arc(control: Control, order: Order, letters: Sequence[str], ccw: bool, start: arcs.Flat,
                end: arcs.Flat) -> arcs.Arc:
    absolute = control.modes.centres_absolute
    numbers = [order.values.get(letter) for letter in letters]
    if absolute and None in numbers:
        raise arcs.NoArc("with G90.1 both centre letters are needed", f"Write both {' and '.join(letters)}")
    centre, other = _centres(control, [n or 0.0 for n in numbers], start, absolute)
    tolerance, turns = _tolerance(control), _turns(control, order)
    if "G90.1" not in control.modes.said and "G91.1" not in control.modes.said:
        control.doubt("arc.centre_default", order.span(letters[0]), "I J K")
    try:
        return arcs.by_centre(start, end, centre, ccw, tolerance, turns)
    except arcs.NoArc as bad:
        raise _hinted(bad, letters, start, end, other, tolerance, absolute) from None


def _centres(control: Control, numbers: Sequence[float], start: arcs.Flat,
             absolute: bool) -> tuple[arcs.Flat, arcs.Flat]:
    """The centre as the mode in force reads it, and as the other mode would."""
    scale, shift = control.frames.scale, control.frames.shift
    first, second, _ = PLANE_AXES[control.modes.plane]
    counted = start[0] + numbers[0] * scale, start[1] + numbers[1] * scale
    placed = numbers[0] * scale + shift[first], numbers[1] * scale + shift[second]
    return (placed, counted) if absolute else (counted, placed)


def _hinted(bad: arcs.NoArc, letters: Sequence[str], start: arcs.Flat, end: arcs.Flat, other: arcs.Flat,
            tolerance: arcs.Tolerance, absolute: bool) -> arcs.NoArc:
    """The same mistake, with what would make the radii agree."""
    gap = abs(arcs.distance(start, other) - arcs.distance(end, other))
    if bad.difference is None or not tolerance.allows(gap, arcs.distance(start, other)):
        return bad
    names = " and ".join(letters)
    if absolute:
        return arcs.NoArc(f"{bad.what}; they agree when {names} are read as increments from the start",
                          f"Put G91.1 before it, or write {names} as absolute coordinates", bad.difference, bad.limit)
    return arcs.NoArc(f"{bad.what}; they agree when {names} are read as absolute coordinates",
                      f"Write {letters[0]}{other[0] - start[0]:.4f} {letters[1]}{other[1] - start[1]:.4f} mm from "
                      "the start, or put G90.1 before it where the control has it", bad.difference, bad.limit)


def _wrong_plane(control: Control, order: Order) -> None:
    third = PLANE_AXES[control.modes.plane][2]
    letter = "IJK"[third]
    if letter in order.values:
        control.say("code-conflict", order.span(letter), condition="centre-wrong-plane", about=letter,
                    what=f"{letter} is no centre letter in the plane of G{control.modes.plane}",
                    fix=f"Take {letter} out, or choose the plane with G17, G18 or G19 first")


def _no_end(control: Control, order: Order) -> None:
    control.doubt("arc.no_end", order.of(Group.MOTION), "G2 G3")
    if control.rule("arc.no_end") == "error":
        first, second, _ = ("XYZ"[a] for a in PLANE_AXES[control.modes.plane])
        raise arcs.NoArc(f"it names no end point in its plane ({first} or {second})",
                         f"Write {first} and {second} of the end, the start's own for a whole circle")


def _both_formats(control: Control, order: Order) -> None:
    control.say("code-conflict", order.span("R"), condition="arc-r-and-centre", about="R",
                what="R and centre letters stand together; controls ignore one or the other",
                fix="Leave out R, or the centre letters")


def _no_centre(control: Control) -> None:
    if control.rule("arc.no_centre") == "error":
        raise arcs.NoArc("it has neither R nor a centre letter of its plane", "Add R, or I and J (G17), "
                         "I and K (G18), J and K (G19)")


def _doubtful(control: Control, order: Order, drawn: arcs.Arc) -> None:
    if drawn.doubt:
        control.say("word-doubtful", order.of(Group.MOTION), condition="arc-ill-conditioned", about="arc",
                    what=drawn.doubt, fix="Write the arc with centre letters and two distinct ends, or as two arcs")
    elif drawn.difference > arcs.ROUNDING * 2:
        control.say("word-doubtful", order.of(Group.MOTION), condition="arc-rounded", about="arc",
                    what=f"the arc's radii at start and end differ by {drawn.difference:.4f} mm, more than "
                    "rounding of three decimals gives", fix="Write four decimals for I, J and the end point")


# --- home ---

def home(control: Control, order: Order, code: str) -> None:
    """G28 and G30: through the point that is programmed, then to the stored position."""
    named = [a for a in range(3) if "XYZ"[a] in order.values]
    if named:
        if control.modes.absolute:
            _absolute_home(control, order, code)
        end, _ = target(control, order)
        control.go(Move.RAPID, end, named=named)
    axes = list(range(3))
    if named and len(named) < 3:
        control.doubt("home.axes", order.of(Group.ONCE), code)
        axes = named if control.rule("home.axes") == "named" else axes
    stored = control.home30 if code == "G30" else control.home28
    end = list(control.tip)
    for axis in axes:
        end[axis] = control.frames.from_machine(axis, stored[axis])
        if end[axis] != end[axis]:
            control.reasons[axis] = HOME_UNKNOWN
    if control.bent:
        hide(control, end)
    control.go(Move.RAPID, end, named=axes, machine=True)


def _absolute_home(control: Control, order: Order, code: str) -> None:
    written = " ".join(f"{letter}{order.values[letter]:g}" for letter in "XYZ" if letter in order.values)
    control.say("word-doubtful", order.of(Group.ONCE), condition="home-absolute", about=code,
                what=f"with G90 in force {code} first goes to {written} of the work offset, then home",
                fix=f"Write G91 {code} with zeros, so that it goes home straight, and G90 after it")
