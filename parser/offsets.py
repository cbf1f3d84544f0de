"""Codes that shift the numbers and move nothing: work offsets, G10, G52, the G92 family, tool length.

The law: the machine stands still while its numbers change [NIST IR 6556, 2.1.2.10]; only a cutter's place
is physical, so a handler changes `Frames` and never the tip.
"""

from __future__ import annotations

from math import isfinite, isnan

from .control import Control, Reason
from .frames import SYSTEM_NAMES
from .modes import Code, Group
from .motion import Move
from .orders import Order

SYSTEM_NUMBERS = {name: number for number, name in SYSTEM_NAMES.items()}


def system(control: Control, order: Order, code: Code) -> None:
    """G54 to G59.3."""
    control.bent.pop("G54.1", None)
    control.frames.system = SYSTEM_NUMBERS[code.name]
    shifted(control, Reason("lost-offset", code.name, {"code": code.name}))


def shifted(control: Control, reason: Reason) -> None:
    """The shift changed; where it is not known now, `reason` says why."""
    control.renew()
    if any(isnan(value) for value in control.frames.shift):
        control.offset_reason = reason


def length(control: Control, order: Order, code: Code) -> None:
    """G43 and G49."""
    control.bent.pop("G49", None)
    control.stale = False
    before = control.frames.shift[2]
    if code.name == "G49":
        control.frames.length, control.in_force = 0.0, None
    elif "H" in order.values:
        _length_of(control, order)
    elif control.rule("tlo.no_h") == "error":
        control.say("word-missing", order.of(Group.LENGTH), about="G43", code="G43", letter="H")
    elif control.rule("tlo.no_h") == "tool":
        control.in_force = control.frames.cutter
        control.frames.length = control.frames.lengths.get(control.frames.cutter or 0, 0.0)
    control.renew()
    if control.rule("tlo.motion") == "immediate":
        x, y, z = control.tip
        control.go(Move.RAPID, (x, y, z + control.frames.shift[2] - before), named=(2,), machine=True)


def _length_of(control: Control, order: Order) -> None:
    number = whole(control, order, "H", 0, 9999)
    if number is None:
        return
    frames = control.frames
    control.in_force = number
    frames.length = frames.lengths.get(number, 0.0) if number else 0.0
    own = frames.lengths.get(-1 if frames.cutter is None else frames.cutter)
    if own is not None and number != frames.cutter and frames.length != own:
        control.say("length-of-other", order.span("H"), about="H", number=number, cutter=frames.cutter,
                    off=abs(frames.length - own), side="higher" if frames.length > own else "lower")


def whole(control: Control, order: Order, letter: str, least: int, most: int) -> int | None:
    """The word's value where it is a whole number in its range (within 0.0001), else a finding."""
    value = order.values[letter]
    if isfinite(value) and abs(value - round(value)) <= 0.0001 and least <= round(value) <= most:
        return round(value)
    if not isnan(value):
        control.say("value-range", order.span(letter), about=letter, letter=letter, number=f"{value:g}",
                    least=least, most=most)
    return None


# --- G10 ---

def data(control: Control, order: Order, code: str) -> None:
    """G10 L2 and L20: a work system's origin, by machine coordinates or by where the tip is."""
    if "L" not in order.values or "P" not in order.values:
        return
    kind = order.values["L"]
    handler = {2.0: _by_register, 20.0: _by_place}.get(round(kind) if isfinite(kind) else -1)
    if handler is None:
        _no_data(control, order, f"G10 L{kind:g}", "writes a table of the control")
        return
    if order.values["P"] == 0:
        control.doubt("g10.p0", order.span("P"), "G10 P0")
    least = 0 if control.rule("g10.p0") == "active" else 1
    number = whole(control, order, "P", least, 9)
    if number is not None:
        handler(control, order, number or control.frames.system)


def _no_data(control: Control, order: Order, name: str, does: str) -> None:
    """A form of G10 that is not simulated: everything behind it may lie elsewhere."""
    control.say("code-unsupported", order.of(Group.ONCE), about=name, does=f"a code that {does}")
    control.bent[name] = "XYZ", Reason("lost-code", name, {"code": name, "line": control.line, "does": does})


def _by_register(control: Control, order: Order, number: int) -> None:
    frames, scale = control.frames, control.frames.scale
    if order.values.get("R"):
        _no_data(control, order, "G10 R", "turns the work offset")
    added = not control.modes.absolute and control.rule("g10.l2_g91") == "added"
    for axis in named(order):
        value = order.values["XYZ"[axis]] * scale
        if added:
            frames.origins[number][axis] += value
        else:
            frames.set_origin(number, axis, value)
    if not control.modes.absolute:
        control.doubt("g10.l2_g91", order.of(Group.ONCE), "G10 L2")
    shifted(control, Reason("lost-register", "G10", {"code": "G10", "line": control.line}))


def _by_place(control: Control, order: Order, number: int) -> None:
    control.doubt("g10.l20", order.of(Group.ONCE), "G10 L20")
    if control.rule("g10.l20") != "set_here":
        _no_data(control, order, "G10 L20", "is refused here" if control.rule("g10.l20") == "error" else
                 "sets a further work offset")
        return
    for axis in named(order):
        control.frames.set_origin_here(number, axis, control.here()[axis],
                                       order.values["XYZ"[axis]] * control.frames.scale)
    shifted(control, from_tip(control, "G10 L20"))


def from_tip(control: Control, name: str) -> Reason:
    return Reason("lost-here", name, {"code": name, "line": control.line})


def named(order: Order) -> list[int]:
    return [axis for axis in range(3) if "XYZ"[axis] in order.values]


# --- G52, G92 ---

def local(control: Control, order: Order, code: str) -> None:
    """G52: a further shift, by the place of the new zero; zeros end it."""
    rule = control.rule("g52.kind")
    for axis in named(order):
        value = order.values["XYZ"[axis]] * control.frames.scale
        if rule == "same_as_g92":
            control.frames.g92[axis] = control.frames.g92_kept[axis] = value
        else:
            control.frames.g52[axis] = value
    shifted(control, control.offset_reason)


def preload(control: Control, order: Order, code: str) -> None:
    """G92: the current point gets the coordinates that are written."""
    values = order.values
    if not order.axes and "S" not in values and control.rule("g92.bare") == "zero":
        values = {**values, "X": 0.0, "Y": 0.0, "Z": 0.0}
    axes = [axis for axis in range(3) if "XYZ"[axis] in values]
    for axis in axes:
        control.frames.set_g92(axis, control.here()[axis], values["XYZ"[axis]] * control.frames.scale)
    if not axes and not order.axes and "S" not in values:
        control.say("word-missing", order.of(Group.ONCE), about="G92", code="G92", letter="X, Y or Z")
    shifted(control, from_tip(control, "G92"))


def end_preload(control: Control, order: Order, code: str) -> None:
    """G92.1, G92.2 and G92.3."""
    if code != "G92.3":
        control.frames.end_g92(forget=code == "G92.1")
    else:
        if "G92" not in control.modes.said:
            control.say("g92-restored", order.of(Group.ONCE), about="G92.3")
        control.frames.restore_g92()
    shifted(control, control.offset_reason)


def store_home(control: Control, order: Order, code: str) -> None:
    """G28.1 and G30.1: the present machine position becomes the stored one."""
    place = [control.frames.to_machine(axis, control.tip[axis]) for axis in range(3)]
    if code == "G28.1":
        control.home28 = place
    else:
        control.home30 = place
