"""Codes that shift the numbers and move nothing: work offsets, G10, G52, the G92 family, tool length.

The law: the machine stands still while its numbers change [NIST IR 6556, 2.1.2.10]; only a cutter's place
is physical, so a handler changes `Frames` and never the tip.
"""

from __future__ import annotations

from math import isfinite, isnan

from .control import Control, Reason
from .frames import SYSTEM_NAMES
from .modes import Code, Group
from .orders import Order

SYSTEM_NUMBERS = {name: number for number, name in SYSTEM_NAMES.items()}


def system(control: Control, order: Order, code: Code) -> None:
    """G54 to G59.3."""
    control.frames.system = SYSTEM_NUMBERS[code.name]
    shifted(control, _not_given(code.name))


def _not_given(name: str) -> Reason:
    return Reason(f"where {name} has its zero is not given", f"Give zeros.{name} = [x, y, z] in the job", name)


def shifted(control: Control, reason: Reason) -> None:
    """The shift changed; where it is not known now, `reason` says why."""
    control.renew()
    if any(isnan(value) for value in control.frames.shift):
        control.offset_reason = reason


def length(control: Control, order: Order, code: Code) -> None:
    """G43 and G49."""
    control.bent.pop("G49", None)
    if code.name == "G49":
        control.frames.length = 0.0
    elif "H" in order.values:
        _length_of(control, order)
    elif control.rule("tlo.no_h") == "tool":
        control.frames.length = control.frames.lengths.get(control.frames.cutter or 0, 0.0)
    control.renew()


def _length_of(control: Control, order: Order) -> None:
    number = whole(control, order, "H", 0, 9999)
    if number is None:
        return
    frames = control.frames
    frames.length = frames.lengths.get(number, 0.0) if number else 0.0
    own = frames.lengths.get(-1 if frames.cutter is None else frames.cutter)
    if own is not None and number != frames.cutter and frames.length != own:
        control.say("word-doubtful", order.span("H"), condition="length-of-other", about="H",
                    what=f"H{number} is not the length of cutter {frames.cutter}, which hangs in the spindle: its tip "
                    f"goes {abs(frames.length - own):.3f} mm {'higher' if frames.length > own else 'lower'} than Z says",
                    fix=f"Write H{frames.cutter}")


def whole(control: Control, order: Order, letter: str, least: int, most: int) -> int | None:
    """The word's value where it is a whole number in its range (within 0.0001), else a finding."""
    value = order.values[letter]
    if isfinite(value) and abs(value - round(value)) <= 0.0001 and least <= round(value) <= most:
        return round(value)
    if not isnan(value):
        control.say("value-bad", order.span(letter), condition="value-range", about=letter,
                    what=f"{letter} is {value:g}, and has to be a whole number from {least} to {most}",
                    fix=f"Write {letter}{least} to {letter}{most}")
    return None


# --- G10 ---

def data(control: Control, order: Order, code: str) -> None:
    """G10 L2 and L20: a work system's origin, by machine coordinates or by where the tip is."""
    if "L" not in order.values or "P" not in order.values:
        return
    kind = order.values["L"]
    handler = {2.0: _by_register, 20.0: _by_place}.get(round(kind) if isfinite(kind) else -1)
    if handler is None:
        _no_data(control, order, f"G10 L{kind:g}", "not simulated: it writes a table of the control")
        return
    least = 0 if control.rule("g10.p0") == "active" else 1
    number = whole(control, order, "P", least, 9)
    if number is not None:
        handler(control, order, number or control.frames.system)


def _no_data(control: Control, order: Order, name: str, why: str) -> None:
    control.say("code-unsupported", order.of(Group.ONCE), condition="code-unsupported", about=name, why=why,
                fix=f"Take line {control.line} out, and check what it sets by hand")
    control.bent[name] = "XYZ", Reason(f"{name} on line {control.line} is not simulated",
                                       "Set the offset by hand instead", name)


def _by_register(control: Control, order: Order, number: int) -> None:
    frames, scale = control.frames, control.frames.scale
    if order.values.get("R"):
        _no_data(control, order, "G10 R", "not simulated: it turns the work offset")
    added = not control.modes.absolute and control.rule("g10.l2_g91") == "added"
    for axis in named(order):
        value = order.values["XYZ"[axis]] * scale
        old = frames.origin(number, axis) if added else 0.0
        if added and isnan(old):  # the change is known although the register is not
            frames.origins[number][axis] += value
        else:
            frames.set_origin(number, axis, old + value)
    if not control.modes.absolute:
        control.doubt("g10.l2_g91", order.of(Group.ONCE), "G10 L2")
    shifted(control, Reason(f"G10 on line {control.line} sets the offset by machine coordinates, and where those "
                            "lie on the board is not given", "Give machine.origin = [x, y, z] in the job", "G10"))


def _by_place(control: Control, order: Order, number: int) -> None:
    control.doubt("g10.l20", order.of(Group.ONCE), "G10 L20")
    rule = control.rule("g10.l20")
    if rule != "here":
        why = ("not taken by this control" if rule == "error" else "not simulated: it names a further work offset")
        _no_data(control, order, "G10 L20", why)
        return
    for axis in named(order):
        control.frames.set_origin_here(number, axis, control.tip[axis],
                                       order.values["XYZ"[axis]] * control.frames.scale)
    shifted(control, _from_tip(control, "G10 L20"))


def _from_tip(control: Control, name: str) -> Reason:
    return Reason(f"{name} on line {control.line} sets the zero where the cutter stands, and that is not known",
                  "Give the stage's start = [x, y, z], where the cutter stands at the program's start", name)


def named(order: Order) -> list[int]:
    return [axis for axis in range(3) if "XYZ"[axis] in order.values]


# --- G52, G92 ---

def local(control: Control, order: Order, code: str) -> None:
    """G52: a further shift, by the place of the new zero; zeros end it."""
    rule = control.rule("g52")
    control.doubt("g52", order.of(Group.ONCE), "G52")
    for axis in named(order):
        value = order.values["XYZ"[axis]] * control.frames.scale
        if rule == "same_as_g92":
            control.frames.g92[axis] = control.frames.g92_kept[axis] = value
        else:
            control.frames.g52[axis] = value
    shifted(control, control.offset_reason)


def preload(control: Control, order: Order, code: str) -> None:
    """G92: the current point gets the coordinates that are written."""
    axes = named(order)
    if not axes and not order.axes and "S" not in order.values and control.rule("g92.bare") == "zero":
        axes, order.values = [0, 1, 2], {**order.values, "X": 0.0, "Y": 0.0, "Z": 0.0}
    for axis in axes:
        control.frames.set_g92(axis, control.tip[axis], order.values["XYZ"[axis]] * control.frames.scale)
    shifted(control, _from_tip(control, "G92"))


def end_preload(control: Control, order: Order, code: str) -> None:
    """G92.1, G92.2 and G92.3."""
    if code == "G92.3":
        _restored(control, order)
        control.frames.restore_g92()
    else:
        control.frames.end_g92(forget=code == "G92.1")
    shifted(control, control.offset_reason)


def _restored(control: Control, order: Order) -> None:
    if "G92" not in control.modes.said:
        control.say("word-doubtful", order.of(Group.ONCE), condition="g92-restored", about="G92.3",
                    what="G92.3 brings back an offset that an earlier program left in the control",
                    fix="Set the offset in this program with G92, or use G54 to G59 instead")


def store_home(control: Control, order: Order, code: str) -> None:
    """G28.1 and G30.1: the present machine position becomes the stored one."""
    place = [control.frames.to_machine(axis, control.tip[axis]) for axis in range(3)]
    if code == "G28.1":
        control.home28 = place
    else:
        control.home30 = place
