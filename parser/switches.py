"""What a line switches: feed, speed, cutter, spindle, coolant, dwell, stops and the end.

The law: each handler does one thing of NIST IR 6556, 3.6 and 3.7, and leaves an `Event` where something
happens between moves. A spindle that the operator switches by hand is not the program's to switch.
"""

from __future__ import annotations

from math import isfinite

from .compensation import leave
from .control import Control, Reason
from .modes import Code, Group
from .motion import Happening, Spindle
from .orders import Order, whole
from .reading import OperatorAct

TURNS = {"M3": Spindle.CLOCKWISE, "M4": Spindle.COUNTER, "M5": Spindle.STILL}
LONGEST_DWELL = 60.0  # s: longer ones look like milliseconds
MOST_CUTTERS = 99_999_999


def feed(control: Control, order: Order, code: Code) -> None:
    """F: kept as written; units and feed mode say at each move what it means."""
    value = order.values["F"]
    if value < 0:
        _negative(control, order, "F", "feed-negative")
    else:
        control.feed = value


def speed(control: Control, order: Order, code: Code) -> None:
    """S: revolutions per minute."""
    value = order.values["S"]
    once = order.code(Group.ONCE)
    if value < 0:
        _negative(control, order, "S", "speed-negative")
    elif once is None or once.name != "G92":  # G92 S limits the speed of a lathe
        control.speed = value if isfinite(value) else None
        if control.setting.spindle_by_hand is not None:
            control.speed = control.setting.spindle_by_hand
        control.renew()


def _negative(control: Control, order: Order, letter: str, condition: str) -> None:
    number = order.values[letter]
    control.say(condition, order.span(letter), about=letter, letter=letter, number=f"{number:g}",
                positive=f"{-number:g}")


def choose(control: Control, order: Order, code: Code) -> None:
    """T: the cutter for the next M6, or at once where the dialect says so."""
    number = whole(control, order, "T", 0, MOST_CUTTERS)
    if number is None:
        return
    known = control.setting.cutters
    if known and number and number not in known:
        control.say("cutter-unknown", order.span("T"), about=str(number))
    control.chosen, control.chosen_line = number, control.line
    if control.rule("tool.t_changes"):
        control.load(number or None, "T")


def change(control: Control, order: Order, code: Code) -> None:
    """M6: the chosen cutter comes into the spindle, which stops; the axes stand where they stood."""
    if control.rule("tool.m6") in ("ignored", "error"):
        return
    control.turn(Spindle.STILL, "")
    _left_on(control, code.name)
    if control.chosen is None:
        control.say("no-cutter-chosen", order.of(Group.CHANGE), about="M6")
        control.event(Happening.CUTTER, control.frames.cutter or 0, code.name)
        return
    control.load(control.chosen or None, code.name)
    if control.rule("tool.m6") == "moves":
        control.lose(range(3), Reason("lost-change", code.name, {"line": control.line}))
    if code.name in control.rule("tlo.reset_by"):
        control.frames.length, control.in_force = 0.0, None
        control.renew()
    control.stale = control.in_force not in (None, control.frames.cutter)


def spindle(control: Control, order: Order, code: Code) -> None:
    """M3, M4, M5."""
    if code.name != "M5" and not control.speed:
        control.say("spindle-no-speed", order.of(Group.SPINDLE), about=code.name, code=code.name)
    elif (code.name == "M5" and control.spindle is not Spindle.STILL and order.axes
          and "M5" not in control.rule("order.m_after_motion")):
        control.say("spindle-stops-before-motion", order.of(Group.SPINDLE), about="M5", code="M5")
    control.turn(TURNS[code.name], code.name)


def coolant(control: Control, order: Order, code: Code) -> None:
    """M7 mist, M8 flood, M9 off; M7 and M8 may both be on."""
    names = {f"M{number:g}" for number in order.m_numbers}
    if "M9" in names:
        control.mist = control.flood = False
    else:
        control.mist, control.flood = control.mist or "M7" in names, control.flood or "M8" in names
    control.event(Happening.COOLANT, code=code.name)
    control.renew()


def dwell(control: Control, order: Order, code: Code) -> None:
    """G4: P, or the letters that the dialect gives it, in seconds or milliseconds."""
    for letter, unit in control.rule("dwell.words").items():
        if letter in order.values:
            value = order.values[letter]
            if value < 0:
                _negative(control, order, letter, "value-negative")
                return
            seconds = value / 1000.0 if unit == "ms" else value
            if seconds > LONGEST_DWELL:
                control.say("dwell-long", order.span(letter), about="G4", letter=letter, long=seconds,
                            short=seconds / 1000, number=f"{seconds / 1000:g}")
            if seconds > 0:
                control.event(Happening.DWELL, seconds, "G4")
            return


def stop(control: Control, order: Order, code: Code) -> None:
    """M0, M1, M60 stop; M2 and M30 end."""
    if code.name in ("M2", "M30"):
        end(control, code.name)
    elif code.name == "M1":
        _optional(control)
    else:
        _stop(control, Happening.STOP, code.name)


def _optional(control: Control) -> None:
    if control.setting.optional_stop:
        _stop(control, Happening.OPTIONAL_STOP, "M1")
    else:
        control.event(Happening.OPTIONAL_STOP, 0, "M1")


def _stop(control: Control, kind: Happening, code: str) -> None:
    control.stops += 1
    control.event(kind, control.stops, code)
    if control.stops in control.setting.at_stop:
        act(control, control.setting.at_stop[control.stops], "at_stop")


def act(control: Control, done: OperatorAct, code: str) -> None:
    """What the job says the operator does here, as far as it changes the program's meaning."""
    control.event(Happening.OPERATOR, control.stops, code)
    if done.cutter is not None:
        control.load(done.cutter, code)
    if done.zero is not None:
        control.frames.origins[1] = list(done.zero)
    if done.touched is not None:
        control.frames.touch(done.touched)
    control.renew()


def _left_on(control: Control, code: str) -> None:
    if control.comp is not None:
        control.say("compensation-left-on", about=code, code=code)


def end(control: Control, code: str) -> None:
    """M2 and M30: what NIST IR 6556, 3.6.1 resets, and no more."""
    control.event(Happening.END, code=code)
    control.turn(Spindle.STILL, "")
    control.mist = control.flood = False
    modes = control.modes
    modes.motion, modes.plane, modes.absolute, modes.feed_mode = "G1", 17, True, 94
    if code in control.rule("g92.cleared_by"):
        control.frames.end_g92(forget=False)
    control.frames.g52 = [0.0] * 3
    control.frames.system = 1
    _left_on(control, code)
    control.bent.pop("G40", None)
    leave(control)
    control.ended = True
    control.renew()
