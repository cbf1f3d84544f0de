"""A cycle line carried out: where its holes are, from which levels, how often.

The law: NIST IR 6556, 3.5.16. Sticky are the numbers, not the positions; each line drills from the height
that the last one left; the drilling axis is the plane's third, and no plane is special.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, isnan, nan
from typing import Any

from .control import Control, Reason
from .cycles import CYCLES, Bore, Cycle, Stroke
from .modes import Group
from .motion import PLANE_AXES, Happening, Move, Spindle
from .motions import fail, hide, rate, target
from .orders import Order

MOST_PECKS = 100_000
MOST_REPEATS = 1_000_000


class NoCycle(Exception):
    """The cycle cannot run as written: the condition's name, the letter to blame, and its numbers."""

    def __init__(self, condition: str, letter: str = "", **numbers: Any) -> None:
        super().__init__(condition)
        self.condition, self.letter, self.numbers = condition, letter, numbers


def behaviour(control: Control, code: str) -> Cycle | None:
    """What the dialect has a cycle code do, None where that is not simulated."""
    return CYCLES.get(control.rule("cycle.codes").get(code, ""))


def drill(control: Control, order: Order, code: str) -> None:
    """G73, G81 to G89: the line's holes."""
    depth = PLANE_AXES[control.modes.plane][2]
    control.sticky.enter(code, control.here()[depth], control.rule("cycle.sticky_scope") == "all_cycles")
    try:
        keep(control, order)
        bore, count = plan(control, order, code)
        cycle = behaviour(control, code) or CYCLES["drill"]
        shift = shift_of(control, order, code) if cycle.aside else [0.0, 0.0, 0.0]
    except NoCycle as bad:
        where = order.span(bad.letter) if bad.letter in order.words else order.of(Group.MOTION)
        numbers = {"code": code, "letter": bad.letter, **bad.numbers}
        control.say(bad.condition, where, about=code, **numbers)
        lost = {depth, *(a for a in range(3) if "XYZ"[a] in order.axes)}
        fail(control, order, Reason("lost-cycle", code, {"line": control.line}), sorted(lost))
        return
    if control.rule("cycle.codes").get(code) == "by_hand":
        control.say("by-hand", order.of(Group.MOTION), about=code, code=code)
    run(control, order, code, bore, count, shift)


def keep(control: Control, order: Order) -> None:
    """The line's numbers replace those that the cycle kept, as written, in mm and seconds."""
    numbers, scale = control.sticky.numbers, control.frames.scale
    for letter, name in ((bottom_letter(control), "Z"), ("R", "R"), ("Q", "Q")):
        if letter in order.values:
            numbers[name] = order.values[letter] * scale
            control.sticky.absolute[name] = control.modes.absolute
    for letter in "IJK":
        if letter in order.values and letter != control.rule("cycle.repeat_word"):
            numbers[letter] = order.values[letter] * scale
    if "P" in order.values:
        milli = control.rule("dwell.cycle_p") == "ms" and not order.pointed("P")
        numbers["P"] = order.values["P"] / (1000.0 if milli else 1.0)


def bottom_letter(control: Control) -> str:
    return "XYZ"[PLANE_AXES[control.modes.plane][2]]


def plan(control: Control, order: Order, code: str) -> tuple[Bore, int]:
    """Levels, peck, dwell and repeats of the line. Raises NoCycle."""
    cycle = behaviour(control, code) or CYCLES["drill"]
    numbers, absolute = control.sticky.numbers, control.modes.absolute
    _needs(control, order, code, cycle)
    _kept(control, order)
    _left_on(control, order, code)
    depth = PLANE_AXES[control.modes.plane][2]
    here, shift = control.here()[depth], control.frames.shift[depth]
    r = numbers["R"] + (shift if absolute else here)
    bottom = numbers["Z"] + (shift if absolute else r)
    if cycle.upward and r > bottom:
        raise NoCycle("cycle-downward", "R", above=r - bottom)
    if bottom > r and not cycle.upward:
        raise NoCycle("cycle-upward", "R", above=bottom - r)
    back = here if cycle.upward else level(control, order, r, here)
    bore = Bore(r, bottom, back, _peck(control, cycle, numbers, r - bottom),
                _dwell(control, cycle, numbers, code), between=_between(control, order, r, back, cycle),
                backoff=control.rule("cycle.g83_backoff_mm"), nick=control.rule("cycle.g73_retract_mm"),
                upper=_upper(control, cycle, depth, bottom))
    return bore, repeats(control, order)


def _needs(control: Control, order: Order, code: str, cycle: Cycle) -> None:
    numbers = control.sticky.numbers
    if not any(letter in order.values for letter in control.rule("cycle.trigger_words")):
        raise NoCycle("cycle-no-place")
    if "Z" not in numbers:
        raise NoCycle("cycle-no-bottom", bottom_letter(control))
    if "R" not in numbers:
        raise NoCycle("cycle-no-r", "R")
    if cycle.turning and control.spindle is Spindle.STILL:
        raise NoCycle("cycle-still")
    if cycle.way and control.spindle is not Spindle(cycle.way):
        raise NoCycle("cycle-wrong-way", wanted="M3" if cycle.way > 0 else "M4")
    if control.modes.feed_mode == 93:
        raise NoCycle("cycle-inverse-time")
    if any(letter in order.values for letter in "ABC"):
        raise NoCycle("cycle-turning-axis")


def _upper(control: Control, cycle: Cycle, depth: int, bottom: float) -> float:
    """How high the report's G87 bores: a coordinate, under G91 counted from the bottom. Raises NoCycle."""
    if cycle is not CYCLES["back_bore"]:
        return bottom
    letter, numbers = "IJK"[depth], control.sticky.numbers
    if letter not in numbers:
        raise NoCycle("cycle-no-upper", letter)
    upper = numbers[letter] + (control.frames.shift[depth] if control.modes.absolute else bottom)
    if upper < bottom:
        raise NoCycle("cycle-downward", letter, above=bottom - upper)
    return upper


def shift_of(control: Control, order: Order, code: str) -> list[float]:
    """How far a cycle moves its stopped edge off the wall (mm, three axes): by the plane's centre letters, or
    by Q along an axis that a setting of the control chooses. Raises NoCycle where neither stands."""
    shift, numbers = [0.0, 0.0, 0.0], control.sticky.numbers
    axes = PLANE_AXES[control.modes.plane][:2]
    if any("IJK"[axis] in numbers for axis in axes):
        for axis in axes:
            shift[axis] = numbers.get("IJK"[axis], 0.0)
    elif "Q" in numbers and behaviour(control, code) is not CYCLES["back_bore"]:
        control.doubt("cycle.shift", order.of(Group.MOTION), code)
        way = control.rule("cycle.shift")
        shift[axes["xy".index(way[0])]] = abs(numbers["Q"]) * (-1 if way[1] == "-" else 1)
    else:
        raise NoCycle("cycle-no-shift", "IJK"[axes[0]])
    return shift


def _kept(control: Control, order: Order) -> None:
    """A kept R or bottom changes its meaning with G90 and G91."""
    for name in ("R", "Z"):
        if control.sticky.absolute.get(name) is (not control.modes.absolute):
            letter = bottom_letter(control) if name == "Z" else name
            control.sticky.absolute[name] = control.modes.absolute
            control.say("sticky-changed", order.of(Group.MOTION), about=letter, letter=letter)


def _left_on(control: Control, order: Order, code: str) -> None:
    """A line that names the depth alone while a cycle holds: a retract that someone meant, most often."""
    letter = bottom_letter(control)
    if Group.MOTION not in order.codes and order.axes == [letter] and "R" not in order.values:
        control.say("cycle-left-on", order.span(letter), about=code, code=code, letter=letter)


def _peck(control: Control, cycle: Cycle, numbers: dict[str, float], deep: float) -> float:
    if not cycle.pecks:
        return 0.0
    peck = numbers.get("Q")
    if control.rule("cycle.q_rule") == "magnitude":
        peck = abs(peck or 0.0)
    elif peck is None:
        raise NoCycle("cycle-no-peck", "Q")
    elif not peck > 0:
        raise NoCycle("cycle-peck-bad", "Q", number=f"{peck:g}")
    if peck and deep / peck > MOST_PECKS:
        raise NoCycle("cycle-peck-many", "Q", most=MOST_PECKS, deep=deep)
    return peck


def _dwell(control: Control, cycle: Cycle, numbers: dict[str, float], code: str) -> float:
    if not cycle.dwells:
        return 0.0
    dwell = numbers.get("P")
    if dwell is None and code not in ("G76", "G86", "G87"):
        control.say("cycle-no-dwell", about=code, code=code)
    if dwell is not None and dwell < 0:
        raise NoCycle("cycle-dwell-bad", "P", number=f"{dwell:g}")
    return dwell or 0.0


def level(control: Control, order: Order, r: float, here: float) -> float:
    """Where the last retract ends: R with G99, else the old height where that is higher."""
    if control.modes.to_r:
        return r
    series, old = control.sticky.series_level, here
    if series is not None and series > max(here, r):
        control.doubt("cycle.g98_level", order.of(Group.MOTION), "G98")
        old = series if control.rule("cycle.g98_level") == "series" else here
    return nan if isnan(old) else max(old, r)


def _between(control: Control, order: Order, r: float, back: float, cycle: Cycle) -> float:
    if not cycle.pecks or back == r:
        return r
    control.doubt("cycle.g83_return", order.of(Group.MOTION), "G83")
    return back if control.rule("cycle.g83_return") == "clear" else r


def repeats(control: Control, order: Order) -> int:
    """L (or the dialect's letter): a whole number from 1, 0 where the dialect then only stores."""
    letter = control.rule("cycle.repeat_word")
    letter = letter if letter in order.values else "L"
    count = order.values.get(letter, 1.0)
    least = 0 if control.rule("cycle.repeat_zero") == "store_only" else 1
    if not isfinite(count) or abs(count - round(count)) > 0.0001 or not least <= round(count) <= MOST_REPEATS:
        raise NoCycle("cycle-repeats", letter, number=f"{count:g}", least=least)
    if round(count) > 1 and control.modes.absolute:
        control.say("repeat-absolute", order.span(letter), about=letter, letter=letter, number=round(count))
    return round(count)


def run(control: Control, order: Order, code: str, bore: Bore, count: int, shift: Sequence[float]) -> None:
    """The moves: up to R if below, then for each repeat to the place, down to R, and the strokes."""
    depth = PLANE_AXES[control.modes.plane][2]
    feed = rate(control, order, nan)
    upward = (behaviour(control, code) or CYCLES["drill"]).upward
    if count and not upward and control.here()[depth] < bore.r:
        _along(control, depth, bore.r, Move.RAPID)
    for _ in range(count):
        _over(control, order, depth)
        if control.here()[depth] != bore.r and not upward:
            _along(control, depth, bore.r, Move.RAPID)
        _strokes(control, code, depth, bore, feed, shift)


def _over(control: Control, order: Order, depth: int) -> None:
    """Sideways to the hole at the present height."""
    end, named = target(control, order)
    end[depth] = control.here()[depth]
    hide(control, end)
    control.go(Move.RAPID, end, named=[a for a in named if a != depth], cycle=True)


def _along(control: Control, depth: int, height: float, kind: Move, feed: float = nan) -> None:
    end = list(control.here())
    end[depth] = height
    if height != height:
        control.reasons[depth] = Reason("lost-level", "G98", {"line": control.line})
    hide(control, end)
    control.go(kind, end, feed=feed, named=(depth,), cycle=True)


def _aside(control: Control, shift: Sequence[float], way: int) -> None:
    """Off the wall (1), or back over the hole (-1)."""
    end = [here + way * by for here, by in zip(control.here(), shift, strict=True)]
    hide(control, end)
    control.go(Move.RAPID, end, named=[axis for axis in range(3) if shift[axis]], cycle=True)


def _strokes(control: Control, code: str, depth: int, bore: Bore, feed: float,
             shift: Sequence[float]) -> None:
    turning = control.spindle
    cycle = behaviour(control, code) or CYCLES["drill"]
    for stroke, value in cycle.strokes(bore):
        if stroke is Stroke.RAPID:
            _along(control, depth, value, Move.RAPID)
        elif stroke is Stroke.FEED:
            _along(control, depth, value, Move.FEED, feed)
        elif stroke is Stroke.DWELL:
            control.event(Happening.DWELL, value, code)
        elif stroke in (Stroke.ASIDE, Stroke.BACK):
            _aside(control, shift, 1 if stroke is Stroke.ASIDE else -1)
        else:
            control.turn(Spindle.STILL if stroke is Stroke.STILL else turning, code)
