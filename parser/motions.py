"""Straight moves and the way home: from an order to moves of the tip.

The law: a handler takes the control and one order, and leaves the tip where the machine leaves it
[NIST IR 6556, 3.5.1, 3.5.2, 3.5.8, 3.5.12].
"""

from __future__ import annotations

from collections.abc import Sequence
from math import dist, isfinite, nan

from . import compensation
from .control import Control, Reason
from .modes import Group
from .motion import Move, Spindle
from .orders import Order
from .reading import UNKNOWN
from .transforms import from_polar

NO_ORIGIN = Reason("lost-machine", "machine position")
NO_HOME = Reason("lost-home", "home position")
PROBED = 5061  # the parameter of what X measured [NIST IR 6556, Table 2]
NEAREST_PROBE = 0.254  # mm, 0.01 in: a probing move is longer [NIST IR 6556, 3.5.9]


def target(control: Control, order: Order, machine: bool = False) -> tuple[list[float], list[int]]:
    """Where the line's axis words lead, as the program counts (board, mm), and which axes they name."""
    end, named = list(control.tip if machine else control.here()), []
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
    if control.polar is not None:
        from_polar(control, order, end)
    hide(control, end)
    return end, named


def _why(control: Control, axis: int, number: float, machine: bool) -> Reason:
    if not isfinite(number):
        return Reason("lost-value", "value", {"line": control.line})
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
    """The line's motion is unknown: the axes that it names (or `axes`) are from now on. A line that names
    none may move nothing: then the moves behind it are the first without a place."""
    lost = axes or [a for a in range(3) if "XYZ"[a] in order.axes]
    if not lost or not (order.axes or Group.MOTION in order.codes or order.values.keys() & {"I", "J", "K"}):
        control.lose(lost, reason)
        return
    end = list(control.here())
    for axis in lost:
        end[axis], control.reasons[axis] = nan, reason
    control.unplaced(reason)
    control.go(Move.FEED, end)


# --- straight ---

def straight(control: Control, order: Order, code: str) -> None:
    """G0 and G1, and G53 with either. Machine Z 0 is the top of the travel: below it lies what is unknown."""
    machine = Group.MACHINE in order.codes
    if machine and not control.modes.absolute:
        control.say("g53-with-g91", order.of(Group.MACHINE), about="G53")
    end, named = target(control, order, machine)
    length = dist(control.tip, end if machine else control.real(end))
    feed = nan if code == "G0" else rate(control, order, length)
    if control.comp is not None and not machine:
        compensation.straight(control, order, code == "G0", end, named, feed)
    else:
        control.go(Move.RAPID if code == "G0" else Move.FEED, end, named=named, machine=machine,
                   high=machine and order.values.get("Z", 0.0) >= 0, feed=feed)


def rate(control: Control, order: Order, length: float) -> float:
    """Feed along the path in mm/min, NaN (and a finding) where there is none."""
    mode, feed = control.modes.feed_mode, control.feed
    if mode == 93:
        feed = order.values.get("F", 0.0)
        return length * feed if feed else no_feed(
            control, "G93 wants an F word over 0 on every feed line", "feed-inverse-missing")
    if not feed:
        if feed is None and control.rule("feed.initial") == "machine":
            return nan
        return no_feed(control, "F is 0" if feed == 0 else "no F word came before it")
    if mode == 95:
        if not control.speed:
            return no_feed(control, "G95 feeds by the turn, and no S was given")
        if control.spindle is Spindle.STILL:
            return no_feed(control, "G95 feeds by the turn, and the spindle stands still")
        return feed * control.frames.scale * control.speed
    return feed * control.frames.scale


def no_feed(control: Control, why: str, condition: str = "feed-missing") -> float:
    last = control.findings[-1] if control.findings else None
    if last is None or (last.kind, last.line) != ("feed-missing", control.line):
        control.say(condition, does=why)
    return nan


def probe(control: Control, order: Order, code: str) -> None:
    """G38.2 to G38.5, G31: toward a place, and where it ends only the machine knows."""
    where = order.of(Group.MOTION if Group.MOTION in order.codes else Group.ONCE)
    if code != "G31":  # that may wait for any signal
        _probes(control, order, code)
    rate(control, order, 1.0)
    if _measured(control, order):
        return
    control.say("probe", where, about=code, code=code)
    fail(control, order, Reason("lost-probe", code, {"code": code, "line": control.line}))


def _measured(control: Control, order: Order) -> bool:
    """Whether a person has said what each axis of the line will measure (#5061 to #5063): the tip is there
    then. The way there is no cut, and is left out."""
    named = [axis for axis in range(3) if "XYZ"[axis] in order.axes]
    known = [control.setting.parameters.get(PROBED + axis) for axis in named]
    if not named or None in known:
        return False
    for axis, value in zip(named, known, strict=True):
        control.tip[axis] = (value or 0.0) * control.frames.scale + control.frames.shift[axis]
    return True


def _probes(control: Control, order: Order, code: str) -> None:
    """What breaks a probe or makes it lie [NIST IR 6556, 3.5.9]."""
    if control.spindle is not Spindle.STILL:
        control.say("probe-turning", about="spindle", code=code)
    for letter in (c for c in "ABC" if c in order.values):
        control.say("probe-further", order.span(letter), about=letter, code=code, letter=letter)
    end, named = target(control, order)
    away = dist([control.here()[axis] for axis in named], [end[axis] for axis in named])
    if named and away < NEAREST_PROBE:
        control.say("probe-near", about=code, code=code, near=away, least=NEAREST_PROBE)


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
    stored = control.home28 if code == "G28" else control.home30
    if code == "G30" and order.values.get("P", 2.0) != 2.0:  # a third or fourth place, which no key gives
        stored = UNKNOWN
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
    control.go(Move.RAPID, end, named=axes, machine=True, high=True)
