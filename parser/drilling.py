"""A cycle line carried out: where its holes are, from which levels, how often.

The law: NIST IR 6556, 3.5.16. Sticky are the numbers, not the positions; each line drills from the height
that the last one left; the drilling axis is the plane's third, and no plane is special.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, isnan, nan

from .control import Control, Reason
from .cycles import CYCLES, Bore, Cycle, Stroke
from .modes import Group
from .motion import PLANE_AXES, Happening, Move, Spindle
from .motions import fail, hide, rate, target
from .orders import Order

MOST_PECKS = 100_000
MOST_REPEATS = 1_000_000


class NoCycle(Exception):
    """The cycle cannot run as written."""

    def __init__(self, what: str, fix: str, letter: str = "") -> None:
        super().__init__(what)
        self.what, self.fix, self.letter = what, fix, letter


def drill(control: Control, order: Order, code: str) -> None:
    """G73, G81 to G89: the line's holes."""
    depth = PLANE_AXES[control.modes.plane][2]
    control.sticky.enter(code, control.tip[depth], control.rule("cycle.sticky_scope") == "all_cycles")
    try:
        keep(control, order)
        bore, repeats = plan(control, order, code)
    except NoCycle as bad:
        where = order.span(bad.letter) if bad.letter in order.words else order.of(Group.MOTION)
        control.say("cycle-bad", where, condition="cycle-bad", about=code, what=bad.what, fix=bad.fix)
        lost = {depth, *(a for a in range(3) if "XYZ"[a] in order.values)}
        fail(control, order, Reason(f"the cycle cannot run: {bad.what}", bad.fix, code), sorted(lost))
        return
    run(control, order, code, bore, repeats)


def keep(control: Control, order: Order) -> None:
    """The line's numbers replace those that the cycle kept, as written, in mm and seconds."""
    numbers, scale = control.sticky.numbers, control.frames.scale
    bottom = "XYZ"[PLANE_AXES[control.modes.plane][2]]
    for letter in (bottom, "R", "Q"):
        if letter in order.values:
            numbers["Z" if letter == bottom else letter] = order.values[letter] * scale
    if "P" in order.values:
        milli = control.rule("dwell.cycle_p") == "ms" and not order.pointed("P")
        numbers["P"] = order.values["P"] / (1000.0 if milli else 1.0)


def plan(control: Control, order: Order, code: str) -> tuple[Bore, int]:
    """Levels, peck, dwell and repeats of the line. Raises NoCycle."""
    cycle, numbers = CYCLES[code], control.sticky.numbers
    depth = PLANE_AXES[control.modes.plane][2]
    _needs(control, order, code)
    here, shift = control.tip[depth], control.frames.shift[depth]
    absolute = control.modes.absolute
    r = numbers["R"] + (shift if absolute else here)
    bottom = numbers["Z"] + (shift if absolute else r)
    if bottom > r:
        raise NoCycle(f"its bottom lies {bottom - r:.4g} mm above R", "Write R above the bottom", "R")
    back = level(control, order, r, here)
    bore = Bore(r, bottom, back, *_words(control, cycle, numbers),
                between=_between(control, order, code, r, back, cycle),
                backoff=control.rule("cycle.g83_backoff_mm"), nick=control.rule("cycle.g73_retract_mm"))
    if bore.peck and (r - bottom) / bore.peck > MOST_PECKS:
        raise NoCycle(f"Q {bore.peck:g} mm makes over {MOST_PECKS} pecks", "Write a larger Q", "Q")
    return bore, repeats(control, order)


def _needs(control: Control, order: Order, code: str) -> None:
    numbers = control.sticky.numbers
    bottom = "XYZ"[PLANE_AXES[control.modes.plane][2]]
    if not any(letter in order.values for letter in "XYZ") and "R" not in control.rule("cycle.trigger_words"):
        raise NoCycle("the line has no X, Y or Z", "Write the hole's position on the line")
    if "Z" not in numbers:
        raise NoCycle(f"{code} needs {bottom} the first time: how deep the hole is", f"Add {bottom} to the line")
    if "R" not in numbers:
        raise NoCycle(f"{code} needs R the first time: the level to start from", "Add R to the line")
    if CYCLES[code].turning and control.spindle is Spindle.STILL:
        raise NoCycle(f"{code} stops the spindle in the hole, and it does not turn", "Start it with M3 and S first")
    if control.modes.feed_mode == 93:
        raise NoCycle("a cycle cannot run with G93 in force", "Put G94 before it, with an F word")
    if any(letter in order.values for letter in "ABC"):
        raise NoCycle("a turning axis moves on the line", "Turn the axis on a line of its own")


def _words(control: Control, cycle: Cycle, numbers: dict[str, float]) -> tuple[float, float]:
    """Peck depth and dwell."""
    peck, dwell = numbers.get("Q", 0.0), numbers.get("P", 0.0)
    rule = control.rule("cycle.q_rule")
    if cycle.pecks and rule == "magnitude":
        peck = abs(peck)
    elif cycle.pecks and not peck > 0:
        raise NoCycle(f"Q is {peck:g}: each peck needs a depth over 0" if "Q" in numbers
                      else "it needs Q: how deep each peck goes", "Write Q with the depth of a peck", "Q")
    if cycle.dwells and dwell < 0:
        raise NoCycle(f"P is {dwell:g}: a dwell cannot be negative", "Write P with the seconds to wait", "P")
    return (peck if cycle.pecks else 0.0), (dwell if cycle.dwells else 0.0)


def level(control: Control, order: Order, r: float, here: float) -> float:
    """Where the last retract ends: R with G99, else the old height where that is higher."""
    if control.modes.to_r:
        return r
    series = control.sticky.series_level
    old = here
    if series is not None and series > max(here, r):
        control.doubt("cycle.g98_level", order.of(Group.MOTION), "G98")
        old = series if control.rule("cycle.g98_level") == "series" else here
    return nan if isnan(old) else max(old, r)


def _between(control: Control, order: Order, code: str, r: float, back: float, cycle: Cycle) -> float:
    if code != "G83" or back == r:
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
        raise NoCycle(f"{letter} is {count:g}: repeats are whole numbers from {least}", f"Write {letter}1 or more",
                      letter)
    if round(count) > 1 and control.modes.absolute:
        control.say("word-doubtful", order.span(letter), condition="repeat-absolute", about=letter,
                    what=f"{letter}{round(count)} with G90 drills the same hole {round(count)} times",
                    fix=f"Put G91 before it, or take {letter} out")
    return round(count)


def run(control: Control, order: Order, code: str, bore: Bore, count: int) -> None:
    """The moves: up to R if below, then for each repeat to the place, down to R, and the strokes."""
    depth = PLANE_AXES[control.modes.plane][2]
    feed = rate(control, order, nan)
    if count and control.tip[depth] < bore.r:
        _along(control, depth, bore.r, Move.RAPID)
    for _ in range(count):
        _over(control, order, depth)
        if control.tip[depth] != bore.r:
            _along(control, depth, bore.r, Move.RAPID)
        _strokes(control, code, depth, bore, feed)


def _over(control: Control, order: Order, depth: int) -> None:
    """Sideways to the hole at the present height."""
    end, named = target(control, order)
    end[depth] = control.tip[depth]
    if control.bent:
        hide(control, end)
    control.go(Move.RAPID, end, named=[a for a in named if a != depth], cycle=True)


def _along(control: Control, depth: int, height: float, kind: Move, feed: float = nan) -> None:
    end = list(control.tip)
    end[depth] = height
    if height != height:
        control.reasons[depth] = _LEVEL
    if control.bent:
        hide(control, end)
    control.go(kind, end, feed=feed, named=(depth,), cycle=True)


_LEVEL = Reason("the cycle returns to the height that it started from, which is not known",
                "Command Z before the cycle, or put G99 before it", "G98")


def _strokes(control: Control, code: str, depth: int, bore: Bore, feed: float) -> None:
    turning = control.spindle
    for stroke, value in CYCLES[code].strokes(bore):
        if stroke is Stroke.RAPID:
            _along(control, depth, value, Move.RAPID)
        elif stroke is Stroke.FEED:
            _along(control, depth, value, Move.FEED, feed)
        elif stroke is Stroke.DWELL:
            control.event(Happening.DWELL, value, code)
        else:
            control.turn(Spindle.STILL if stroke is Stroke.STILL else turning, code)
