"""Which motion runs on a line: the one that is written, the one in force, or none.

The law: NIST IR 6556, 3.4: axis words belong to one code; a motion in force is suspended for a line whose
axis words another code takes; with G80 in force, or nothing yet, they belong to no one.
"""

from __future__ import annotations

from typing import Any

from .control import Control
from .finding import Severity
from .modes import BY_NAME, CENTRE_LETTERS, Axes, Code, Group
from .orders import Order

PLAIN = frozenset({"G0", "G1", "G2", "G3"})  # what a program may choose before it moves


def motion_of(control: Control, order: Order) -> str:
    """The motion code that runs on this line, "" for none."""
    explicit, once = order.code(Group.MOTION), owner(order)
    if once is not None:
        if explicit is not None:
            if explicit.axes is not Axes.NONE and order.axes:
                _conflict(control, order, once.group, "two-owners", first=once.name, second=explicit.name)
            choose(control, explicit.name)
        return ""
    if explicit is not None:
        return _explicit(control, order, explicit)
    if order.axes or _shapes(control, order):
        return _modal(control, order)
    if Group.MACHINE in order.codes:
        control.say("g53-without-axes", order.of(Group.MACHINE), about="G53")
    return ""


def owner(order: Order) -> Code | None:
    """The code beside the motion that takes the line's axis words."""
    for group in (Group.ONCE, Group.LENGTH, Group.SCALING, Group.MIRROR, Group.ROTATION):
        code = order.code(group)
        if code is not None and code.axes is not Axes.NONE:
            return code
    return None


def _conflict(control: Control, order: Order, group: Group, condition: str, **numbers: Any) -> None:
    about = " ".join(code.name for code, _ in order.codes.values()) or "axes"
    where = order.of(group) if group in order.codes else order.span(next(iter(order.axes), ""))
    weight = control.say(condition, where, about=about, **numbers)
    order.lost = order.lost or weight is Severity.STOP


def choose(control: Control, motion: str) -> None:
    """A motion code comes into force; a cycle's numbers are forgotten when it ends."""
    control.modes.motion = motion
    if motion in PLAIN:
        control.modes.before = motion
    control.tangent = control.tangent if motion == "G5" else None
    if not BY_NAME[motion].drills:
        control.sticky.forget()


def _explicit(control: Control, order: Order, code: Code) -> str:
    if code.name == "G5.1" and not order.axes:  # G5.1 Q1 only smooths what follows, on some controls
        return ""
    choose(control, code.name)
    if code.name == "G80":
        return _modal(control, order) if order.axes else ""
    if Group.MACHINE in order.codes and code.name not in ("G0", "G1"):
        _conflict(control, order, Group.MACHINE, "g53-without-straight", motion=code.name)
        return ""
    if order.axes or code.drills or code.name in ("G5.2", "G5.3") or _shapes(control, order):
        return code.name
    if code.axes is Axes.MUST:
        condition = "bare-motion-code" if code.name in PLAIN else "axis-missing"
        control.say(condition, order.of(Group.MOTION), about=code.name, code=code.name)
    return "" if code.served else code.name


def _shapes(control: Control, order: Order) -> bool:
    """Words that make the motion in force run without axis words: an arc's centre, a cycle's R."""
    code = BY_NAME.get(control.modes.motion)
    if code is None:
        return False
    if code.drills:
        return any(letter in order.values for letter in control.rule("cycle.trigger_words"))
    return code.name in ("G2", "G3") and not CENTRE_LETTERS.isdisjoint(order.values)


def _modal(control: Control, order: Order) -> str:
    motion, before = control.modes.motion, control.modes.before
    if motion == "G80" and before and control.rule("cycle.g80") == "cycle":
        control.say("axes-behind-g80", order.span(next(iter(order.axes), "")), about="G80", motion=before)
        choose(control, before)
        motion = before
    if motion in ("", "G80"):
        ended = motion and control.rule("cycle.g80") == "motion"
        _conflict(control, order, Group.MOTION, "axes-with-g80" if ended else "axes-before-motion")
        return ""
    if Group.MACHINE in order.codes and motion not in ("G0", "G1"):
        _conflict(control, order, Group.MACHINE, "g53-without-straight", motion=motion)
        return ""
    return motion


def takers(order: Order, motion: str) -> list[Code]:
    """The codes that take words of this line."""
    takers = [code for code, _ in order.codes.values()]
    if motion and Group.MOTION not in order.codes:
        takers.append(BY_NAME[motion])
    return takers


def extra(control: Control, order: Order, motion: str) -> str:
    """Letters that the dialect adds: turns of an arc, repeats of a cycle, a dwell's."""
    rule, extra = control.rule, ""
    if motion in ("G2", "G3"):
        extra += rule("arc.turns_word")
    elif motion and BY_NAME[motion].drills:
        extra += rule("cycle.repeat_word")
    if Group.DWELL in order.codes:
        extra += "".join(rule("dwell.words"))
    return extra
